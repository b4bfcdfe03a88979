"""Flow: Little's law to the last digit over any window, percentiles, curves, the bottleneck."""

from collections.abc import Callable

import pytest
import scipy.stats
from coatledger.computations import flow
from coatledger.computations.flow import Stay
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

STAYS = st.lists(
    st.builds(
        lambda entered, hours: Stay(entered, None if hours is None else entered + hours),
        st.integers(-100, 300),
        st.none() | st.integers(0, 200),
    ),
    max_size=40,
)


def tally(stays: list[Stay]) -> list[tuple[float, int]]:
    steps = [(stay.entered_h, 1) for stay in stays]
    return steps + [(stay.left_h, -1) for stay in stays if stay.left_h is not None]


@given(STAYS, st.integers(-50, 150), st.integers(1, 200))
def test_littles_law_is_exact_over_any_window_once_edges_are_counted(
    stays: list[Stay], start: int, hours: int
) -> None:
    checked = flow.little_check(tally(stays), stays, start, start + hours)
    assert checked.residual == pytest.approx(0.0, abs=1e-9)
    assert checked.work_in_process == pytest.approx(checked.rate_per_h * checked.time_in_h)
    assert 0.0 <= checked.edge_share <= 1.0


def test_a_piece_that_left_without_a_fact_shows_in_the_residual() -> None:
    stays = [Stay(0.0, 10.0), Stay(5.0, 15.0)]
    forgotten = tally(stays)[:-1]
    checked = flow.little_check(forgotten, stays, 0.0, 25.0)
    assert checked.residual == pytest.approx(10.0 / 25.0)


def test_the_wafers_of_the_textbook_stay_forty_five_days() -> None:
    """Little and Graves 2008 (from memory): 1,000 a day with 45,000 in work stay 45 days; here a
    thousandth of them, one a day, over a long window."""
    stays = [Stay(24.0 * day, 24.0 * (day + 45)) for day in range(-100, 1_000)]
    checked = flow.little_check(tally(stays), stays, 0.0, 24.0 * 900)
    assert checked.work_in_process == pytest.approx(45.0)
    assert checked.edge_share == pytest.approx(2 * 45 * 22.5 / (45 * 900), rel=0.03)


def test_work_in_process_counts_pieces_already_there() -> None:
    assert flow.time_average([(-5.0, 2), (2.0, 1), (2.0, -1), (5.0, -1)], 0.0, 10.0) == 1.5


@given(st.lists(st.floats(0, 500), min_size=1, max_size=40), st.floats(0, 100))
def test_percentiles_are_the_median_unbiased_ones(hours: list[float], percent: float) -> None:
    (ours,) = flow.lead_time_percentiles(hours, [percent])
    oracle = scipy.stats.mstats.mquantiles(hours, [percent / 100], alphap=1 / 3, betap=1 / 3)
    assert ours == pytest.approx(float(oracle[0]), abs=1e-9)


def test_the_median_of_lead_times_is_their_middle() -> None:
    assert flow.lead_time_percentiles([30.0, 10.0, 20.0], [50, 0, 100]) == (20.0, 10.0, 30.0)


def test_cumulative_flow_counts_each_stage_up() -> None:
    curves = flow.cumulative_flow({"started": [3.0, 1.0, 8.0], "shipped": [9.0]}, [0, 1, 5, 9])
    assert curves == {"started": (0, 1, 2, 3), "shipped": (0, 0, 0, 1)}


def test_the_bottleneck_is_the_busiest_and_stands_first() -> None:
    found = flow.loads({"hands": 60.0, "gun": 12.0, "rack": 160.0}, {"hands": 75.0, "gun": 75.0,
                       "rack": 168.0})  # fmt: skip
    assert [(load.resource, round(load.share, 3)) for load in found] == [
        ("rack", 0.952),
        ("hands", 0.8),
        ("gun", 0.16),
    ]


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: Stay(5.0, 4.0), "left_h"),
        (lambda: flow.time_average([], 5.0, 5.0), "end_h"),
        (lambda: flow.time_average([(1.0, -1)], 0.0, 5.0), "level"),
        (lambda: flow.time_average([(1.0, -1), (2.0, 1)], 0.0, 5.0), "level"),
        (lambda: flow.lead_time_percentiles([], [50]), "lead times"),
        (lambda: flow.lead_time_percentiles([-1.0], [50]), "lead_time_h"),
        (lambda: flow.lead_time_percentiles([1.0], [101]), "percent"),
        (lambda: flow.cumulative_flow({"x": [float("nan")]}, [1.0]), "hour of x"),
        (lambda: flow.loads({"gun": 1.0}, {}), "open_h of gun"),
        (lambda: flow.loads({"gun": -1.0}, {"gun": 1.0}), "work_h of gun"),
    ],
)
def test_flows_that_cannot_be_are_refused(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
