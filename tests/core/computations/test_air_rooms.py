"""What brings a room into range: water in balance, heating by vapour pressure, nothing invented."""

import pytest
from coatledger.computations import air, air_rooms
from coatledger.computations.air_rooms import RoomState, Wanted
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

WANTED = Wanted(air_low_c=18.0, air_high_c=24.0, rh_low_pct=40.0, rh_high_pct=55.0)
DAMP = RoomState(
    air_c=14.0,
    rh_pct=75.0,
    volume_m3=90.0,
    air_changes_per_h=2.0,
    outside_c=9.0,
    outside_rh_pct=90.0,
)


def test_heating_follows_the_saturation_curve() -> None:
    """0 C at 100 % warmed to 20 C: 611.2 / 2338.8 Pa (ASHRAE table 3) is 26.1 %."""
    assert air_rooms.rh_after_heating_pct(0.0, 100.0, 20.0) == pytest.approx(26.13, abs=0.02)
    assert air_rooms.temperature_for_rh_c(0.0, 100.0, 26.13) == pytest.approx(20.0, abs=0.02)


@given(st.floats(0.0, 40.0), st.floats(5.0, 100.0), st.floats(0.0, 40.0))
def test_heating_and_cooling_back_changes_nothing(air_c: float, rh: float, to_c: float) -> None:
    there = air_rooms.rh_after_heating_pct(air_c, rh, to_c)
    if there <= 100.0:
        assert air_rooms.rh_after_heating_pct(to_c, there, air_c) == pytest.approx(rh, rel=1e-12)
        assert air.dew_point_c(to_c, there) == pytest.approx(air.dew_point_c(air_c, rh), abs=1e-7)


def test_a_litre_of_water_is_about_what_a_room_holds() -> None:
    """ASHRAE: 20 C saturated holds W = 0.014695 (table 2, from memory), in 1.175 kg dry air/m3."""
    grams = air_rooms.water_in_air_g(20.0, 100.0, 1.0, air.STANDARD_PRESSURE_PA)
    assert grams == pytest.approx(1000.0 * 0.01470 * 1.1753, rel=2e-3)


def test_a_cold_damp_room_is_heated_first_and_then_perhaps_dried() -> None:
    told = air_rooms.correction(DAMP, WANTED)
    assert told.to_air_c == 18.0
    assert told.rh_unhelped_pct == pytest.approx(air_rooms.rh_after_heating_pct(14.0, 75.0, 18.0))
    assert told.to_rh_pct == 55.0
    assert told.water_once_g < 0.0
    assert told.heat_once_kj > 0.0
    # Warming alone, a little further, would do it within the range.
    assert told.heat_only_c is not None
    assert 18.0 < told.heat_only_c < 24.0
    alone = air_rooms.rh_after_heating_pct(14.0, 75.0, told.heat_only_c)
    assert alone == pytest.approx(55.0)


def test_a_room_in_range_is_left_alone() -> None:
    told = air_rooms.correction(RoomState(air_c=21.0, rh_pct=48.0, volume_m3=90.0), WANTED)
    assert (told.water_once_g, told.water_g_per_h, told.heat_once_kj) == (0.0, 0.0, 0.0)
    assert told.heat_only_c is None
    assert told.to_rh_pct == pytest.approx(48.0)


def test_dry_winter_air_wants_water_and_keeps_wanting_it() -> None:
    dry = RoomState(
        air_c=20.0,
        rh_pct=20.0,
        volume_m3=90.0,
        air_changes_per_h=1.0,
        outside_c=-5.0,
        outside_rh_pct=80.0,
    )
    told = air_rooms.correction(dry, WANTED)
    before = air_rooms.water_in_air_g(20.0, 20.0, 90.0, dry.pressure_pa)
    after = air_rooms.water_in_air_g(20.0, 40.0, 90.0, dry.pressure_pa)
    # Water pushes a little dry air out, so the balance in grams is right to half a percent.
    assert told.water_once_g == pytest.approx(after - before, rel=6e-3)
    assert told.water_g_per_h > 0.0
    # Outside air at -5 C and 80 % has W = 0.0020, against 0.0058 inside.
    outside = air.humidity_ratio_kg_kg(-5.0, 80.0)
    inside = air.humidity_ratio_kg_kg(20.0, 40.0)
    dry_kg_h = 90.0 * air.dry_air_kg_m3(20.0, 40.0)
    assert told.water_g_per_h == pytest.approx(1000.0 * dry_kg_h * (inside - outside))


def test_nothing_is_assumed_of_outside_air_nobody_described() -> None:
    unknown = replace(DAMP, outside_c=None)
    assert air_rooms.correction(unknown, WANTED).water_g_per_h == 0.0


def test_a_hot_damp_room_cools_past_saturation_and_loses_water() -> None:
    muggy = RoomState(air_c=34.0, rh_pct=80.0, volume_m3=90.0)
    told = air_rooms.correction(muggy, WANTED)
    assert told.to_air_c == 24.0
    assert told.rh_unhelped_pct > 100.0
    assert told.water_once_g < 0.0
    assert told.heat_once_kj < 0.0
    assert told.heat_only_c is None


@given(st.floats(5.0, 38.0), st.floats(5.0, 100.0))
def test_every_correction_ends_in_the_range(air_c: float, rh_pct: float) -> None:
    told = air_rooms.correction(replace(DAMP, air_c=air_c, rh_pct=rh_pct), WANTED)
    assert WANTED.air_low_c <= told.to_air_c <= WANTED.air_high_c
    assert WANTED.rh_low_pct <= told.to_rh_pct <= WANTED.rh_high_pct


def test_a_range_upside_down_is_refused() -> None:
    with pytest.raises(OutOfRange, match="highest humidity"):
        air_rooms.correction(DAMP, replace(WANTED, rh_high_pct=30.0))
    with pytest.raises(OutOfRange, match="volume"):
        air_rooms.water_to_reach_g(replace(DAMP, volume_m3=-1.0), 20.0, 50.0)
    with pytest.raises(OutOfRange, match="wanted relative humidity"):
        air_rooms.temperature_for_rh_c(20.0, 50.0, 0.0)
