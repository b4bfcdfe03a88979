"""Unit conversions agree with their definitions and undo each other."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from coatledger import units
from hypothesis import given
from hypothesis import strategies as st

Conversion = Callable[[float], float]

PAIRS: tuple[tuple[Conversion, Conversion], ...] = (
    (units.c_from_f, units.f_from_c),
    (units.um_from_mil, units.mil_from_um),
    (units.mm_from_in, units.in_from_mm),
    (units.m2_from_ft2, units.ft2_from_m2),
    (units.m3_from_ft3, units.ft3_from_m3),
    (units.l_from_gal, units.gal_from_l),
    (units.l_from_fl_oz, units.fl_oz_from_l),
    (units.kpa_from_psi, units.psi_from_kpa),
    (units.m_s_from_fpm, units.fpm_from_m_s),
    (units.g_per_l_from_lb_per_gal, units.lb_per_gal_from_g_per_l),
    (units.m2_per_l_from_ft2_per_gal, units.ft2_per_gal_from_m2_per_l),
)

INCH_M = Fraction(254, 10_000)
FOOT_M = 12 * INCH_M
GALLON_L = 231 * INCH_M**3 * 1000
POUND_G = Fraction(45_359_237, 100_000)
POUND_FORCE_N = POUND_G / 1000 * Fraction(980_665, 100_000)

# Each factor rebuilt in exact fractions from its definition; the tolerance is rounding error.
DEFINED: tuple[tuple[float, Fraction], ...] = (
    (units.um_from_mil(1), INCH_M * 1000),
    (units.mm_from_in(1), INCH_M * 1000),
    (units.m2_from_ft2(1), FOOT_M**2),
    (units.m3_from_ft3(1), FOOT_M**3),
    (units.l_from_gal(1), GALLON_L),
    (units.l_from_fl_oz(1), GALLON_L / 128),
    (units.kpa_from_psi(1), POUND_FORCE_N / INCH_M**2 / 1000),
    (units.m_s_from_fpm(1), FOOT_M / 60),
    (units.g_per_l_from_lb_per_gal(1), POUND_G / GALLON_L),
    (units.m2_per_l_from_ft2_per_gal(1), FOOT_M**2 / GALLON_L),
    (units.FT2_MIL_PER_GAL, Fraction(231 * 1000, 144)),
)


@pytest.mark.parametrize(("ours", "defined"), DEFINED)
def test_each_factor_is_the_one_its_definition_gives(ours: float, defined: Fraction) -> None:
    assert ours == pytest.approx(float(defined), rel=1e-15)


@pytest.mark.parametrize(("there", "back"), PAIRS)
@given(value=st.floats(-1e6, 1e6))
def test_there_and_back_is_the_same_number(
    there: Conversion, back: Conversion, value: float
) -> None:
    assert back(there(value)) == pytest.approx(value, rel=1e-12, abs=1e-12)
    assert there(back(value)) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (77, 25), (70, 190 / 9)]
)
def test_the_fixed_points_of_the_two_scales_agree(fahrenheit: float, celsius: float) -> None:
    assert units.c_from_f(fahrenheit) == pytest.approx(celsius, abs=1e-12)


def test_printed_rounded_factors_are_met_to_their_last_digit() -> None:
    """119.8 g/L (Organic Finishing Guidebook 2013), 1604 ft2 mil/gal, 6.895 kPa, 29.57 mL."""
    assert round(units.g_per_l_from_lb_per_gal(1), 1) == 119.8
    assert round(units.FT2_MIL_PER_GAL) == 1604
    assert round(units.kpa_from_psi(1), 3) == 6.895
    assert round(units.l_from_fl_oz(1) * 1000, 2) == 29.57
