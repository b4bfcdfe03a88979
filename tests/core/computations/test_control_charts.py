"""Charts against published data and limits, to the digits printed."""

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from coatledger.computations import control_charts as charts
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
PUBLISHED = {
    chart["id"]: chart
    for chart in json.loads((GOLDEN / "control_charts.json").read_text("utf-8"))["charts"]
}
# The programs that made the limits print nine or ten digits.
PRINTED = 1e-9


def beyond(chart: charts.Chart) -> list[int]:
    return [number for number, point in enumerate(chart.points, start=1) if point.beyond]


def test_the_p_chart_of_the_juice_cans_is_the_printed_one() -> None:
    published = PUBLISHED["p-30x50"]
    chart = charts.p_chart(published["x"], [published["n"]] * 30)
    assert chart.center == pytest.approx(published["center"], abs=PRINTED)
    assert chart.points[0].low == pytest.approx(published["lcl"], abs=PRINTED)
    assert chart.points[0].high == pytest.approx(published["ucl"], abs=PRINTED)
    assert beyond(chart) == published["beyond_limits_1based"]
    # NIST/SEMATECH e-Handbook 6.3.3.2 prints four decimals.
    assert chart.center == pytest.approx(0.2313, abs=5e-5)
    counted = PUBLISHED["np-30x50"]
    assert chart.points[0].low * 50 == pytest.approx(counted["lcl"], abs=PRINTED)
    assert chart.points[0].high * 50 == pytest.approx(counted["ucl"], abs=PRINTED)


def test_the_c_chart_of_the_circuit_boards_is_the_printed_one() -> None:
    published = PUBLISHED["c-circuit-trial"]
    chart = charts.c_chart(published["x"])
    assert chart.center == pytest.approx(published["center"], abs=PRINTED)
    assert chart.points[0].low == pytest.approx(published["lcl"], abs=PRINTED)
    assert chart.points[0].high == pytest.approx(published["ucl"], abs=PRINTED)
    assert beyond(chart) == published["beyond_limits_1based"]


def test_the_u_chart_of_the_dyed_cloth_is_the_printed_one() -> None:
    published = PUBLISHED["u-dyedcloth"]
    chart = charts.u_chart(published["x"], published["n"])
    limits = [(point.low, point.high) for point in chart.points]
    assert np.array(limits) == pytest.approx(np.array(published["limits"]), abs=PRINTED)
    assert beyond(chart) == published["beyond_limits_1based"]


def test_the_laney_chart_of_the_dyed_cloth_is_the_printed_one() -> None:
    published = PUBLISHED["uprime-dyedcloth"]
    chart = charts.laney_u_chart(PUBLISHED["u-dyedcloth"]["x"], PUBLISHED["u-dyedcloth"]["n"])
    limits = [(point.low, point.high) for point in chart.points]
    assert chart.sigma_z == pytest.approx(published["sigma_z"], abs=5e-8)
    assert np.array(limits) == pytest.approx(np.array(published["limits"]), abs=5e-9)


def test_the_laney_chart_of_the_hospital_weeks_is_the_printed_one() -> None:
    published = PUBLISHED["pprime-nhs"]
    chart = charts.laney_p_chart(published["x"], published["n"])
    first = chart.points[0]
    assert chart.center == pytest.approx(published["center"], abs=1e-10)
    assert chart.sigma_z == pytest.approx(published["sigma_z"], abs=5e-6)
    assert [first.low, first.high] == pytest.approx(published["first_limits"], abs=PRINTED)
    plain = charts.p_chart(published["x"], published["n"]).points[0]
    assert [plain.low, plain.high] == pytest.approx(published["ordinary_p_first_limits"], abs=1e-9)


def test_the_dispersion_of_the_published_counts_is_chance() -> None:
    published = PUBLISHED["overdispersion-binomial"]
    tested = charts.binomial_dispersion(published["x"], [published["n"]] * 30)
    assert tested.degrees == published["df"]
    assert tested.statistic == pytest.approx(published["statistic"], abs=PRINTED)
    assert tested.ratio == pytest.approx(published["ratio"], abs=PRINTED)
    assert tested.p == pytest.approx(published["p"], abs=5e-6)


def test_the_hospital_weeks_spread_far_more_than_chance() -> None:
    published = PUBLISHED["pprime-nhs"]
    assert charts.binomial_dispersion(published["x"], published["n"]).p < 1e-12
    cloth = PUBLISHED["u-dyedcloth"]
    assert charts.poisson_dispersion(cloth["x"], cloth["n"]).p > 0.05


def test_an_individuals_chart_stands_on_the_moving_range() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2: flow rates 49.6, 47.6, ... ; here by hand."""
    chart = charts.individuals_chart([4.0, 6.0, 5.0])
    assert chart.center == 5.0
    assert chart.points[0].high == pytest.approx(5.0 + 3 * 1.5 / 1.128)


def test_a_g_chart_has_the_spread_of_a_geometric_count() -> None:
    chart = charts.g_chart([10, 20, 30])
    sigma = scipy.stats.geom(1 / 21, loc=-1).std()
    assert chart.points[0].high == pytest.approx(20 + 3 * sigma)
    assert chart.points[0].low == 0.0
    assert beyond(charts.g_chart([1] * 30 + [40])) == [31]


@given(st.integers(0, 10_000))
def test_a_t_chart_seldom_alarms_on_exponential_times(seed: int) -> None:
    times = np.random.default_rng(seed).exponential(10.0, 200).tolist()
    chart = charts.t_chart(times)
    assert len(beyond(chart)) <= 5
    assert 201 in beyond(charts.t_chart([*times, 300.0]))


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(40, 90)), min_size=1, max_size=20))
def test_limits_stand_around_the_centre_and_inside_what_a_share_can_be(
    groups: list[tuple[int, int]],
) -> None:
    chart = charts.p_chart([bad for bad, _ in groups], [size for _, size in groups])
    for point in chart.points:
        assert 0.0 <= point.low <= chart.center <= point.high <= 1.0
    biggest = max(range(len(groups)), key=lambda i: groups[i][1])
    widths = [point.high - point.low for point in chart.points]
    assert widths[biggest] == pytest.approx(min(widths))


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: charts.p_chart([5], [4]), "defective"),
        (lambda: charts.p_chart([1, 2], [4]), "sizes"),
        (lambda: charts.p_chart([], []), "defective"),
        (lambda: charts.u_chart([1], [0.0]), "units"),
        (lambda: charts.u_chart([1, 2], [1.0]), "sizes"),
        (lambda: charts.laney_p_chart([0, 0], [4, 4]), "sigma"),
        (lambda: charts.laney_u_chart([1], [1.0]), "groups"),
        (lambda: charts.binomial_dispersion([1], [5]), "groups"),
        (lambda: charts.g_chart([-1, 3]), "gap"),
        (lambda: charts.t_chart([0.0, 3.0]), "time"),
        (lambda: charts.individuals_chart([1.0, math.nan]), "value"),
    ],
)
def test_counts_that_cannot_be_are_refused(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
