"""Scores against published and library values, and against the integral they stand for."""

import csv
import itertools
import json
import math
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
import pytest
import scipy.stats
from coatledger.computations import scoring
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
# The tables print eight to ten decimals.
PRINTED = 1e-9


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def mean_pinball(y: list[float], q: list[float], alpha: float) -> float:
    pairs = zip(y, q, strict=True)
    return sum(scoring.pinball(observed, forecast, alpha) for observed, forecast in pairs) / len(y)


def weighted(
    y: float, median: float, lower: list[float], upper: list[float], alpha: list[float]
) -> float:
    intervals = list(zip(lower, upper, alpha, strict=True))
    return scoring.weighted_interval_score(y, median, intervals)


SCORES: Mapping[str, Callable[..., float]] = {
    "crps_normal": lambda y, mu, sigma: scoring.crps_normal(y, mu, sigma),
    "crps_lognormal": lambda y, mulog, sigmalog: scoring.crps_lognormal(y, mulog, sigmalog),
    "crps_ensemble_fair": lambda y, members: scoring.crps_ensemble(y, members, fair=True),
    "crps_ensemble": lambda y, members: scoring.crps_ensemble(y, members),
    "mean_pinball": mean_pinball,
    "pinball": lambda y, q, alpha: scoring.pinball(y, q, alpha),
    "interval_score": lambda y, lower, upper, alpha: scoring.interval_score(y, lower, upper, alpha),
    "weighted_interval_score": weighted,
    "brier": lambda p, y: scoring.brier(p, bool(y)),
    "log_score_normal": lambda y, mu, sigma: scoring.log_score_normal(y, mu, sigma),
}
# The gamma forecast has no user in the shop and no formula here.
SCORE_ROWS = [row for row in rows("scores.csv") if row["score"] != "crps_gamma"]


@pytest.mark.parametrize("row", SCORE_ROWS, ids=lambda r: f"{r['score']} {r['inputs_json']}")
def test_scores_are_the_printed_ones(row: dict[str, str]) -> None:
    score = SCORES[row["score"].split(" ")[0]]
    assert score(**json.loads(row["inputs_json"])) == pytest.approx(
        float(row["value"]), abs=PRINTED
    )


@pytest.mark.parametrize("row", rows("conformal.csv"), ids=lambda r: r["n_calibration"])
def test_conformal_ranks_and_coverage_are_the_printed_ones(row: dict[str, str]) -> None:
    count, alpha = int(row["n_calibration"]), float(row["alpha"])
    rank = scoring.conformal_rank(count, alpha)
    if row["rank_k"].startswith("infinite"):
        assert rank is None
        assert scoring.conformal_quantile([1.0] * count, alpha) == math.inf
        assert scoring.conformal_coverage(count, alpha, 0.5) == 1.0
        return
    assert rank == int(row["rank_k"])
    scores = [float(score) for score in range(count, 0, -1)]
    assert scoring.conformal_quantile(scores, alpha) == rank
    for chance, column in ((0.05, "coverage_q05"), (0.95, "coverage_q95")):
        coverage = scoring.conformal_coverage(count, alpha, chance)
        assert coverage == pytest.approx(float(row[column]), abs=1e-6)


@pytest.mark.parametrize("row", rows("coverage_test.csv"), ids=lambda r: f"{r['covered']}/{r['n']}")
def test_coverage_is_tested_as_printed(row: dict[str, str]) -> None:
    tested = scoring.coverage_test(int(row["covered"]), int(row["n"]), float(row["nominal"]))
    assert tested.two_sided_p == pytest.approx(float(row["two_sided_p"]), abs=6e-9)
    assert tested.too_few_p == pytest.approx(float(row["one_sided_under_p"]), abs=6e-9)
    assert tested.share == int(row["covered"]) / int(row["n"])


@given(st.integers(1, 300), st.floats(0.01, 0.99), st.data())
def test_coverage_is_tested_as_scipy_does(
    promises: int, nominal: float, data: st.DataObject
) -> None:
    covered = data.draw(st.integers(0, promises))
    tested = scoring.coverage_test(covered, promises, nominal)
    oracle = scipy.stats.binomtest(covered, promises, nominal).pvalue
    assert tested.two_sided_p == pytest.approx(oracle, rel=1e-6)


@given(
    st.floats(-50, 50),
    st.lists(st.floats(-50, 50), min_size=1, max_size=30),
)
def test_the_ensemble_score_is_the_integral_of_squared_error(
    observed: float, members: list[float]
) -> None:
    """CRPS = integral of (F(x) - 1{x >= y})^2, summed over the steps of the empirical F."""
    steps = sorted([*members, observed])
    total = 0.0
    for low, high in itertools.pairwise(steps):
        share = sum(member <= low for member in members) / len(members)
        total += (share - (low >= observed)) ** 2 * (high - low)
    assert scoring.crps_ensemble(observed, members) == pytest.approx(total, abs=1e-9)


@given(st.floats(0.1, 30), st.floats(-1, 2), st.floats(0.1, 1.2))
def test_many_intervals_weigh_up_to_the_continuous_score(
    observed: float, log_mean: float, log_sd: float
) -> None:
    """Bracher et al. 2021: with 2K + 1 even quantiles twice the mean pinball loss is the score."""
    levels = [(index + 0.5) / 400 for index in range(400)]
    normal = scipy.stats.norm.ppf(levels)
    quantiles = np.exp(log_mean + log_sd * normal)
    approached = 2 * np.mean(
        [scoring.pinball(observed, q, level) for q, level in zip(quantiles, levels, strict=True)]
    )
    score = scoring.crps_lognormal(observed, log_mean, log_sd)
    assert score == pytest.approx(approached, rel=0.01, abs=0.01)
    pairs = [(quantiles[i], quantiles[399 - i], 2 * levels[i]) for i in range(200)]
    weighted_score = scoring.weighted_interval_score(observed, math.exp(log_mean), pairs)
    assert weighted_score == pytest.approx(score, rel=0.02, abs=0.02)


@given(st.floats(0.05, 0.95), st.floats(0, 1))
def test_an_honest_chance_has_the_least_expected_penalty(truth: float, told: float) -> None:
    for score in (scoring.brier, scoring.log_score):
        honest, other = (
            truth * score(chance, True) + (1 - truth) * score(chance, False)
            for chance in (truth, told)
        )
        assert honest <= other + 1e-12


@given(st.integers(1, 60), st.sampled_from([0.05, 0.1, 0.2, 0.5]))
def test_a_conformal_bound_covers_the_next_score_as_often_as_it_says(
    count: int, alpha: float
) -> None:
    """Of n + 1 exchangeable scores the last is within the k-th with chance k / (n + 1)."""
    rank = scoring.conformal_rank(count, alpha)
    covered = 1.0 if rank is None else rank / (count + 1)
    assert 1 - alpha - 1e-12 <= covered
    if rank is not None:
        assert covered <= 1 - alpha + 1 / (count + 1) + 1e-12


def test_a_chance_of_none_given_to_what_came_is_infinitely_wrong() -> None:
    assert scoring.log_score(0.0, True) == math.inf
    assert scoring.log_score(0.0, False) == 0.0


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: scoring.pinball(1, 1, 1.0), "level"),
        (lambda: scoring.pinball(math.nan, 1, 0.5), "observed"),
        (lambda: scoring.interval_score(1, 3, 2, 0.1), "low"),
        (lambda: scoring.crps_ensemble(1, []), "members"),
        (lambda: scoring.crps_ensemble(1, [1.0], fair=True), "members"),
        (lambda: scoring.crps_ensemble(1, [1.0, math.nan]), "members"),
        (lambda: scoring.crps_normal(1, 1, 0), "sd"),
        (lambda: scoring.crps_lognormal(0, 1, 1), "observed"),
        (lambda: scoring.brier(1.2, True), "chance"),
        (lambda: scoring.log_score(-0.1, True), "chance"),
        (lambda: scoring.conformal_rank(-1, 0.1), "count"),
        (lambda: scoring.conformal_quantile([math.inf], 0.1), "score"),
        (lambda: scoring.coverage_test(3, 2, 0.9), "covered"),
    ],
)
def test_impossible_input_is_refused_by_name(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
