"""A climate on record: what holds between readings, what is forecast, and what nobody measured."""

import numpy as np
import pytest
from coatledger.computations import air
from coatledger.computations.drying import Sheet, cure_rate, leaving_rate
from coatledger.computations.drying_climate import (
    HOUR_US,
    NEVER_US,
    climate,
    course,
    gaps,
    micros_at,
    spliced,
    sum_at,
    time_at,
)
from coatledger.computations.ranges import OutOfRange

T0 = 1_780_000_000_000_000
SHEET = Sheet(
    kind="water_borne",
    reference_air_c=21.0,
    reference_rh_pct=50.0,
    reference_wet_film_um=100.0,
    stage_hours={},
    mfft_c=10.0,
)


def at(*hours: float) -> list[int]:
    return [T0 + round(hour * HOUR_US) for hour in hours]


def test_a_reading_holds_until_the_next_and_the_last_for_ever() -> None:
    rooms = climate(at(0, 2, 3), [21.0, 15.0, 21.0], [50.0, 70.0, 50.0])
    run = course(SHEET, rooms, T0 + 3 * HOUR_US)
    slow, cool = leaving_rate(SHEET, 15.0, 70.0), cure_rate(SHEET, 15.0)
    hours = np.array([0.0, 1.0, 2.5, 3.0, 9.0]) * HOUR_US
    left = sum_at(run, run.leaving_sum, run.leaving, hours) / HOUR_US
    assert left == pytest.approx([0.0, 1.0, 2.0 + slow / 2, 2.0 + slow, 8.0 + slow])
    cured = sum_at(run, run.curing_sum, run.curing, hours) / HOUR_US
    assert cured == pytest.approx([0.0, 1.0, 2.0 + cool / 2, 2.0 + cool, 8.0 + cool])
    back = time_at(run, run.leaving_sum, run.leaving, left * HOUR_US)
    assert back == pytest.approx(hours)


def test_what_was_read_after_now_is_not_used() -> None:
    rooms = climate(at(0, 1, 2), [21.0, 30.0, 5.0], [50.0, 50.0, 50.0])
    run = course(SHEET, rooms, T0 + HOUR_US // 2)
    assert run.times.tolist() == [0.0]
    assert run.curing.tolist() == [1.0]


def test_a_forecast_takes_over_from_now_and_not_before() -> None:
    rooms = climate(at(0), [21.0], [50.0])
    # The heating goes off at 6 h; what the forecast said for the past is not taken.
    night = climate(at(-5, 1, 6), [40.0, 20.0, 12.0], [50.0, 50.0, 60.0])
    run = course(SHEET, rooms, T0 + 3 * HOUR_US, forecast=night)
    assert (run.times / HOUR_US).tolist() == [0.0, 3.0, 6.0]
    assert run.curing == pytest.approx([1.0, cure_rate(SHEET, 20.0), cure_rate(SHEET, 12.0)])


def test_silences_are_told_inside_at_the_end_and_before_the_first_reading() -> None:
    rooms = climate(at(0, 1, 6, 7), [21.0] * 4, [50.0] * 4)
    run = course(SHEET, rooms, T0 + 12 * HOUR_US, gap_h=3.0)
    told = gaps(run, T0 - 4 * HOUR_US, T0 + 100 * HOUR_US)
    assert told == ((at(-4)[0], T0), (at(1)[0], at(6)[0]), (at(7)[0], at(12)[0]))
    # Only what touches the coat's own time counts, cut to it; the future is a forecast, no gap.
    assert gaps(run, at(2)[0], at(5)[0]) == ((at(2)[0], at(5)[0]),)
    assert gaps(run, at(6)[0], at(7)[0]) == ()
    assert gaps(run, at(13)[0], at(20)[0]) == ()
    assert gaps(course(SHEET, rooms, at(12)[0], gap_h=6.0), T0, at(12)[0]) == ()


def test_without_any_reading_all_is_a_gap_and_the_sheets_climate_is_taken() -> None:
    run = course(SHEET, climate([], [], []), at(5)[0])
    assert run.leaving.tolist() == run.curing.tolist() == [1.0]
    assert gaps(run, T0, at(9)[0]) == ((T0, at(5)[0]),)


def test_saturated_air_never_gets_there() -> None:
    run = course(SHEET, climate(at(0), [20.0], [100.0]), T0)
    found = time_at(run, run.leaving_sum, run.leaving, np.array([1.0, 0.0]))
    assert found[0] > 1e15
    assert micros_at(run, np.array([np.inf, 1.0])).tolist() == [NEVER_US, T0 + 1]


def test_a_film_just_dry_when_the_air_saturates_was_dry_before_and_not_after() -> None:
    rooms = climate(at(0, 2, 5), [21.0] * 3, [50.0, 100.0, 50.0])
    run = course(SHEET, rooms, at(6)[0])
    hours = np.array([1.999, 2.0, 2.001]) * HOUR_US
    found = time_at(run, run.leaving_sum, run.leaving, hours) / HOUR_US
    assert found == pytest.approx([1.999, 2.0, 5.001])


def test_cold_moments_of_a_wet_film_are_found_ahead() -> None:
    rooms = climate(at(0, 1, 2, 3), [21.0, 10.0, 21.0, 21.0], [50.0] * 4)
    run = course(SHEET, rooms, at(3)[0])
    assert (run.cold_from / HOUR_US).tolist() == [1.0, 1.0, np.inf, np.inf]
    cold_at_once = course(SHEET, climate(at(0), [10.0], [50.0]), T0)
    assert cold_at_once.cold_from.tolist() == [-np.inf]


def test_a_piece_that_moves_takes_each_rooms_air_in_turn() -> None:
    spray = climate(at(0, 1, 2, 3), [24.0, 24.0, 25.0, 26.0], [40.0] * 4)
    rack = climate(at(0.5, 2.25), [18.0, 17.0], [60.0, 65.0])
    both = spliced([(at(0)[0], spray), (at(1.5)[0], rack)])
    assert both.times_us.tolist() == at(0, 1, 1.5, 2.25)
    assert both.air_c.tolist() == [24.0, 24.0, 18.0, 17.0]
    assert both.depression_c == pytest.approx(
        air.wet_bulb_depressions_c(both.air_c, both.rh_pct), abs=1e-12
    )


def test_a_room_read_only_after_the_piece_left_lends_nothing() -> None:
    late = climate(at(9), [30.0], [50.0])
    rack = climate(at(1), [18.0], [60.0])
    both = spliced([(at(0)[0], late), (at(2)[0], rack)])
    assert both.times_us.tolist() == at(2)
    assert both.air_c.tolist() == [18.0]


def test_a_climate_out_of_order_or_of_uneven_columns_is_refused() -> None:
    with pytest.raises(OutOfRange, match="time of a reading"):
        climate(at(0, 2, 1), [21.0] * 3, [50.0] * 3)
    with pytest.raises(ValueError, match="2 times, 1 temperatures"):
        climate(at(0, 1), [21.0], [50.0, 50.0])
    with pytest.raises(OutOfRange, match="relative humidity"):
        climate(at(0), [21.0], [101.0])
    with pytest.raises(OutOfRange, match="longest silence"):
        course(SHEET, climate(at(0), [21.0], [50.0]), T0, gap_h=0.0)
