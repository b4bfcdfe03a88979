"""The drying clock: the sheet's hours exactly, the right way in every direction, void films, gaps;
and ten thousand coats over a year equal to walking every reading."""

import math

import numpy as np
import pytest
from coatledger.computations import air, drying_clock
from coatledger.computations.drying import (
    STAGES,
    Kind,
    Sheet,
    Spread,
    Stage,
    spread,
)
from coatledger.computations.drying_climate import HOUR_US, NEVER_US, Climate, climate, course
from coatledger.computations.drying_clock import Coats, clock, one_coat, ready_times_us
from coatledger.computations.ranges import OutOfRange
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace
from plain_walk import T0, a_years_readings, ten_thousand_coats, walked

HOURS: dict[Stage, float] = {
    "touch_dry": 0.5,
    "tack_free": 0.75,
    "sandable": 3,
    "stackable": 10,
    "wrap_safe": 24.1,
    "cured": 168,
}
SHEET = Sheet(
    kind="water_borne",
    reference_air_c=21.0,
    reference_rh_pct=50.0,
    reference_wet_film_um=100.0,
    stage_hours=HOURS,
    recoat_window_h=72.0,
    mfft_c=10.0,
)
SURE = Spread(1.0, 1.0, 1.0)
KINDS: tuple[Kind, ...] = ("water_borne", "lacquer", "oil_based")


def steady(air_c: float, rh_pct: float) -> Climate:
    return climate([T0], [air_c], [rh_pct])


def middle_h(sheet: Sheet, coat: Coats, rooms: Climate, factor: Spread = SURE) -> list[float]:
    ready = ready_times_us(sheet, coat, course(sheet, rooms, T0 + HOUR_US), factor)[0, :, 1]
    return [(int(one) - T0) / HOUR_US for one in ready]


@given(
    st.sampled_from(KINDS),
    st.floats(10.0, 30.0),
    st.floats(25.0, 75.0),
    st.integers(0, 10**12),
    st.floats(30.0, 300.0),
)
def test_at_the_sheets_climate_the_sheets_hours_come_out_exactly(
    kind: Kind, air_c: float, rh_pct: float, later_us: int, film_um: float
) -> None:
    """To the microsecond, wherever the coat falls between readings every ten minutes."""
    sheet = replace(
        SHEET,
        kind=kind,
        reference_air_c=air_c,
        reference_rh_pct=rh_pct,
        reference_wet_film_um=film_um,
    )
    times = T0 + np.arange(3000) * 600_000_000
    run = course(sheet, climate(times, np.full(3000, air_c), np.full(3000, rh_pct)), int(times[-1]))
    applied_us = T0 + later_us
    ready = ready_times_us(sheet, one_coat(applied_us, film_um), run, SURE)[0, :, 1]
    assert (ready - applied_us).tolist() == [round(hours * HOUR_US) for hours in HOURS.values()]


@given(st.floats(5.0, 34.0), st.floats(20.0, 94.0), st.floats(40.0, 200.0), st.floats(0.1, 1.0))
def test_cold_damp_and_thickness_only_ever_delay(
    air_c: float, rh_pct: float, film_um: float, more: float
) -> None:
    # Where the film's water would freeze, the wet bulb steps from water to ice.
    assume(air.wet_bulb_c(air_c - more, rh_pct) > 0.5)
    plain = middle_h(SHEET, one_coat(T0, film_um), steady(air_c, rh_pct))
    assert plain == sorted(plain)
    for later in (
        middle_h(SHEET, one_coat(T0, film_um), steady(air_c - more, rh_pct)),
        middle_h(SHEET, one_coat(T0, film_um), steady(air_c, rh_pct + more)),
        middle_h(SHEET, one_coat(T0, film_um * (1 + more / 10)), steady(air_c, rh_pct)),
        middle_h(SHEET, one_coat(T0, film_um, below_um=10 * more), steady(air_c, rh_pct)),
        middle_h(SHEET, one_coat(T0, film_um, extender_pct=10 * more), steady(air_c, rh_pct)),
    ):
        assert all(slow > quick for slow, quick in zip(later, plain, strict=True))


def test_twice_the_film_takes_twice_as_long_first_and_more_later() -> None:
    thin, thick = (middle_h(SHEET, one_coat(T0, film), steady(21, 50)) for film in (100, 200))
    assert thick[0] / thin[0] == pytest.approx(2.0)
    assert thick[2] / thin[2] > 2.0
    # Curing does not depend on the film, so in the end less than twice.
    assert thick[5] / thin[5] < 2.0
    oil = replace(SHEET, kind="oil_based")
    thin, thick = (middle_h(oil, one_coat(T0, film), steady(21, 50)) for film in (100, 200))
    assert thick[5] / thin[5] == pytest.approx(2.0, rel=0.01)


def test_damp_delays_water_and_not_lacquer_and_cold_delays_curing() -> None:
    dry, damp = (middle_h(SHEET, one_coat(T0, 100), steady(21, rh)) for rh in (50, 80))
    # Wet-bulb depressions at 21 C: 6.40 C at 50 %, 2.38 C at 80 %.
    assert damp[0] / dry[0] == pytest.approx(6.40 / 2.38, rel=0.01)
    assert damp[5] - dry[5] < 10.0
    lacquer = replace(SHEET, kind="lacquer")
    dry, damp = (middle_h(lacquer, one_coat(T0, 100), steady(21, rh)) for rh in (50, 80))
    assert damp == dry
    cold = middle_h(SHEET, one_coat(T0, 100), steady(11, 50))
    # 60 kJ/mol from 21 to 11 C: curing takes 2.37 times as long.
    assert (cold[5] - cold[4]) / (168 - 24.1) == pytest.approx(2.37, abs=0.01)


def test_a_crosslinker_cures_by_its_own_hours() -> None:
    sheet = replace(SHEET, crosslinked_cure_factor=0.5, crosslinked_recoat_window_h=12.0)
    with_it = middle_h(sheet, one_coat(T0, 100, crosslinked=True), steady(21, 50))
    plain = middle_h(sheet, one_coat(T0, 100), steady(21, 50))
    assert with_it[0] == plain[0]
    assert (with_it[5] - with_it[4]) / (plain[5] - plain[4]) == pytest.approx(0.5)


def test_bare_wood_widens_the_range_and_leaves_its_middle() -> None:
    run = course(SHEET, steady(21, 50), T0)
    ranges = []
    for bare in (False, True):
        told = clock(SHEET, one_coat(T0, 100, bare_wood=bare), run, spread(1.0, 0.2))
        stage = told.stages["sandable"]
        assert stage.p10_us is not None
        assert stage.p90_us is not None
        assert stage.p50_us == T0 + 3 * HOUR_US
        ranges.append(math.log((stage.p90_us - T0) / (stage.p10_us - T0)) / 2 / 1.2815515655446)
    assert ranges == pytest.approx([0.2, math.hypot(0.2, 0.15)], rel=1e-6)


def test_saturated_air_never_dries_a_film_and_the_clock_says_so() -> None:
    told = clock(SHEET, one_coat(T0, 100), course(SHEET, steady(21, 100), T0), spread())
    assert all(stage.p50_us is None for stage in told.stages.values())
    assert told.recoat.likely_from_us is None


@pytest.mark.parametrize(
    ("temperatures", "void_h"),
    [
        ([21.0, 21.0, 21.0, 21.0], None),  # wet bulb 14.6 C
        ([21.0, 21.0, 21.0, 5.0], None),  # cold only after it was dry
        ([21.0, 21.0, 12.0, 21.0], 0.4),  # cold while its particles close up
        ([8.0, 21.0, 21.0, 21.0], None),  # cold while still a liquid, warmed in time
        ([12.0, 12.0, 12.0, 12.0], "half"),  # cold all along: from half of its water on
    ],
)
def test_a_film_that_dries_below_its_limit_is_void_from_then(
    temperatures: list[float], void_h: float | str | None
) -> None:
    """Touch-dry after half an hour at 21 C; limit 10 C, wet bulb of 12 C at 50 % is 7.3 C."""
    times = [T0, T0 + HOUR_US // 10, T0 + 4 * HOUR_US // 10, T0 + 6 * HOUR_US // 10]
    run = course(SHEET, climate(times, temperatures, [50.0] * 4), T0 + HOUR_US)
    told = clock(SHEET, one_coat(T0, 100), run, SURE)
    if void_h is None:
        assert told.void_from_us is None
        return
    touch_us = told.stages["touch_dry"].p50_us
    assert touch_us is not None
    expected = touch_us - T0 if void_h == "half" else float(void_h) * 2 * HOUR_US
    assert told.void_from_us == pytest.approx(T0 + expected / 2, abs=2)


def test_kinds_without_a_limit_are_never_void() -> None:
    cold = steady(8, 50)
    for sheet in (replace(SHEET, mfft_c=None), replace(SHEET, kind="lacquer")):
        assert clock(sheet, one_coat(T0, 100), course(sheet, cold, T0), SURE).void_from_us is None
    assert clock(SHEET, one_coat(T0, 100), course(SHEET, cold, T0), SURE).void_from_us is not None


def test_the_recoat_window_opens_when_sandable_and_closes_by_the_sheet() -> None:
    run = course(SHEET, steady(21, 50), T0)
    window = clock(SHEET, one_coat(T0, 100), run, spread(1.0, 0.2)).recoat
    assert window.likely_from_us == T0 + 3 * HOUR_US
    assert window.surely_from_us is not None
    assert window.surely_from_us > window.likely_from_us
    assert window.unabraded_until_us == T0 + 72 * HOUR_US


def test_warmth_closes_the_window_sooner_and_cold_does_not_hold_it_open() -> None:
    for air_c, closes_h in ((31.0, 72.0 / 2.2388), (11.0, 72.0)):
        run = course(SHEET, steady(air_c, 50), T0)
        until_us = drying_clock.unabraded_until_us(SHEET, one_coat(T0, 100), run)
        assert until_us is not None
        assert (until_us - T0) / HOUR_US == pytest.approx(closes_h, rel=1e-3)
    lacquer = replace(SHEET, kind="lacquer", burns_in=True)
    run = course(lacquer, steady(21, 50), T0)
    assert drying_clock.unabraded_until_us(lacquer, one_coat(T0, 100), run) is None
    linked = replace(SHEET, crosslinked_recoat_window_h=12.0)
    coat = one_coat(T0, 100, crosslinked=True)
    closes = drying_clock.unabraded_until_us(linked, coat, course(SHEET, steady(21, 50), T0))
    assert closes == T0 + 12 * HOUR_US


def test_the_clock_names_the_gaps_it_rests_on_and_the_stages_it_assumes() -> None:
    sheet = replace(SHEET, stage_hours={"sandable": 3})
    times = [T0 + hour * HOUR_US for hour in (0, 1, 6)]
    run = course(sheet, climate(times, [21.0] * 3, [50.0] * 3), T0 + 7 * HOUR_US)
    told = clock(sheet, one_coat(T0 + HOUR_US // 2, 100), run, spread())
    assert told.gaps == ((times[1], times[2]),)
    assert [stage for stage in STAGES if not told.stages[stage].assumed] == ["sandable"]


def test_ten_thousand_coats_over_a_year_equal_the_plain_walk() -> None:
    """All six stages at 10, 50 and 90 %. How much quicker it is, `scripts/measure trade` tells."""
    sheet, factor = replace(SHEET, crosslinked_cure_factor=0.6), spread()
    rooms, coats = a_years_readings(), ten_thousand_coats()
    sample = range(0, 10_000, 250)
    plain = np.array(walked(sheet, coats, rooms, factor, sample))
    run = course(sheet, rooms, int(rooms.times_us[-1]))
    ready = ready_times_us(sheet, coats, run, factor)[sample]
    ours = (ready - coats.applied_us[sample, None, None]) / HOUR_US
    # Answers are whole microseconds: half of one in the shortest clock is the floor.
    assert float(np.max(np.abs(ours / plain - 1.0))) < 1e-9


@pytest.mark.parametrize(
    ("coat", "quantity"),
    [
        (one_coat(T0, 0.0), "wet film (um)"),
        (one_coat(T0, 100, below_um=-1.0), "wet film below (um)"),
        (one_coat(T0, 100, extender_pct=60.0), "extender (%)"),
    ],
)
def test_a_coat_outside_the_model_is_refused_by_name(coat: Coats, quantity: str) -> None:
    with pytest.raises(OutOfRange) as caught:
        ready_times_us(SHEET, coat, course(SHEET, steady(21, 50), T0), SURE)
    assert caught.value.quantity == quantity


def test_a_twisted_range_is_refused() -> None:
    run, coat = course(SHEET, steady(21, 50), T0), one_coat(T0, 100)
    with pytest.raises(OutOfRange, match="90 % factor"):
        ready_times_us(SHEET, coat, run, Spread(0.5, 1.0, 0.9))
    assert NEVER_US > T0
