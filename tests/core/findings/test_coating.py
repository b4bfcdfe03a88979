"""Rules of recoating, turning and standing, each seen to fire and to stay silent."""

import pytest
from bench import Bench, on_day
from coatledger.events.coating import Moved, Turned
from coatledger.events.judging import Held, Released
from coatledger.events.preparing import Stained
from coatledger.findings import coating
from judged import Case, codes, judge, ready, scuffed

CASES = (
    Case(
        "recoat_too_early",
        lambda b: (b.coat("T-1"), b.later(1).would_coat("T-1")),
        lambda b: (b.coat("T-1"), b.later(3).would_coat("T-1")),
    ),
    Case(
        "stain_not_dry",
        lambda b: (
            b.record(Stained, pieces=("T-1",), binder="oil_based"),
            b.later(2).would_coat("T-1"),
        ),
        lambda b: (
            b.record(Stained, pieces=("T-1",), binder="oil_based"),
            b.later(26).would_coat("T-1"),
        ),
    ),
    Case(
        "recoat_window_passed",
        lambda b: (b.coat("T-1"), b.later(49).would_coat("T-1")),
        lambda b: (b.coat("T-1"), scuffed(b.later(48), "T-1"), b.later(1).would_coat("T-1")),
    ),
    Case(
        "coated_while_held",
        lambda b: (b.record(Held, pieces=("T-1",)), b.would_coat("T-1")),
        lambda b: (
            b.record(Held, pieces=("T-1",)),
            b.record(Released, pieces=("T-1",)),
            b.would_coat("T-1"),
        ),
    ),
    Case(
        "turned_before_dry",
        lambda b: (b.coat("T-1"), b.later(0.3).fact(Turned, pieces=("T-1",), resting_on="points")),
        lambda b: (b.coat("T-1"), b.later(1.1).fact(Turned, pieces=("T-1",), resting_on="points")),
    ),
    Case(
        "softwood_on_points",
        lambda b: (
            b.pieces("P-1", species="white_pine"),
            b.fact(Moved, pieces=("P-1",), room="spray", resting_on="points"),
        ),
        lambda b: b.fact(Moved, pieces=("T-1",), room="spray", resting_on="points"),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in coating.RULES}


def recoated(bench: Bench, after_h: float) -> Bench:
    bench.coat("T-1", "T-2")
    return bench.later(after_h)


def test_a_recoat_far_too_early_is_serious_and_says_when_it_would_have_been_ready() -> None:
    bench = recoated(ready(), 1.0)
    found = judge(bench, bench.would_coat("T-1", "T-3"))[0]
    assert (found.code, found.severity, found.pieces) == ("recoat_too_early", "serious", ("T-1",))
    assert found.source == "data sheet"
    assert found.seen[0].says == "coat of 1.0 h before; ready 2026-03-02 11:00Z"


def test_a_recoat_a_little_early_is_a_caution_and_a_minute_early_is_nothing() -> None:
    bench = recoated(ready(), 2.5)
    assert [f.severity for f in judge(bench, bench.would_coat("T-1"))] == ["caution"]
    bench = recoated(ready(), 2.95)
    assert judge(bench, bench.would_coat("T-1")) == ()


def test_damp_air_makes_the_sheets_hours_too_early() -> None:
    bench = ready()
    bench.climate(21.0, 68.0)
    bench.coat("T-1")
    assert "recoat_too_early" in {f.code for f in judge(bench, bench.later(3).would_coat("T-1"))}


def test_where_the_sheet_is_silent_common_practice_speaks_and_says_so() -> None:
    bench = ready()
    bench.clear("silent", recoat_h=None)
    bench.can("can-2", "silent")
    bench.coat("T-1", lot="can-2")
    early = bench.later(0.9).would_coat("T-1", lot="can-2")
    found = next(f for f in judge(bench, early) if f.code == "recoat_too_early")
    assert found.source == "common practice, no published source"


def test_another_face_need_not_wait() -> None:
    bench = ready()
    bench.coat("T-1", faces=("underside",))
    assert judge(bench, bench.later(0.5).would_coat("T-1", faces=("show",))) == ()


def test_each_piece_is_judged_by_its_own_turn() -> None:
    bench = ready()
    bench.coat("T-1", "T-2", ended_at=on_day("1 10:00"))
    found = judge(bench, bench.at("1 12:00").would_coat("T-1", "T-2"))
    assert [f.pieces for f in found if f.code == "recoat_too_early"] == [("T-2",)]
