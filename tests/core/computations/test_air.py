"""Moist air against PsychroLib 2.5.0 on a dense grid, printed ASHRAE values, recorded tables."""

import csv
import math
import sys
from collections.abc import Callable, Iterator
from itertools import product
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from coatledger.computations import air
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
P = air.STANDARD_PRESSURE_PA
AIR_C = st.floats(-15.0, 45.0)
RH_PCT = st.floats(1.0, 100.0)
# Dry-bulb -10 to 45 C by 1.25, humidity 2 to 100 % by 3.5, three altitudes: 3,915 states.
GRID = tuple(
    product(np.arange(-10.0, 45.1, 1.25), np.arange(2.0, 100.1, 3.5), (P, 95_460.8, 84_555.9))
)


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.fixture
def reference() -> Iterator[None]:
    psychrolib.SetUnitSystem(psychrolib.SI)
    yield
    psychrolib.PSYCHROLIB_UNITS = None


def worst(differences: list[float], name: str) -> float:
    largest = max(abs(one) for one in differences)
    sys.stdout.write(f"{name}: worst {largest:.3g} over {len(differences)} states\n")
    return largest


def test_saturation_is_the_printed_curve() -> None:
    """ASHRAE 2017 table 3 within the 300 ppm of its own reference; IAPWS-IF97 within 0.03 %."""
    for row in rows("air_saturation.csv"):
        ours = air.saturation_pressure_pa(float(row["T_C"]))
        assert ours == pytest.approx(float(row["pws_ashrae_Pa"]), rel=1e-6)
        if row["pws_ashrae2017_table3_Pa"]:
            assert ours == pytest.approx(float(row["pws_ashrae2017_table3_Pa"]), rel=3e-4)
        if row["pws_iapws97_Pa"]:
            assert ours == pytest.approx(float(row["pws_iapws97_Pa"]), rel=3e-4)


def test_saturation_agrees_with_the_irrigation_formula() -> None:
    """FAO-56 eq. 11 is a Magnus form: 0.1 % in the range of a shop, and its own example."""
    for row in rows("air_saturation_fao56.csv"):
        ours_kpa = air.saturation_pressure_pa(float(row["T_C"])) / 1000.0
        assert ours_kpa == pytest.approx(float(row["e_s_ashrae_kPa"]), abs=6e-5)
        assert ours_kpa == pytest.approx(float(row["e_s_fao56_kPa"]), rel=1.5e-3)


@pytest.mark.usefixtures("reference")
def test_every_quantity_is_psychrolibs_over_the_grid() -> None:
    """3,915 states; tolerance is PsychroLib's own iteration step of 0.001 C where it iterates."""
    assert len(GRID) >= 2000
    vapour, dew, ratio, deficit, enthalpy, density = ([] for _ in range(6))
    for air_c, rh_pct, pressure in GRID:
        share = rh_pct / 100.0
        theirs_w = psychrolib.GetHumRatioFromRelHum(air_c, share, pressure)
        ours_w = air.humidity_ratio_kg_kg(air_c, rh_pct, pressure)
        theirs_v = psychrolib.GetVapPresFromRelHum(air_c, share)
        vapour.append(air.vapour_pressure_pa(air_c, rh_pct) / theirs_v - 1.0)
        dew.append(air.dew_point_c(air_c, rh_pct) - psychrolib.GetTDewPointFromRelHum(air_c, share))
        ratio.append(ours_w / theirs_w - 1.0)
        theirs_d = psychrolib.GetVaporPressureDeficit(air_c, theirs_w, pressure)
        deficit.append(air.vapour_pressure_deficit_pa(air_c, rh_pct) - theirs_d)
        theirs_h = psychrolib.GetMoistAirEnthalpy(air_c, theirs_w) / 1000.0
        enthalpy.append(air.enthalpy_kj_kg(air_c, rh_pct, pressure) - theirs_h)
        theirs_rho = psychrolib.GetMoistAirDensity(air_c, theirs_w, pressure)
        density.append(air.density_kg_m3(air_c, rh_pct, pressure) / theirs_rho - 1.0)
    assert worst(vapour, "vapour pressure, share") < 1e-12
    assert worst(dew, "dew point, C") < 1e-6
    assert worst(ratio, "humidity ratio, share") < 1e-12
    assert worst(deficit, "vapour pressure deficit, Pa") < 1e-8
    assert worst(enthalpy, "enthalpy, kJ/kg") < 1e-9
    assert worst(density, "density, share") < 1e-12


@pytest.mark.usefixtures("reference")
def test_the_wet_bulb_is_psychrolibs_where_only_one_can_hold() -> None:
    """Within its 0.001 C step. About 0 C ice and water both solve the balance: we take water."""
    differences, both = [], 0
    for air_c, rh_pct, pressure in GRID:
        ours = air.wet_bulb_c(air_c, rh_pct, pressure)
        theirs = psychrolib.GetTWetBulbFromRelHum(air_c, rh_pct / 100.0, pressure)
        if ours >= 0.0 > theirs:
            both += 1
            again = psychrolib.GetHumRatioFromTWetBulb(air_c, ours, pressure)
            assert again == pytest.approx(air.humidity_ratio_kg_kg(air_c, rh_pct, pressure))
        else:
            differences.append(ours - theirs)
    sys.stdout.write(f"{both} states have a frozen and a liquid wet bulb\n")
    assert both < len(GRID) / 20
    assert worst(differences, "wet bulb, C") < 0.001


def test_recorded_states_hold_against_two_libraries() -> None:
    """PsychroLib and CoolProp (real gas), with the tolerances of the table's header."""
    for row in rows("air_states.csv"):
        air_c, rh_pct, pressure = float(row["T_C"]), 100.0 * float(row["RH"]), float(row["p_Pa"])
        dew = air.dew_point_c(air_c, rh_pct)
        ratio = air.humidity_ratio_kg_kg(air_c, rh_pct, pressure)
        bulb = air.wet_bulb_c(air_c, rh_pct, pressure)
        assert dew == pytest.approx(float(row["dew_point_C"]), abs=0.002)
        assert dew == pytest.approx(float(row["dew_point_C_coolprop"]), abs=0.05)
        assert ratio == pytest.approx(float(row["hum_ratio_kgkg"]), rel=1e-3)
        assert ratio == pytest.approx(float(row["hum_ratio_coolprop"]), rel=6e-3)
        assert bulb == pytest.approx(float(row["wet_bulb_C"]), abs=0.002)
        assert bulb == pytest.approx(float(row["wet_bulb_C_coolprop"]), abs=0.05)
        deficit = air.vapour_pressure_deficit_pa(air_c, rh_pct)
        assert deficit == pytest.approx(float(row["vpd_Pa"]), rel=1e-5)
        density = air.density_kg_m3(air_c, rh_pct, pressure)
        assert density == pytest.approx(float(row["density_kgm3"]), abs=6e-6)


def test_recorded_states_in_inch_pounds_are_the_same_air() -> None:
    """PsychroLib in inch-pound units, 14.696 psia; its gas constant differs in the fourth digit."""
    pascal_per_psi = 6894.757293168
    for row in rows("air_states_ip.csv"):
        air_c, rh_pct = (float(row["T_F"]) - 32.0) / 1.8, 100.0 * float(row["RH"])
        pressure = float(row["p_psi"]) * pascal_per_psi
        dew_f = air.dew_point_c(air_c, rh_pct) * 1.8 + 32.0
        bulb_f = air.wet_bulb_c(air_c, rh_pct, pressure) * 1.8 + 32.0
        assert dew_f == pytest.approx(float(row["dew_point_F"]), abs=0.02)
        assert bulb_f == pytest.approx(float(row["wet_bulb_F"]), abs=0.05)
        ratio = air.humidity_ratio_kg_kg(air_c, rh_pct, pressure)
        assert ratio == pytest.approx(float(row["hum_ratio"]), rel=1e-3)


def test_ashraes_worked_values_come_out() -> None:
    """ASHRAE ch. 1 example 1, read off its chart (40 C dry, 20 C wet: 14 %, dew point 7 C,
    W 6.5 g, 56.7 kJ), to a unit of the last digit; table 1 to a pascal."""
    rh_pct = air.rh_from_wet_bulb_pct(40.0, 20.0)
    assert rh_pct == pytest.approx(14.0, abs=0.5)
    assert air.humidity_ratio_kg_kg(40.0, rh_pct) == pytest.approx(0.0065, abs=1e-4)
    assert air.enthalpy_kj_kg(40.0, rh_pct) == pytest.approx(56.7, abs=0.1)
    assert air.dew_point_c(40.0, rh_pct) == pytest.approx(7.0, abs=0.5)
    assert air.wet_bulb_c(7.0, 61.0, 100_000.0) == pytest.approx(3.92667433781955, abs=1e-3)
    for altitude_m, pressure in ((500, 95_461), (1000, 89_875), (4000, 61_640)):
        assert air.standard_pressure_pa(altitude_m) == pytest.approx(pressure, abs=1.0)


@pytest.mark.parametrize("row", rows("air_surface_margin.csv"))
def test_the_three_degree_and_the_five_fahrenheit_rule_are_told_apart(row: dict[str, str]) -> None:
    check = air.surface_check(float(row["surface_C"]), float(row["air_C"]), 100 * float(row["RH"]))
    assert check.dew_point_c == pytest.approx(float(row["dew_point_C"]), abs=0.002)
    assert check.margin_c == pytest.approx(float(row["margin_C"]), abs=0.002)
    assert check.iso_3c_ok is (row["ok_3C_rule"] == "True")
    assert check.five_f_ok is (row["ok_5F_rule"] == "True")


@given(AIR_C, RH_PCT)
def test_dew_point_and_wet_bulb_lead_back_to_the_humidity(air_c: float, rh_pct: float) -> None:
    dew = air.dew_point_c(air_c, rh_pct)
    bulb = air.wet_bulb_c(air_c, rh_pct)
    assert dew <= bulb + 1e-9 <= air_c + 2e-9
    assert air.rh_from_dew_point_pct(air_c, min(dew, air_c)) == pytest.approx(rh_pct, rel=1e-9)
    back = air.rh_from_wet_bulb_pct(air_c, min(bulb, air_c))
    assert back == pytest.approx(rh_pct, rel=1e-6)


@given(st.lists(st.tuples(st.floats(-20.0, 60.0), st.floats(0.0, 100.0)), min_size=1, max_size=40))
def test_many_depressions_at_once_are_the_single_ones(states: list[tuple[float, float]]) -> None:
    air_c, rh_pct = (np.array(column) for column in zip(*states, strict=True))
    many = air.wet_bulb_depressions_c(air_c, rh_pct)
    single = [air.wet_bulb_depression_c(*state) for state in states]
    assert np.max(np.abs(many - single)) < 1e-9
    assert np.all(many >= 0.0)


@given(st.floats(-20.0, 60.0), st.floats(0.0, 99.0), st.floats(0.01, 1.0))
def test_damper_air_cools_a_wet_film_less(air_c: float, rh_pct: float, more: float) -> None:
    drier = air.wet_bulb_depression_c(air_c, rh_pct)
    assert air.wet_bulb_depression_c(air_c, rh_pct + more) <= drier + 1e-9


def test_no_readings_have_no_depressions() -> None:
    assert air.wet_bulb_depressions_c(np.array([]), np.array([])).size == 0


@pytest.mark.parametrize(
    ("call", "quantity"),
    [
        (lambda: air.saturation_pressure_pa(200.1), "temperature (C)"),
        (lambda: air.saturation_pressure_pa(math.nan), "temperature (C)"),
        (lambda: air.vapour_pressure_pa(20.0, 100.1), "relative humidity (%)"),
        (lambda: air.dew_point_c(20.0, 0.0), "vapour pressure (Pa)"),
        (lambda: air.wet_bulb_c(61.0, 50.0), "temperature (C)"),
        (lambda: air.wet_bulb_c(20.0, 50.0, 50_000.0), "pressure (Pa)"),
        (lambda: air.rh_from_dew_point_pct(20.0, 21.0), "dew point (C)"),
        (lambda: air.rh_from_wet_bulb_pct(20.0, 20.5), "wet bulb (C)"),
        (lambda: air.rh_from_wet_bulb_pct(40.0, 5.0), "relative humidity (%)"),
        (lambda: air.standard_pressure_pa(12_000.0), "altitude (m)"),
        (lambda: air.humidity_ratio_kg_kg(150.0, 90.0), "pressure (Pa)"),
        (lambda: air.wet_bulb_depressions_c(np.array([20.0]), np.array([101.0])), "relative"),
    ],
)
def test_what_lies_outside_a_formula_is_refused(call: Callable[[], object], quantity: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        call()
    assert caught.value.quantity.startswith(quantity)
