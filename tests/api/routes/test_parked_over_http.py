"""Folds that cannot be used, over HTTP: one subject's, or all of them by another version."""

from contextlib import closing
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from coatledger.events.base import Fact
from coatledger.events.coating import Turned
from coatledger.subjects.registry import FOLDS
from coatledger_adapters.fold_versions import keep_as
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from served import Served, refusal, serving


@pytest.fixture
def faulty(served_on_each: Served) -> Any:
    """A service whose program cannot fold that A-1 is turned."""
    right = FOLDS["piece"]

    def wrong(piece: Any, fact: Fact) -> Any:
        if piece.piece == "A-1" and isinstance(fact, Turned):
            raise ZeroDivisionError("a fault of ours")
        return right.evolve(piece, fact)

    with patch.dict(FOLDS, piece=right._replace(evolve=wrong)):
        yield served_on_each


def test_one_piece_is_set_apart_and_everything_else_goes_on(faulty: Served) -> None:
    served = faulty
    served.pieces("A-1", "A-2")
    assert served.get("/health/ready", token=None).json()["status"] == "pass"
    served.later(hours=1)
    both = served.post(served.fact("turned", pieces=["A-1", "A-2"]))
    assert both.status_code == 201
    assert refusal(served.get("/v1/pieces/A-1"), 503, "parked") == []
    assert "piece:A-1: ZeroDivisionError" in served.get("/v1/pieces/A-1").json()["detail"]
    assert [row["piece"] for row in served.get("/v1/pieces").json()["pieces"]] == ["A-2"]
    assert served.get("/v1/pieces/A-2").json()["stage"] == "bare"
    for path in ("/v1/clocks", "/v1/findings", "/v1/throughput", "/v1/rework"):
        assert served.get(path).status_code == 200, path
    # What happened can still be read, and still be recorded.
    assert len(served.get("/v1/pieces/A-1/history").json()["entries"]) == 2
    assert served.get("/v1/events").status_code == 200
    coat = served.later(hours=1).post(
        served.fact("coat_applied", pieces=["A-1"], lot="can-1", gun="g1", wet_film_um=100)
    )
    assert coat.status_code == 201

    ready = served.get("/health/ready", token=None)
    assert ready.status_code == 200
    assert ready.json()["status"] == "warn"
    assert ready.json()["degraded"] == ["piece:A-1"]


def test_a_correction_over_http_brings_it_back(faulty: Served) -> None:
    served = faulty
    served.pieces("A-1")
    turned = served.later(hours=1).record("turned", pieces=["A-1"])
    served.later(hours=1).record("event_voided", original=turned["id"], reason="never_happened")
    assert served.get("/v1/pieces/A-1").json()["stage"] == "bare"
    assert "degraded" not in served.get("/health/ready", token=None).json()


def test_a_service_older_than_its_ledger_says_so_and_writes_nothing(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    with closing(open_store(address, "trial")) as store, serving(store) as served:
        served.pieces("A-1")
        with store.tending() as writer:
            keep_as(store, writer, "a newer version")
        for answer in (
            served.get("/v1/pieces"),
            served.get("/v1/events"),
            served.post(served.fact("turned", pieces=["A-1"])),
        ):
            assert refusal(answer, 503, "updating") == []
            assert int(answer.headers["retry-after"]) >= 1
        assert served.get("/health/ready", token=None).status_code == 503
        with store.beside() as ledger:
            assert ledger.head().size == 1
