"""Rates and budgets of drying and curing against physics tables and the sheet's own hours."""

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from coatledger.computations import drying
from coatledger.computations.drying import STAGES, Kind, Sheet, Stage
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
KINDS: tuple[Kind, ...] = ("water_borne", "lacquer", "oil_based")
SHEET = Sheet(
    kind="water_borne",
    reference_air_c=25.0,
    reference_rh_pct=50.0,
    reference_wet_film_um=100.0,
    stage_hours={"touch_dry": 0.5, "tack_free": 1, "sandable": 3, "wrap_safe": 24, "cured": 168},
    recoat_window_h=72.0,
    mfft_c=10.0,
)
AIR_C = st.floats(-5.0, 45.0)
RH_PCT = st.floats(1.0, 99.0)


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("drying_evaporation.csv"))
def test_water_leaves_with_the_wet_bulb_depression(row: dict[str, str]) -> None:
    """PsychroLib's factors; its wet bulb steps by 0.001 C, so 0.1 % of a small depression."""
    rate = drying.leaving_rate(SHEET, float(row["T_C"]), 100.0 * float(row["RH"]))
    assert 1.0 / rate == pytest.approx(float(row["time_factor_wetbulb"]), rel=1e-3)


@pytest.mark.parametrize("row", rows("drying_arrhenius.csv"))
def test_curing_follows_arrhenius(row: dict[str, str]) -> None:
    energy, from_c, to_c = (float(row[key]) for key in ("Ea_kJ_mol", "T1_C", "T2_C"))
    ratio = drying.arrhenius(energy, from_c, to_c)
    assert ratio == pytest.approx(float(row["rate_ratio"]), abs=2e-6)
    assert 1.0 / ratio == pytest.approx(float(row["time_ratio"]), abs=2e-6)
    sheet = replace(SHEET, cure_activation_kj_mol=energy, reference_air_c=from_c)
    assert drying.cure_rate(sheet, to_c) == pytest.approx(ratio, rel=1e-12)


def test_free_water_has_the_same_shape() -> None:
    """Concrete trade's table (from memory), a shape check: rate against humidity within 20 %."""
    by_rh = [row for row in rows("drying_free_water.csv") if row["group"] == "RH"]
    assert len(by_rh) >= 4
    air_c = (70.0 - 32.0) / 1.8
    base = next(row for row in by_rh if row["RH"] == "0.7")
    for row in by_rh:
        ours = drying.leaving_rate(SHEET, air_c, 100 * float(row["RH"]))
        ours /= drying.leaving_rate(SHEET, air_c, 70.0)
        theirs = float(row["menzel_lb_ft2_h"]) / float(base["menzel_lb_ft2_h"])
        assert ours == pytest.approx(theirs, rel=0.20)


@given(st.floats(5.0, 35.0), st.floats(20.0, 80.0), st.floats(40.0, 250.0), st.sampled_from(KINDS))
def test_every_rate_is_exactly_one_at_the_sheets_own_climate_and_film(
    air_c: float, rh_pct: float, film_um: float, kind: Kind
) -> None:
    sheet = replace(
        SHEET,
        kind=kind,
        reference_air_c=air_c,
        reference_rh_pct=rh_pct,
        reference_wet_film_um=film_um,
    )
    assert drying.leaving_rate(sheet, air_c, rh_pct, film_um) == 1.0
    assert drying.leaving_rate(sheet, air_c, rh_pct) == 1.0
    assert drying.cure_rate(sheet, air_c) == 1.0


@given(AIR_C, RH_PCT, st.floats(0.1, 10.0))
def test_warmth_dries_and_cures_sooner(air_c: float, rh_pct: float, more: float) -> None:
    for kind in KINDS:
        sheet = replace(SHEET, kind=kind)
        cool, warm = (drying.leaving_rate(sheet, one, rh_pct) for one in (air_c, air_c + more))
        # A hundredth of slack near freezing, where wet bulb passes from ice to water.
        assert warm > cool * 0.99
        assert drying.cure_rate(sheet, air_c + more) > drying.cure_rate(sheet, air_c)


@given(AIR_C, st.floats(1.0, 98.0), st.floats(0.1, 1.0), st.floats(20.0, 300.0))
def test_damp_air_and_a_thick_film_dry_later(
    air_c: float, rh_pct: float, more: float, film_um: float
) -> None:
    dry = drying.leaving_rate(SHEET, air_c, rh_pct, film_um)
    assert drying.leaving_rate(SHEET, air_c, rh_pct + more, film_um) <= dry + 1e-9
    assert drying.leaving_rate(SHEET, air_c, rh_pct, film_um * 1.1) < dry
    lacquer = replace(SHEET, kind="lacquer")
    assert drying.leaving_rate(lacquer, air_c, rh_pct) == drying.leaving_rate(lacquer, air_c, 50.0)


def test_saturated_air_takes_no_water() -> None:
    assert drying.leaving_rate(SHEET, 20.0, 100.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("kind", KINDS)
def test_budgets_add_up_to_the_sheets_hours_and_never_fall(kind: Kind) -> None:
    sheet = replace(SHEET, kind=kind)
    hours, parts = drying.stage_hours(sheet).hours, drying.budget(sheet)
    for stage, total in enumerate(hours):
        split = parts.leaving_first + parts.leaving_late[stage] + parts.curing[stage]
        assert split == pytest.approx(total, rel=1e-14)
    for column in (parts.leaving_late, parts.curing):
        assert all(before <= after for before, after in pairwise(column))


def test_where_the_sheet_speaks_it_decides_and_where_not_practice_is_marked() -> None:
    told = drying.stage_hours(SHEET)
    by_stage = dict(zip(STAGES, zip(told.hours, told.assumed, strict=True), strict=True))
    assert by_stage["sandable"] == (3, False)
    assert by_stage["stackable"][1]
    assert 3 <= by_stage["stackable"][0] <= 24
    silent = drying.stage_hours(replace(SHEET, stage_hours={}))
    assert silent.assumed == (True,) * 6
    # About three hours between water-borne coats and a night before packing.
    assert silent.hours[2] == 3.0
    assert 12.0 <= silent.hours[4] <= 24.0


@given(
    st.dictionaries(st.sampled_from(STAGES), st.floats(0.05, 500.0), max_size=6),
    st.sampled_from(KINDS),
)
def test_filled_hours_never_fall_from_stage_to_stage(
    given_h: dict[Stage, float], kind: Kind
) -> None:
    in_order = [given_h[stage] for stage in STAGES if stage in given_h]
    sheet = replace(SHEET, kind=kind, stage_hours=given_h)
    if any(before > after for before, after in pairwise(in_order)):
        with pytest.raises(OutOfRange, match="hours to"):
            drying.stage_hours(sheet)
        return
    hours = drying.stage_hours(sheet).hours
    assert all(before <= after for before, after in pairwise(hours))
    assert all(hours[STAGES.index(stage)] == value for stage, value in given_h.items())


def test_a_slow_dry_sheet_scales_what_it_does_not_say() -> None:
    slow = drying.stage_hours(replace(SHEET, stage_hours={"sandable": 6.0})).hours
    usual = drying.stage_hours(replace(SHEET, stage_hours={})).hours
    assert slow == tuple(2.0 * hours for hours in usual)


def test_a_cold_wet_film_cannot_form() -> None:
    """16 C and 50 % looks warm enough for a 12 C film; its wet bulb of 10.5 C is not."""
    sheet = replace(SHEET, mfft_c=12.0)
    assert drying.film_wet_c(16.0, 50.0) == pytest.approx(10.5, abs=0.1)
    assert not drying.film_can_form(sheet, 16.0, 50.0)
    assert drying.film_can_form(sheet, 16.0, 90.0)
    assert drying.film_can_form(replace(sheet, kind="lacquer"), 16.0, 50.0)
    assert drying.film_can_form(replace(sheet, mfft_c=None), 5.0, 50.0)


def test_the_recoat_window_is_the_sheets_and_burn_in_lacquers_have_none() -> None:
    assert drying.recoat_window_hours(SHEET) == 72.0
    assert drying.recoat_window_hours(SHEET, crosslinked=True) == 72.0
    linked = replace(SHEET, crosslinked_recoat_window_h=12.0)
    assert drying.recoat_window_hours(linked, crosslinked=True) == 12.0
    assert drying.recoat_window_hours(replace(SHEET, burns_in=True)) is None
    assert drying.recoat_window_hours(replace(SHEET, recoat_window_h=None)) is None


def test_a_shop_without_checks_knows_half_to_twice() -> None:
    wide = drying.spread()
    assert wide.p50 == 1.0
    assert wide.p90 == pytest.approx(1.0 / wide.p10)
    # ln p90 = 1.2816 x sqrt(0.35^2 + 0.14^2)
    assert wide.p90 == pytest.approx(1.621, abs=0.001)


def test_values_outside_the_model_are_refused_by_name() -> None:
    for match, call in (
        ("wet film", lambda: drying.leaving_rate(SHEET, 20.0, 50.0, 0.5)),
        ("temperature", lambda: drying.cure_rate(SHEET, 61.0)),
        ("temperature", lambda: drying.cure_rates(SHEET, np.array([20.0, 99.0]))),
        ("activation", lambda: drying.arrhenius(300.0, 20.0, 30.0)),
        (
            "reference humidity",
            lambda: drying.leaving_rate(replace(SHEET, reference_rh_pct=100.0), 20.0, 50.0),
        ),
        (
            "reference temperature",
            lambda: drying.cure_rates(replace(SHEET, reference_air_c=90.0), np.array([20.0])),
        ),
        ("factor", lambda: drying.spread(0.0)),
    ):
        with pytest.raises(OutOfRange, match=match):
            call()
