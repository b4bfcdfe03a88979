"""The trial setting of a gun: volume is conserved, stripes follow the fan, limits are named."""

from collections.abc import Callable

import msgspec
import pytest
from coatledger import units
from coatledger.computations import gun, practice
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

TRIAL = gun.Trial(
    fan_width_mm=200,
    distance_mm=180,
    overlap_pct=50,
    passes=2,
    speed_mm_s=400,
    flow_l_min=0.2,
    efficiency_pct=65,
)
change = msgspec.structs.replace


def test_a_pass_lays_what_the_gun_gave_over_what_it_swept() -> None:
    """By hand: 0.2 L in a minute, 65 % stays, over 0.4 m/s x 60 s x 0.1 m = 2.4 m²: 54.2 µm."""
    laid = gun.lay(TRIAL)
    assert laid.step_mm == 100
    assert laid.per_pass_um == pytest.approx(200 * 0.65 / 2.4)
    assert laid.wet_film_um == pytest.approx(2 * 200 * 0.65 / 2.4)
    assert laid.notes == ()


# (overlap %, sharpness, ripple %) worked out on paper: a flat fan lies once or twice (40 %), always
# twice (50 %), twice or thrice (60 %); a parabola at 50 % runs from 1 to 1.5 about a mean of 4/3.
ON_PAPER = ((40, 1, 60.0), (50, 1, 0.0), (60, 1, 40.0), (50, 2, 37.5), (0, 2, 150.0))


@pytest.mark.parametrize(("overlap", "sharpness", "expected"), ON_PAPER)
def test_the_ripple_of_a_simple_fan_is_the_one_on_paper(
    overlap: float, sharpness: float, expected: float
) -> None:
    """The grid misses a peak or valley by less than 0.1 of a point."""
    assert gun.ripple(overlap, sharpness).ripple_pct == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("overlap", [40, 50, 60])
@pytest.mark.parametrize("sharpness", [1.5, 2, 3])
def test_the_ripple_is_what_adding_strokes_one_by_one_gives(
    overlap: float, sharpness: float
) -> None:
    """An independent sum over places and strokes, on another grid."""
    step = 2 * (1 - overlap / 100)
    places = [number * step / 5000 for number in range(5000)]
    films = [
        sum(
            (1 - (place - stroke * step) ** 2) ** (sharpness - 1)
            for stroke in range(-12, 13)
            if abs(place - stroke * step) < 1
        )
        for place in places
    ]
    mean = sum(films) / len(films)
    ours = gun.ripple(overlap, sharpness)
    assert ours.thinnest == pytest.approx(min(films) / mean, abs=0.002)
    assert ours.thickest == pytest.approx(max(films) / mean, abs=0.002)


def test_between_forty_and_sixty_per_cent_a_rounded_fan_evens_out() -> None:
    """Why the trade overlaps by half and a little more (common practice)."""
    for sharpness in (2, 2.5, 3):
        ripples = [gun.ripple(overlap, sharpness).ripple_pct for overlap in (30, 40, 50, 60)]
        assert ripples[3] < ripples[0]
        assert ripples[3] == min(ripples)


@given(overlap=st.floats(0, 90), sharpness=st.floats(1, 8))
def test_no_overlap_loses_or_makes_finish(overlap: float, sharpness: float) -> None:
    even = gun.ripple(overlap, sharpness)
    assert even.thinnest <= 1 + 1e-9
    assert even.thickest >= 1 - 1e-9
    assert even.ripple_pct == pytest.approx((even.thickest - even.thinnest) * 100)


@given(faster=st.floats(1.01, 3), fuller=st.floats(1.01, 3), efficiency=st.floats(20, 95))
def test_a_faster_hand_lays_less_and_a_fuller_gun_more(
    faster: float, fuller: float, efficiency: float
) -> None:
    base = gun.lay(change(TRIAL, efficiency_pct=efficiency)).wet_film_um
    quick = change(TRIAL, efficiency_pct=efficiency, speed_mm_s=400 * faster)
    full = change(TRIAL, efficiency_pct=efficiency, flow_l_min=0.2 * fuller)
    assert gun.lay(quick).wet_film_um == pytest.approx(base / faster)
    assert gun.lay(full).wet_film_um == pytest.approx(base * fuller)
    assert gun.efficiency_seen_pct(base, TRIAL) == pytest.approx(efficiency)


def test_a_reading_no_flow_can_explain_is_refused() -> None:
    with pytest.raises(OutOfRange, match="reading, flow and speed that agree"):
        gun.efficiency_seen_pct(500, TRIAL)


def test_passes_are_whole_and_split_where_the_sheet_limits_a_coat() -> None:
    assert gun.passes_for(100, 30) == gun.Passes(4, 120, 1)
    assert gun.passes_for(90, 30) == gun.Passes(3, 90, 1)
    assert gun.passes_for(250, 50, 120) == gun.Passes(5, 250, 3)
    with pytest.raises(OutOfRange, match="data sheet's most"):
        gun.passes_for(250, 130, 120)


@given(target=st.floats(1, 500), one=st.floats(1, 200))
def test_the_passes_reach_the_film_and_one_fewer_would_not(target: float, one: float) -> None:
    found = gun.passes_for(target, one)
    assert found.wet_film_um >= target * (1 - 1e-8)
    assert (found.passes - 1) * one < target


def test_without_overrun_the_litres_are_the_film_over_what_stays() -> None:
    """Volume again: area x film = litres x transfer efficiency."""
    asked = gun.batch(TRIAL, area_m2=3, stroke_mm=600, overrun_mm=0)
    assert asked.litres * 0.65 == pytest.approx(3 * gun.lay(TRIAL).wet_film_um / 1000)
    assert asked.minutes == pytest.approx(2 * asked.trigger_min)
    overrun = gun.batch(TRIAL, area_m2=3, stroke_mm=600, overrun_mm=100)
    assert overrun.litres == pytest.approx(asked.litres * 7 / 6)


def test_an_hvlp_gun_above_ten_pounds_at_the_cap_is_told() -> None:
    """40 CFR 63.801: 10 psi is 68.9 kPa; 29 CFR 1910.242(b): 30 psi is 206.8 kPa."""
    assert gun.PRESSURE_LIMITS["hvlp_cap"].high_kpa == pytest.approx(68.948, abs=0.001)
    assert gun.pressure_notes("hvlp", units.kpa_from_psi(10)) == ()
    (note,) = gun.pressure_notes("hvlp", units.kpa_from_psi(10.1))
    assert "40 CFR 63.801" in note
    assert gun.pressure_notes("conventional", 300) == ()
    assert gun.PRESSURE_LIMITS["blow_off"].high_kpa == pytest.approx(206.8, abs=0.05)
    (own,) = gun.pressure_notes("conventional", 300, 250)
    assert "own limit of 250 kPa" in own


def test_a_setting_outside_the_trades_habit_is_noted_and_not_refused() -> None:
    odd = gun.lay(change(TRIAL, fan_width_mm=300, distance_mm=300, overlap_pct=30))
    assert [note.split()[0] for note in odd.notes] == ["Fan", "Distance", "Overlap"]
    assert all(practice.PRACTICE in note for note in odd.notes)


@pytest.mark.parametrize(
    ("call", "quantity"),
    [
        (lambda: gun.lay(change(TRIAL, overlap_pct=95)), "overlap_pct"),
        (lambda: gun.lay(change(TRIAL, passes=0)), "passes"),
        (lambda: gun.lay(change(TRIAL, speed_mm_s=0)), "speed_mm_s"),
        (lambda: gun.lay(change(TRIAL, sharpness=0.5)), "sharpness"),
        (lambda: gun.batch(TRIAL, 1, 0), "stroke_mm"),
        (lambda: gun.pressure_notes("hvlp", -1), "cap_kpa"),
    ],
)
def test_an_impossible_setting_names_what_is_out_of_range(
    call: Callable[[], object], quantity: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        call()
    assert refused.value.quantity == quantity
