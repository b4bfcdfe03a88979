"""One coat in plain numbers gives the array's microsecond, at any moment of the readings; what is
still wet, and the factor a check stands for."""

import numpy as np
import pytest
from coatledger.computations import drying_clock
from coatledger.computations.drying import STAGES, Budget, Kind, Sheet, Spread, budget, spread
from coatledger.computations.drying_climate import HOUR_US, Climate, Course, climate, course
from coatledger.computations.drying_clock import Coats, factor_points, ready_times_us, void_from_us
from coatledger.computations.drying_one import (
    FACTOR_LEAST,
    FACTOR_MOST,
    Coat,
    Drying,
    line_of,
    unabraded_until_us,
)
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from plain_walk import T0

SHEET = Sheet(
    kind="water_borne",
    reference_air_c=21.0,
    reference_rh_pct=50.0,
    reference_wet_film_um=100.0,
    stage_hours={"touch_dry": 0.5, "tack_free": 0.75, "sandable": 3, "wrap_safe": 24.1},
    recoat_window_h=72.0,
    mfft_c=10.0,
    crosslinked_cure_factor=0.7,
)
KINDS: tuple[Kind, ...] = ("water_borne", "lacquer", "oil_based")
READING = st.tuples(st.integers(1, 9), st.integers(-5, 40), st.integers(5, 100))


def air(readings: list[tuple[int, int, int]]) -> Climate:
    """Readings some hours apart: gap, temperature, humidity."""
    hours = np.cumsum([gap for gap, _, _ in readings])
    return climate(
        [T0 + int(hour) * HOUR_US for hour in hours],
        [float(air_c) for _, air_c, _ in readings],
        [float(rh_pct) for _, _, rh_pct in readings],
    )


def as_array(coat: Coat, *, bare_wood: bool) -> Coats:
    return drying_clock.one_coat(
        coat.applied_us, coat.wet_film_um, below_um=coat.below_um, bare_wood=bare_wood,
        extender_pct=coat.extender_pct, crosslinked=coat.crosslinked,
    )  # fmt: skip


@st.composite
def coats(draw: st.DrawFn) -> Coat:
    return Coat(
        T0 + draw(st.integers(-5, 60)) * HOUR_US + draw(st.integers(0, 10**9)),
        float(draw(st.integers(20, 300))),
        float(draw(st.sampled_from([0, 40]))),
        float(draw(st.sampled_from([0, 8]))),
        draw(st.booleans()),
    )


def made(sheet: Sheet, coat: Coat, run: Course, parts: Budget | None = None) -> Drying:
    return Drying(sheet, parts or budget(sheet), coat, line_of(run))


@given(
    st.sampled_from(KINDS), coats(), st.lists(READING, min_size=1, max_size=12), st.booleans(),
    st.floats(0.3, 3.0), st.integers(0, 48),
)  # fmt: skip
def test_one_coat_is_ready_and_void_when_the_array_says_at_any_moment(
    kind: Kind,
    coat: Coat,
    readings: list[tuple[int, int, int]],
    bare: bool,
    median: float,
    later: int,
) -> None:
    sheet, rooms, factor = replace(SHEET, kind=kind), air(readings), spread(median)
    # The line knows readings that came after the moment asked for; they must not count.
    now_us = max(coat.applied_us + later * HOUR_US, int(rooms.times_us[0]))
    then, whole = course(sheet, rooms, now_us), line_of(course(sheet, rooms, T0 + 999 * HOUR_US))
    one, array = Drying(sheet, budget(sheet), coat, whole), as_array(coat, bare_wood=bare)
    upto = whole.readings_by(now_us)
    points = factor_points(factor, bare_wood=bare)
    ready = [[one.ready_us(stage, point, upto) for point in points] for stage in range(len(STAGES))]
    assert ready == ready_times_us(sheet, array, then, factor)[0].tolist()
    assert one.void_from_us(factor.p50, upto) == int(void_from_us(sheet, array, then, factor)[0])
    closes = drying_clock.unabraded_until_us(sheet, array, course(sheet, rooms, T0))
    assert unabraded_until_us(sheet, coat, line_of(course(sheet, rooms, T0))) == closes


def test_coats_below_that_still_dry_slow_the_next_one() -> None:
    first = made(SHEET, Coat(T0, 100.0), course(SHEET, climate([T0], [21.0], [50.0]), T0))
    moments = [0.0, 0.5, 1.5, 1.875, 48.0]
    left = [first.undried_um(T0 + round(h * HOUR_US), 1.0) for h in moments]
    assert left[0] == 100.0
    assert left == sorted(left, reverse=True)
    # Water alone needs 0.5 + 0.75 of 0.25 + half of 2.25 h, so it is all gone before sandable.
    assert 0.0 < left[2] < left[1]
    assert left[3:] == [0.0, 0.0]


@given(
    st.sampled_from(range(len(STAGES))), st.sampled_from(KINDS), st.floats(0.2, 5.0),
    st.floats(10.0, 30.0),
)  # fmt: skip
def test_a_check_finds_the_factor_that_the_clock_would_need(
    stage: int, kind: Kind, factor: float, air_c: float
) -> None:
    sheet = replace(SHEET, kind=kind)
    times = T0 + np.arange(200) * HOUR_US
    wave = air_c + 3.0 * np.sin(np.arange(200) / 4.0)
    run = course(sheet, climate(times, wave, np.full(200, 60.0)), int(times[-1]))
    one = made(sheet, Coat(T0 + 12345, 120.0), run)
    ready_us = one.ready_us(stage, factor, times.size)
    assert one.factor_reached(stage, ready_us) == pytest.approx(factor, rel=1e-8)


@given(
    st.sampled_from(range(len(STAGES))), st.sampled_from(KINDS), coats(),
    st.lists(READING, min_size=1, max_size=12), st.integers(1, 400),
)  # fmt: skip
def test_a_coat_is_ready_at_a_check_just_when_its_factor_is_at_most_what_was_reached(
    stage: int, kind: Kind, coat: Coat, readings: list[tuple[int, int, int]], hours: int
) -> None:
    sheet = replace(SHEET, kind=kind)
    rooms = air(readings)
    one = made(sheet, coat, course(sheet, rooms, T0 + 999 * HOUR_US))
    at_us = coat.applied_us + hours * HOUR_US
    reached = one.factor_reached(stage, at_us)
    assert FACTOR_LEAST <= reached <= FACTOR_MOST
    if reached > FACTOR_LEAST:
        assert one.ready_us(stage, reached * (1.0 - 1e-9), rooms.times_us.size) <= at_us
    if reached < FACTOR_MOST:
        assert one.ready_us(stage, reached * (1.0 + 1e-9), rooms.times_us.size) >= at_us


def test_what_the_model_does_not_know_is_refused_by_name() -> None:
    run = course(SHEET, climate([T0], [21.0], [50.0]), T0)
    with pytest.raises(OutOfRange, match="time of a check"):
        made(SHEET, Coat(T0, 100.0), run).factor_reached(2, T0)
    for coat in (Coat(T0, 0.0), Coat(T0, 100.0, -1.0), Coat(T0, 100.0, 0.0, 60.0)):
        with pytest.raises(OutOfRange):
            made(SHEET, coat, run)
    assert factor_points(Spread(1.0, 1.0, 1.0), bare_wood=False) == (1.0, 1.0, 1.0)
