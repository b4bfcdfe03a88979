"""Rules of sanding, each seen to fire and to stay silent."""

from typing import Any

import pytest
from bench import Bench
from coatledger.events.bare import PieceStarted
from coatledger.events.judging import ReworkStarted
from coatledger.events.preparing import Sanded
from coatledger.findings import sanding
from judged import Case, codes, judge, ready


def bare(bench: Bench, grit: int) -> Sanded:
    return bench.record(Sanded, pieces=("T-1",), stage="bare", grit=grit)


def scuff(bench: Bench, word: str = "T-1", **fields: Any) -> Sanded:
    given: dict[str, Any] = {"stage": "between_coats", "grit": 320}
    return bench.fact(Sanded, pieces=(word,), **{**given, **fields})


def stained(bench: Bench) -> PieceStarted:
    return bench.pieces("S-1", stained=True)


CASES = (
    Case(
        "bare_sanding_too_coarse",
        lambda b: (bare(b, 120), b.would_coat("T-1")),
        lambda b: b.would_coat("T-1"),
    ),
    Case(
        "bare_sanding_too_fine",
        lambda b: (bare(b, 220), b.would_coat("T-1")),
        lambda b: (bare(b, 180), b.would_coat("T-1")),
    ),
    Case(
        "grit_steps_skipped",
        lambda b: b.fact(Sanded, pieces=("T-1",), stage="bare", grit=240),
        lambda b: b.fact(Sanded, pieces=("T-1",), stage="bare", grit=220),
    ),
    Case(
        "bare_wood_not_sanded",
        lambda b: (b.pieces("N-1"), b.would_coat("N-1")),
        lambda b: b.would_coat("T-1"),
    ),
    Case(
        "stained_machine_scuffed",
        lambda b: (stained(b), b.coat("S-1"), scuff(b.later(4), "S-1", by="machine")),
        lambda b: (stained(b), b.coat("S-1"), scuff(b.later(4), "S-1", by="hand")),
    ),
    Case(
        "scuffed_too_coarse",
        lambda b: (b.coat("T-1"), scuff(b.later(4), grit=220)),
        lambda b: (b.coat("T-1"), scuff(b.later(4), grit=320)),
    ),
    Case(
        "sanded_before_dry",
        lambda b: (b.coat("T-1"), scuff(b.later(1.5))),
        lambda b: (b.coat("T-1"), scuff(b.later(3))),
    ),
    Case(
        "steel_wool_under_water_borne",
        lambda b: (b.coat("T-1"), scuff(b.later(4), abrasive="wool")),
        lambda b: (b.coat("T-1"), scuff(b.later(4), abrasive="pad")),
    ),
    Case(
        "wet_sanded_bare_wood",
        lambda b: b.fact(Sanded, pieces=("T-1",), stage="bare", grit=180, wet=True),
        lambda b: (b.coat("T-1"), scuff(b.later(4), wet=True)),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in sanding.RULES}


def test_the_sheets_grit_decides_and_practice_stands_in() -> None:
    bench = ready()
    bench.coat("T-1")
    (found,) = judge(bench, scuff(bench.later(4), grit=240))
    assert (found.code, found.source) == ("scuffed_too_coarse", "data sheet")
    assert found.seen[0].says == "scuffed with P240, coarser than P320"
    bench.clear("silent", scuff_grit=None, bare_grit_max=None)
    bench.can("can-2", "silent")
    bench.coat("T-2", lot="can-2")
    assert judge(bench, scuff(bench.later(4), "T-2", grit=240)) == ()
    (found,) = judge(bench, scuff(bench, "T-2", grit=180))
    assert found.source == "common practice, no published source"


def test_a_grit_that_is_no_grade_of_the_standard_breaks_nothing() -> None:
    bench = ready()
    assert judge(bench, bench.fact(Sanded, pieces=("T-1",), stage="bare", grit=237)) == ()


def test_rework_may_sand_what_is_soft() -> None:
    bench = ready()
    bench.coat("T-1")
    bench.later(1).record(ReworkStarted, pieces=("T-1",), remedy="spot_sand", because="nib")
    assert judge(bench, scuff(bench)) == ()
