"""Rules of safety, each seen to fire and to stay silent; none of them permits anything."""

import re
from typing import Any

import pytest
from bench import Bench
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.preparing import BlownOff, Stained
from coatledger.events.setup import ProductDescribed
from coatledger.findings import safety
from coatledger.findings.table import RULES
from judged import Case, codes, judge, ready


def can(bench: Bench, kind: str, **sheet: Any) -> object:
    bench.record(ProductDescribed, product="p", **{"kind": kind, **sheet})
    return bench.can("can-2", "p")


def mix(bench: Bench, part: Any = "crosslinker") -> LotMixed:
    parents = (
        Parent(lot="can-1", amount_l=1.0),
        Parent(lot="can-2", amount_l=0.03, part=part),
    )
    return bench.fact(LotMixed, lot="m-1", product="clear-w", parents=parents, pot_life_h=4.0)


def blow(bench: Bench, by: Any) -> BlownOff:
    return bench.fact(BlownOff, pieces=("T-2",), by=by, room="spray")


CASES = (
    Case(
        "oily_rags_today",
        lambda b: (can(b, "oil_based"), b.would_coat("T-1", lot="can-2", method="wipe")),
        lambda b: b.would_coat("T-1", method="wipe"),
    ),
    Case(
        "crosslinker_protection",
        lambda b: (can(b, "water_borne", cautions=("isocyanate",)), mix(b)),
        lambda b: (can(b, "water_borne"), mix(b)),
    ),
    Case(
        "dust_over_wet_film",
        lambda b: (b.coat("T-1"), blow(b.later(0.5), "compressed_air")),
        lambda b: (b.coat("T-1"), blow(b.later(0.5), "vacuum")),
    ),
    Case(
        "flammable_spraying",
        lambda b: (can(b, "lacquer"), b.would_coat("T-1", lot="can-2")),
        lambda b: (can(b, "lacquer"), b.would_coat("T-1", lot="can-2", method="wipe")),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in safety.RULES}


def test_an_oil_stain_from_no_can_has_rags_too() -> None:
    bench = ready()
    found = judge(bench, bench.fact(Stained, pieces=("T-1",), binder="oil_based"))
    assert "oily_rags_today" in {f.code for f in found}


def test_rags_are_told_once_a_day() -> None:
    bench = ready()
    can(bench, "oil_based")
    bench.coat("T-1", lot="can-2", method="wipe", gun=None)
    later = bench.later(1).would_coat("T-2", lot="can-2", method="wipe", gun=None)
    assert "oily_rags_today" not in {f.code for f in judge(bench, later)}


def test_safety_text_defers_and_never_permits() -> None:
    for rule in safety.RULES:
        assert re.search(r"local codes|safety data sheet|code and the sheet", rule.what_to_do)
    permits = re.compile(r"\b(it is safe|is allowed|may safely|no danger|safe to)\b")
    assert not [rule.code for rule in RULES if permits.search(rule.what_to_do + rule.why)]
