"""What nobody described is taken, and asked about once a day."""

from typing import Any

import pytest
from bench import Bench
from coatledger.events.base import Fact
from coatledger.events.coating import Moved
from coatledger.events.finish import LotReceived
from coatledger.events.room_gun import GunSetUp
from coatledger.findings import described
from judged import judge as judged
from judged import ready


def causes(bench: Bench, fact: Fact) -> list[str]:
    return [f.cause for f in judged(bench, fact) if f.code == "not_yet_described"]


@pytest.mark.parametrize(
    ("field", "word", "cause"),
    [("lot", "can-9", "lot:can-9"), ("gun", "g9", "gun:g9"), ("room", "attic", "room:attic")],
)
def test_a_coat_that_names_something_unknown_asks_for_its_description(
    field: str, word: str, cause: str
) -> None:
    bench = ready()
    assert causes(bench, bench.would_coat("T-1", **{field: word})) == [cause]
    assert causes(bench, bench.would_coat("T-1")) == []


@pytest.mark.parametrize(
    ("kind", "fields", "cause"),
    [
        (Moved, {"pieces": ("T-1",), "room": "attic"}, "room:attic"),
        (LotReceived, {"lot": "can-9", "product": "new", "amount_l": 1.0}, "product:new"),
        (GunSetUp, {"gun": "g1", "lot": "can-9"}, "lot:can-9"),
    ],
)
def test_other_facts_ask_too(kind: type[Fact], fields: dict[str, Any], cause: str) -> None:
    bench = ready()
    assert causes(bench, bench.fact(kind, **fields)) == [cause]


def test_it_is_asked_once_a_day() -> None:
    bench = ready()
    bench.coat("T-1", gun="g9")
    assert causes(bench, bench.later(1).would_coat("T-2", gun="g9")) == []
    assert causes(bench, bench.at("2 08:00").would_coat("T-2", gun="g9")) == ["gun:g9"]


def test_every_rule_has_one_code() -> None:
    assert {rule.code for rule in described.RULES} == {"not_yet_described"}
