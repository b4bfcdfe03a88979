"""Rules of the room's air, each seen to fire and to stay silent, and told once a day."""

import pytest
from bench import Bench
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.setup import ProductDescribed
from coatledger.findings import climate
from coatledger.findings.finding import Finding
from judged import Case, codes, judge, ready


def extended(bench: Bench) -> LotMixed:
    parts = (Parent(lot="can-1", amount_l=1.0), Parent(lot="x", amount_l=0.05, part="extender"))
    return bench.record(LotMixed, lot="mix-1", product="clear-w", parents=parts)


def lacquer(bench: Bench) -> object:
    bench.record(ProductDescribed, product="nc", kind="lacquer", burns_in=True)
    return bench.can("can-nc", "nc")


CASES = (
    Case(
        "no_climate_reading",
        lambda b: b.at("1 20:00").would_coat("T-1"),
        lambda b: b.at("1 19:00").would_coat("T-1"),
    ),
    Case(
        "room_out_of_band",
        lambda b: (b.climate(21.0, 74.0), b.would_coat("T-1")),
        lambda b: (b.climate(21.0, 66.0), b.would_coat("T-1")),
    ),
    Case(
        "film_below_formation",
        lambda b: (b.climate(11.0, 50.0), b.would_coat("T-1")),
        lambda b: (b.climate(15.0, 50.0), b.would_coat("T-1")),
    ),
    Case(
        "surface_near_dew_point",
        lambda b: (b.climate(21.0, 60.0, surface_c=15.0), b.would_coat("T-1")),
        lambda b: (b.climate(21.0, 60.0, surface_c=17.0), b.would_coat("T-1")),
    ),
    Case(
        "blush_risk",
        lambda b: (lacquer(b), b.climate(22.0, 80.0), b.would_coat("T-1", lot="can-nc")),
        lambda b: (lacquer(b), b.climate(22.0, 40.0), b.would_coat("T-1", lot="can-nc")),
    ),
    Case(
        "dry_air_no_extender",
        lambda b: (b.climate(21.0, 25.0), b.would_coat("T-1")),
        lambda b: (extended(b), b.climate(21.0, 25.0), b.would_coat("T-1", lot="mix-1")),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in climate.RULES}


def band(bench: Bench, lot: str = "can-1") -> Finding:
    (found,) = (
        f for f in judge(bench, bench.would_coat("T-1", lot=lot)) if f.code == "room_out_of_band"
    )
    return found


def test_the_sheet_decides_then_the_room_then_practice() -> None:
    bench = ready()
    bench.climate(21.0, 74.0)
    assert band(bench).source == "data sheet"
    bench.clear("silent", rh_min_pct=None, rh_max_pct=None)
    bench.can("can-2", "silent")
    assert band(bench, "can-2").source == "the room's own limits"
    bench.climate(21.0, 74.0, room="shed")
    fact = bench.would_coat("T-1", lot="can-2", room="shed")
    (found,) = (f for f in judge(bench, fact) if f.code == "room_out_of_band")
    assert found.source == "common practice, no published source"
    assert found.seen[0].says == ("21 C and 74 % were read in shed: 74 %, wanted 30 to 65 %")


def test_a_film_too_cold_to_form_is_critical_and_comes_first() -> None:
    bench = ready()
    bench.climate(11.0, 50.0)
    found = judge(bench, bench.would_coat("T-1"))
    assert (found[0].code, found[0].severity) == ("film_below_formation", "critical")
    assert "it needs 8 C to form" in found[0].seen[0].says


def test_a_damp_room_is_told_once_a_day_and_again_the_next_day() -> None:
    bench = ready()
    bench.climate(21.0, 74.0)
    bench.coat("T-1")
    assert "room_out_of_band" not in {f.code for f in judge(bench, bench.would_coat("T-2"))}
    bench.at("2 08:00").climate(21.0, 74.0)
    assert "room_out_of_band" in {f.code for f in judge(bench, bench.would_coat("T-2"))}


def test_a_room_that_was_good_in_the_morning_is_told_when_it_turns() -> None:
    bench = ready()
    bench.coat("T-1")
    bench.at("1 10:00").climate(21.0, 74.0)
    assert "room_out_of_band" in {f.code for f in judge(bench, bench.would_coat("T-2"))}


def test_a_range_with_one_end_is_told_by_that_end() -> None:
    bench = ready()
    bench.clear("clear-w", rh_min_pct=None, rh_max_pct=65.0, air_min_c=18.0, air_max_c=None)
    bench.climate(12.0, 80.0)
    found = judge(bench, bench.would_coat("T-1"))
    said = next(f.seen[0].says for f in found if f.code == "room_out_of_band")
    assert "12 C, wanted at least 18 C" in said
    assert "80 %, wanted at most 65 %" in said
