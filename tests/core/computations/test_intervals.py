"""Intervals against the handbook's example and library limits; coverage counted exactly."""

import csv
import math
from pathlib import Path

import pytest
import scipy.stats
from coatledger.computations import intervals
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
# The table prints nine decimals.
PRINTED = 6e-10


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("binomial_intervals.csv"), ids=lambda r: f"{r['x']}/{r['n']}")
def test_limits_of_a_share_are_the_printed_ones(row: dict[str, str]) -> None:
    counts = int(row["x"]), int(row["n"]), float(row["conf"])
    wilson, exact = intervals.wilson(*counts), intervals.exact(*counts)
    assert wilson.low == pytest.approx(float(row["wilson_lo"]), abs=PRINTED)
    assert wilson.high == pytest.approx(float(row["wilson_hi"]), abs=PRINTED)
    assert exact.low == pytest.approx(float(row["clopper_pearson_lo"]), abs=PRINTED)
    assert exact.high == pytest.approx(float(row["clopper_pearson_hi"]), abs=PRINTED)


def test_the_handbook_example_holds_to_its_six_decimals() -> None:
    """NIST/SEMATECH e-Handbook 7.2.4.2: 4 of 20 at 90 %, 0.071354 to 0.401029."""
    limits = intervals.exact(4, 20, 0.90)
    assert limits.low == pytest.approx(0.071354, abs=1e-6)
    assert limits.high == pytest.approx(0.401029, abs=1e-6)


@given(st.integers(1, 400), st.data())
def test_an_interval_holds_its_share_and_mirrors_its_complement(
    trials: int, data: st.DataObject
) -> None:
    successes = data.draw(st.integers(0, trials))
    for interval in (intervals.wilson, intervals.exact):
        limits = interval(successes, trials)
        assert 0.0 <= limits.low <= successes / trials <= limits.high <= 1.0
        mirrored = interval(trials - successes, trials)
        assert limits.low == pytest.approx(1.0 - mirrored.high, abs=1e-12)


@given(st.integers(1, 200), st.data())
def test_more_confidence_is_never_narrower(trials: int, data: st.DataObject) -> None:
    successes = data.draw(st.integers(0, trials))
    for interval in (intervals.wilson, intervals.exact):
        narrow, wide = (interval(successes, trials, level) for level in (0.8, 0.99))
        assert wide.low <= narrow.low <= narrow.high <= wide.high


@pytest.mark.parametrize("chance", [0.02, 0.1, 0.37, 0.5, 0.93])
def test_the_exact_interval_never_covers_less_than_it_says(chance: float) -> None:
    trials = 30
    covered = 0.0
    for successes in range(trials + 1):
        limits = intervals.exact(successes, trials, 0.9)
        if limits.low <= chance <= limits.high:
            covered += scipy.stats.binom.pmf(successes, trials, chance)
    assert covered >= 0.9


@given(st.integers(0, 500), st.floats(0.1, 1_000))
def test_a_rate_has_the_limits_of_the_chi_square(events: int, exposure: float) -> None:
    limits = intervals.exact_rate(events, exposure)
    low = scipy.stats.chi2.ppf(0.025, 2 * events) / 2 if events else 0.0
    high = scipy.stats.chi2.ppf(0.975, 2 * events + 2) / 2
    assert limits.low == pytest.approx(low / exposure, rel=1e-9)
    assert limits.high == pytest.approx(high / exposure, rel=1e-9)


@given(st.integers(1, 500), st.floats(0.1, 1_000))
def test_the_score_limits_of_a_rate_stand_where_the_test_would_reject(
    events: int, exposure: float
) -> None:
    limits = intervals.score_rate(events, exposure)
    for rate, side in ((limits.low, 1.0), (limits.high, -1.0)):
        mean = rate * exposure
        assert side * (events - mean) / math.sqrt(mean) == pytest.approx(1.959964, abs=1e-5)


def test_no_events_have_a_rate_from_nothing_to_the_rule_of_three() -> None:
    """The one-sided 95 % limit of no events in n is about 3 / n; exactly 2.9957."""
    assert intervals.exact_rate(0, 10, 0.9).high == pytest.approx(0.29957, abs=1e-5)
    assert intervals.exact_rate(0, 10).low == intervals.score_rate(0, 10).low == 0.0


@pytest.mark.parametrize(
    ("successes", "trials", "confidence", "named"),
    [(1, 0, 0.95, "trials"), (5, 4, 0.95, "successes"), (-1, 4, 0.95, "successes"),
     (1, 4, 1.0, "confidence"), (1, 4, math.nan, "confidence")],
)  # fmt: skip
def test_impossible_counts_are_refused_by_name(
    successes: int, trials: int, confidence: float, named: str
) -> None:
    for interval in (intervals.wilson, intervals.exact):
        with pytest.raises(OutOfRange, match=named):
            interval(successes, trials, confidence)


def test_a_rate_without_exposure_is_refused() -> None:
    for interval in (intervals.exact_rate, intervals.score_rate):
        with pytest.raises(OutOfRange, match="exposure"):
            interval(3, 0.0)
