"""Blush: a lacquer's film temperature solves its balance; damp air brings it below dew point."""

import pytest
from coatledger.computations import air
from coatledger.computations.drying_blush import Solvent, blush, solvent_film_c
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize("air_c", [10.0, 20.0, 25.0, 30.0])
def test_water_as_the_solvent_finds_the_wet_bulb_of_dry_air(air_c: float) -> None:
    """ASHRAE's wet bulb is the case of a Lewis number of 1; 0.3 C for the simpler balance."""
    water = Solvent(vapour_20c_pa=2339.0, heat_kj_mol=44.2, lewis=1.0)
    assert solvent_film_c(air_c, water) == pytest.approx(air.wet_bulb_c(air_c, 0.0), abs=0.3)


def test_common_practice_comes_out_blush_begins_in_damp_air() -> None:
    """Common practice, no published source: safe near 50 %, a risk from 65 to 75 % RH on."""
    assert not blush(20.0, 50.0).at_risk
    assert blush(20.0, 75.0).at_risk
    assert blush(30.0, 75.0).at_risk


@given(st.floats(5.0, 40.0), st.floats(10.0, 99.0), st.floats(0.1, 1.0))
def test_damper_air_and_faster_solvents_bring_blush_nearer(
    air_c: float, rh_pct: float, more: float
) -> None:
    told = blush(air_c, rh_pct)
    assert told.film_c < air_c
    assert told.margin_c == pytest.approx(told.film_c - air.dew_point_c(air_c, rh_pct))
    assert blush(air_c, rh_pct + more).margin_c < told.margin_c
    assert blush(air_c, rh_pct, Solvent(vapour_20c_pa=9700.0)).margin_c < told.margin_c
    assert told.at_risk is (told.margin_c < 0.0)


def test_a_solvent_that_is_none_is_refused() -> None:
    with pytest.raises(OutOfRange, match="heat of evaporation"):
        solvent_film_c(20.0, Solvent(heat_kj_mol=400.0))
    with pytest.raises(OutOfRange, match="temperature"):
        blush(50.0, 50.0)
