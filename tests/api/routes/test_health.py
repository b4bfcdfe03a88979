"""Readiness says what is so: when nothing can be written, when something lags, when it is well."""

import itertools
import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from bench import made_id
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.room import CannotWriteError, Room
from coatledger_adapters.sql_store import open_store
from served import Served, refusal, serving


class Full(MemoryStore):
    """A ledger whose disk is full when the test says so."""

    is_full = False
    left = Room(writable=True, free_bytes=1 << 40)

    def write(self, changes: Any) -> None:
        if self.is_full:
            raise CannotWriteError("the disk is full")
        super().write(changes)

    def room(self) -> Room:
        return self.left


@pytest.fixture
def full() -> Iterator[tuple[Full, Served]]:
    """A service whose disk the test fills."""
    store = Full("trial")
    with serving(store) as served:
        yield store, served


def ready(served: Served) -> tuple[int, dict[str, Any]]:
    answer = served.get("/health/ready", token=None)
    return answer.status_code, answer.json()


def test_a_service_that_is_well_says_so(full: tuple[Full, Served]) -> None:
    status, told = ready(full[1])
    assert (status, told["status"]) == (200, "pass")
    assert told["checks"]["ledger_writes"] is True
    assert "says" not in told


def test_a_full_disk_is_told_to_the_bench_and_to_whoever_watches_until_there_is_room(
    full: tuple[Full, Served],
) -> None:
    store, served = full
    served.record("lot_opened", lot="can-1")
    store.is_full = True
    refusal(served.post(served.fact("lot_opened", lot="can-2")), 507, "no_room")
    assert served.get("/v1/events").status_code == 200
    status, told = ready(served)
    assert (status, told["status"], told["says"]) == (503, "fail", ["the disk is full"])
    store.is_full = False
    served.record("lot_opened", lot="can-2")
    assert ready(served)[0] == 200


def test_a_failed_write_is_not_held_against_the_service_for_ever(
    full: tuple[Full, Served], monkeypatch: pytest.MonkeyPatch
) -> None:
    store, served = full
    store.is_full = True
    refusal(served.post(served.fact("lot_opened", lot="can-2")), 507, "no_room")
    monkeypatch.setattr("coatledger_api.routes.health.TROUBLE_S", 0.0)
    assert ready(served)[0] == 200


def test_a_disk_that_may_only_be_read_or_fills_up_is_seen_before_anybody_writes(
    full: tuple[Full, Served],
) -> None:
    store, served = full
    store.left = Room(writable=False, free_bytes=1 << 40)
    status, told = ready(served)
    assert (status, told["checks"]["ledger_writes"]) == (503, False)
    store.left = Room(writable=True, free_bytes=100 << 20)
    status, told = ready(served)
    assert (status, told["status"]) == (200, "warn")
    assert told["says"] == ["100 MB are left on the ledger's disk"]


@contextmanager
def small_disk(folder: Path, size_mb: int) -> Iterator[Path]:
    """A file system of its own in memory, where that may be made."""
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={size_mb}m", "tmpfs", str(folder)]
    if os.name != "posix" or subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("a small file system may not be mounted here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_disk_that_really_fills_loses_nothing_acknowledged_and_goes_on(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk", 24) as disk:
        address = f"sqlite:///{disk / 'ledger.db'}"
        migrate(address)
        store = open_store(address, "trial")
        try:
            with serving(store) as served:
                fill_up(served, disk)
        finally:
            store.close()


def fill_up(served: Served, disk: Path) -> None:
    ballast = disk / "ballast"
    ballast.write_bytes(b"x" * (12 << 20))
    numbers = itertools.count(1)
    acknowledged: list[str] = []

    def post() -> int:
        facts = [
            {"type": "lot_stirred", "id": str(made_id(next(numbers), served.clock)),
             "occurred_at": served.clock.isoformat(), "lot": "can-1", "note": "n" * 900}
            for _ in range(200)
        ]  # fmt: skip
        status = served.post(served.batch(*facts), headers={"Prefer": "return=minimal"}).status_code
        if status == 201:
            acknowledged.extend(fact["id"] for fact in facts)
        return status

    statuses = [post()]
    while statuses[-1] == 201:
        assert len(statuses) < 500, "it never filled"
        statuses.append(post())
    assert (statuses[-1], post()) == (507, 507)
    assert ready(served)[0] == 503
    assert served.size == len(acknowledged)
    ballast.unlink()
    assert post() == 201
    assert served.size == len(acknowledged)
    assert served.get(f"/v1/events/{acknowledged[0]}").status_code == 200
    assert served.get(f"/v1/events/{acknowledged[-1]}").status_code == 200
