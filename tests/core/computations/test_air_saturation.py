"""The saturation curve is smooth, its slope is its slope, and many temperatures are single ones."""

import numpy as np
import pytest
from coatledger.computations import air_saturation as saturation
from hypothesis import given
from hypothesis import strategies as st


def log_pressure(air_c: float) -> float:
    return saturation.log_pressure(air_c + saturation.KELVIN, saturation.coefficients_at(air_c))


def test_water_and_ice_meet_at_the_triple_point() -> None:
    """611.657 Pa (IAPWS); changing over at a printed 0 C would leave a step of 0.1 Pa."""
    kelvin = saturation.TRIPLE_POINT_C + saturation.KELVIN
    ice, water = (
        np.exp(saturation.log_pressure(kelvin, c)) for c in (saturation.ICE, saturation.WATER)
    )
    assert ice == pytest.approx(611.657, abs=0.02)
    assert water == pytest.approx(ice, abs=0.1)


@given(st.floats(-60.0, 150.0).filter(lambda air_c: abs(air_c - 0.01) > 0.01))
def test_the_slope_is_that_of_the_curve(air_c: float) -> None:
    c = saturation.coefficients_at(air_c)
    step = 1e-3
    measured = (log_pressure(air_c + step) - log_pressure(air_c - step)) / (2 * step)
    assert saturation.log_slope(air_c + saturation.KELVIN, c) == pytest.approx(measured, rel=1e-5)
    if air_c > 0.01:
        many = saturation.log_slopes(np.array([air_c + saturation.KELVIN]))
        assert many[0] == pytest.approx(measured, rel=1e-5)


@given(st.lists(st.floats(-60.0, 150.0), min_size=1, max_size=30))
def test_many_pressures_are_the_single_ones(degrees: list[float]) -> None:
    many = saturation.log_pressures(np.array(degrees) + saturation.KELVIN)
    assert many == pytest.approx([log_pressure(one) for one in degrees], rel=1e-12, abs=1e-12)
