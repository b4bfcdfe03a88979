"""An address is found whichever way leads to it: a table of whole ones, one of ends, the router."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from coatledger.ledger.memory import MemoryStore
from served import Served, refusal, serving


@pytest.fixture
def served() -> Iterator[Served]:
    with serving(MemoryStore("trial")) as one:
        yield one


def test_a_last_part_is_a_parameter_unless_the_whole_address_is_another(served: Served) -> None:
    served.pieces("score")
    assert served.get("/v1/pieces/score").json()["piece"] == "score"
    assert "overdue" in served.get("/v1/promises/score").json()
    refusal(served.get("/v1/promises/scores"), 404, "not_found")


@pytest.mark.parametrize(
    "path", ["/v1/pieces/A/", "/v1//pieces/A", "/v1/pieces//A", "//v1/pieces/A"]
)
def test_a_slash_too_many_changes_nothing(served: Served, path: str) -> None:
    served.pieces("A")
    assert served.get(f"http://testserver.local{path}").json()["piece"] == "A"


@pytest.mark.parametrize("path", ["/v1/pieces/A/B", "/v1/pieces/A%2FB", "/v2/pieces/A"])
def test_what_is_no_address_is_not_found(served: Served, path: str) -> None:
    served.pieces("A")
    refusal(served.get(path), 404, "not_found")


def test_a_method_it_does_not_have_is_refused_and_told(served: Served) -> None:
    for path in ("/v1/pieces/A", "/v1/pieces", "/v1/pieces/A/drawing"):
        answer = served.ask("PUT", path)
        refusal(answer, 405, "method_not_allowed")
        assert "GET" in answer.headers["allow"]


def test_a_last_part_is_read_as_it_was_meant(served: Served) -> None:
    refusal(served.get("/v1/pieces/a%20b%C3%A9"), 404, "not_found")
    served.pieces("A-1")
    assert served.get("/v1/pieces/A%2D1").json()["piece"] == "A-1"
