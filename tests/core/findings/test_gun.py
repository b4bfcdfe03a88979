"""Rules of the gun, each seen to fire and to stay silent."""

from typing import Any

import pytest
from bench import Bench
from coatledger.events.room_gun import GunFlushed, GunSetUp, GunStripCleaned, TestSprayed
from coatledger.events.setup import GunDescribed
from coatledger.findings import gun
from judged import Case, codes, judge, ready


def set_up(bench: Bench, **fields: Any) -> GunSetUp:
    return bench.fact(GunSetUp, **{"gun": "g1", "lot": "can-1", **fields})


def other(bench: Bench, kind: str = "water_borne") -> Any:
    bench.clear("tint", kind=kind, mfft_c=None)
    return bench.can("can-2", "tint")


CASES = (
    Case(
        "wrong_nozzle",
        lambda b: set_up(b, nozzle_mm=1.8),
        lambda b: set_up(b, nozzle_mm=1.3),
    ),
    Case(
        "gun_not_flushed",
        lambda b: (other(b), b.coat("T-1"), b.later(4).would_coat("T-1", lot="can-2")),
        lambda b: (
            other(b),
            b.coat("T-1"),
            b.record(GunFlushed, gun="g1"),
            b.later(4).would_coat("T-1", lot="can-2"),
        ),
    ),
    Case(
        "finish_dried_in_gun",
        lambda b: (b.coat("T-1"), set_up(b.at("2 08:00"))),
        lambda b: (b.coat("T-1"), b.record(GunFlushed, gun="g1"), set_up(b.at("2 08:00"))),
    ),
    Case(
        "strip_clean_overdue",
        lambda b: set_up(b.at("32 08:00")),
        lambda b: (
            b.at("20 08:00").record(GunStripCleaned, gun="g1"),
            set_up(b.at("32 08:00")),
        ),
    ),
    Case(
        "gun_setting_off",
        lambda b: set_up(b, overlap_pct=30.0),
        lambda b: set_up(b, overlap_pct=50.0, fan_width_mm=200.0, distance_mm=180.0),
    ),
    Case(
        "cap_pressure_over_limit",
        lambda b: set_up(b, cap_pressure_kpa=80.0),
        lambda b: set_up(b, cap_pressure_kpa=65.0),
    ),
    Case(
        "chlorinated_in_aluminium",
        lambda b: b.fact(GunStripCleaned, gun="g1", using="chlorinated_solvent"),
        lambda b: (
            b.record(GunDescribed, gun="g2", body="steel"),
            b.fact(GunStripCleaned, gun="g2", using="chlorinated_solvent"),
        ),
    ),
    Case(
        "flushed_with_wrong_liquid",
        lambda b: (b.coat("T-1"), b.fact(GunFlushed, gun="g1", using="solvent")),
        lambda b: (b.coat("T-1"), b.fact(GunFlushed, gun="g1", using="water")),
    ),
    Case(
        "trial_was_bad",
        lambda b: (
            b.record(TestSprayed, gun="g1", lot="can-1", result="spitting"),
            b.would_coat("T-1"),
        ),
        lambda b: (
            b.record(TestSprayed, gun="g1", lot="can-1", result="spitting"),
            b.record(TestSprayed, gun="g1", lot="can-1", result="good"),
            b.would_coat("T-1"),
        ),
    ),
    Case(
        "other_can_in_gun",
        lambda b: (
            b.can("can-2", "clear-w"),
            b.record(GunSetUp, gun="g1", lot="can-2"),
            b.would_coat("T-1"),
        ),
        lambda b: (b.record(GunSetUp, gun="g1", lot="can-1"), b.would_coat("T-1")),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in gun.RULES}


def test_a_gun_not_flushed_between_kinds_is_serious_and_told_at_the_filling_only() -> None:
    bench = ready()
    other(bench, "lacquer")
    bench.coat("T-1")
    filled = set_up(bench.later(4), lot="can-2")
    (found,) = judge(bench, filled)
    assert (found.code, found.severity, found.cause) == ("gun_not_flushed", "serious", "gun:g1")
    bench.take(filled)
    coat = bench.would_coat("T-2", lot="can-2")
    assert "gun_not_flushed" not in {f.code for f in judge(bench, coat)}


def test_the_sheet_decides_on_the_nozzle_and_practice_stands_in() -> None:
    bench = ready()
    (found,) = judge(bench, set_up(bench, nozzle_mm=1.0))
    assert found.source == "data sheet"
    bench.clear("silent", nozzle_min_mm=None, nozzle_max_mm=None)
    bench.can("can-2", "silent")
    assert judge(bench, set_up(bench, lot="can-2", nozzle_mm=1.5)) == ()
    (found,) = judge(bench, set_up(bench, lot="can-2", nozzle_mm=2.5))
    assert found.source == "common practice, no published source"


def test_a_gun_never_stripped_counts_from_its_description() -> None:
    bench = ready()
    (found,) = (f for f in judge(bench, set_up(bench.at("40 08:00"))) if "strip" in f.code)
    assert "described, and never stripped clean since, 39 days before" in found.seen[0].says
    assert found.source == "the shop's own interval"


def test_an_overdue_gun_is_told_once_a_day() -> None:
    bench = ready().at("40 08:00")
    bench.take(set_up(bench))
    coat = bench.later(0.1).would_coat("T-1")
    assert "strip_clean_overdue" not in {f.code for f in judge(bench, coat)}
    assert "strip_clean_overdue" in {f.code for f in judge(bench, set_up(bench.at("41 08:00")))}
