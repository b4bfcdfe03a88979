"""How good a promise was, once the day has come: proper scores, coverage, conformal ranks.

Every score is a penalty: smaller is better, and nothing is gained by promising other than believed.
"""

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from coatledger.computations.ranges import require, require_all
from coatledger.computations.special import beta_quantile, log_choose, normal_cdf

_GNEITING = "Gneiting & Raftery 2007"
_VOVK = "Vovk 2012"
_ANY = 1e12
_LEVEL_LOW, _LEVEL_HIGH = 1e-9, 1.0 - 1e-9
# A sum such as 10 * 0.9 must not be lifted over the next whole number by its last bit.
_ROUNDING = 1e-9


class Coverage(Struct, frozen=True):
    """Whether promise windows held as often as they said."""

    share: float
    two_sided_p: float
    too_few_p: float


def pinball(observed: float, forecast: float, level: float) -> float:
    """Return the penalty of a forecast quantile.

    *Reference:* Koenker and Bassett, Econometrica 46 (1978); Gneiting and Raftery, JASA 102 (2007),
    section 6. *Valid:* 0 < level < 1.

    >>> round(pinball(10, 8, 0.9), 9)
    1.8
    """
    _require_values(observed=observed, forecast=forecast)
    require("level", level, _LEVEL_LOW, _LEVEL_HIGH, _GNEITING)
    short = observed - forecast
    return short * level if short >= 0.0 else -short * (1.0 - level)


def interval_score(observed: float, low: float, high: float, alpha: float) -> float:
    """Return the penalty of a central interval that should hold with chance 1 - alpha.

    *Reference:* Gneiting and Raftery, JASA 102 (2007), equation 43. *Valid:* low <= high.

    >>> interval_score(3.5, 4, 9, 0.1)
    15.0
    """
    _require_values(observed=observed, low=low, high=high)
    require("low", low, -_ANY, high, _GNEITING)
    require("alpha", alpha, _LEVEL_LOW, _LEVEL_HIGH, _GNEITING)
    outside = max(low - observed, 0.0) + max(observed - high, 0.0)
    return high - low + 2.0 / alpha * outside


def weighted_interval_score(
    observed: float, median: float, intervals: Sequence[tuple[float, float, float]]
) -> float:
    """Return the penalty of a median with central intervals, each (low, high, alpha).

    *Reference:* Bracher et al., PLOS Computational Biology 17 (2021), equations 2 and 3: weights
    1/2 for |y - median| and alpha/2 for each interval score, divided by K + 1/2. *Valid:* each
    interval with low <= high; approaches the CRPS as intervals are added.

    >>> weighted_interval_score(10, 7, [(4, 9, 0.2)])
    2.0
    """
    _require_values(observed=observed, median=median)
    total = 0.5 * abs(observed - median)
    for low, high, alpha in intervals:
        total += alpha / 2.0 * interval_score(observed, low, high, alpha)
    return total / (len(intervals) + 0.5)


def crps_ensemble(observed: float, members: Sequence[float], *, fair: bool = False) -> float:
    """Return the penalty of simulated outcomes, each as likely as the next.

    `fair` takes the members for a sample of what is meant and removes the bias of its size.
    *Reference:* Gneiting and Raftery, JASA 102 (2007), equation 21, E|X - y| - E|X - X'| / 2; fair:
    Ferro, QJRMS 140 (2014). *Valid:* one member or more; fair, two or more.

    >>> round(crps_ensemble(3, [1, 2, 3, 4, 5]), 9)
    0.4
    """
    count = len(members)
    require("number of members", count, 2 if fair else 1, 1e9, _GNEITING)
    require("observed", observed, -_ANY, _ANY, _GNEITING)
    ordered = np.sort(np.asarray(members, dtype=np.float64))
    require_all("members", ordered, -_ANY, _ANY, _GNEITING)
    ranks = 2.0 * np.arange(1, count + 1) - count - 1.0
    pairs = count * (count - 1 if fair else count)
    return float(np.mean(np.abs(ordered - observed)) - ranks @ ordered / pairs)


def crps_normal(observed: float, mean: float, sd: float) -> float:
    """Return the penalty of a normal forecast.

    *Reference:* Gneiting and Raftery, JASA 102 (2007), section 4.2. *Valid:* sd > 0.
    """
    _require_values(observed=observed, mean=mean)
    require("sd", sd, 1e-12, _ANY, _GNEITING)
    z = (observed - mean) / sd
    density = math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)
    return sd * (z * (2.0 * normal_cdf(z) - 1.0) + 2.0 * density - 1.0 / math.sqrt(math.pi))


def crps_lognormal(observed: float, log_mean: float, log_sd: float) -> float:
    """Return the penalty of a forecast whose logarithm is normal: most durations look like that.

    *Reference:* Baran and Lerch, QJRMS 141 (2015), appendix. *Valid:* observed > 0, log_sd > 0.
    """
    require("observed", observed, 1e-12, _ANY, "Baran & Lerch 2015")
    require("log_mean", log_mean, -100.0, 100.0, "Baran & Lerch 2015")
    require("log_sd", log_sd, 1e-9, 10.0, "Baran & Lerch 2015")
    z = (math.log(observed) - log_mean) / log_sd
    mean = math.exp(log_mean + log_sd * log_sd / 2.0)
    beyond = normal_cdf(z - log_sd) + normal_cdf(log_sd / math.sqrt(2.0)) - 1.0
    return observed * (2.0 * normal_cdf(z) - 1.0) - 2.0 * mean * beyond


def brier(chance: float, happened: bool) -> float:
    """Return the penalty of a chance given to a yes or no.

    *Reference:* Brier, Monthly Weather Review 78 (1950), one category. *Valid:* 0 to 1.
    """
    require("chance", chance, 0.0, 1.0, "Brier 1950")
    return (chance - happened) ** 2


def log_score(chance: float, happened: bool) -> float:
    """Return minus the logarithm of the chance given to what came; infinite where that was none.

    *Reference:* Good, JRSS B 14 (1952). *Valid:* 0 to 1.
    """
    require("chance", chance, 0.0, 1.0, "Good 1952")
    given = chance if happened else 1.0 - chance
    return -math.log(given) if given > 0.0 else math.inf


def log_score_normal(observed: float, mean: float, sd: float) -> float:
    """Return minus the logarithm of a normal forecast's density. *Reference:* Good 1952."""
    _require_values(observed=observed, mean=mean)
    require("sd", sd, 1e-12, _ANY, "Good 1952")
    z = (observed - mean) / sd
    return math.log(sd) + 0.5 * math.log(2.0 * math.pi) + z * z / 2.0


def conformal_rank(count: int, alpha: float) -> int | None:
    """Return which of `count` calibration scores, from the smallest, bounds the next one.

    None says that so few scores bound nothing at this level.
    *Reference:* Lei et al., JASA 113 (2018): k = ceil((n + 1)(1 - alpha)). *Valid:* scores
    exchangeable with the next one.
    """
    require("count", count, 0, 1e9, "Lei et al. 2018")
    require("alpha", alpha, _LEVEL_LOW, _LEVEL_HIGH, "Lei et al. 2018")
    rank = count + 1 - math.floor((count + 1) * alpha + _ROUNDING)
    return rank if rank <= count else None


def conformal_quantile(scores: Sequence[float], alpha: float) -> float:
    """Return the bound the next score keeps with chance 1 - alpha; infinite for too few scores.

    *Reference* and *Valid:* as `conformal_rank`.
    """
    for score in scores:
        require("score", score, -_ANY, _ANY, "Lei et al. 2018")
    rank = conformal_rank(len(scores), alpha)
    return math.inf if rank is None else sorted(scores)[rank - 1]


def conformal_coverage(count: int, alpha: float, chance: float) -> float:
    """Return the coverage that one calibration set stays below with this chance.

    *Reference:* Vovk, ACML 25 (2012), coverage ~ Beta(n + 1 - l, l), l = floor((n + 1) alpha).
    *Valid:* as `conformal_rank`, scores without ties.
    """
    require("chance", chance, 0.0, 1.0, _VOVK)
    rank = conformal_rank(count, alpha)
    return 1.0 if rank is None else beta_quantile(chance, rank, count + 1 - rank)


def coverage_test(covered: int, promises: int, nominal: float) -> Coverage:
    """Test whether windows that should hold with chance `nominal` did.

    `two_sided_p` sums every outcome no likelier than this one; `too_few_p` those at most as good.
    *Reference:* the exact binomial test, NIST/SEMATECH e-Handbook 7.2.4.2. *Valid:* promises that
    kept or broke independently; a bad week breaks many at once, which makes p too small.
    """
    require("promises", promises, 1, 1e6, "the binomial test")
    require("covered", covered, 0, promises, "the binomial test")
    require("nominal", nominal, _LEVEL_LOW, _LEVEL_HIGH, "the binomial test")
    chances = [_binomial(k, promises, nominal) for k in range(promises + 1)]
    # Outcomes that are equally likely by symmetry differ in their last digits.
    bar = chances[covered] * (1.0 + 1e-7)
    return Coverage(
        share=covered / promises,
        two_sided_p=min(1.0, math.fsum(chance for chance in chances if chance <= bar)),
        too_few_p=min(1.0, math.fsum(chances[: covered + 1])),
    )


def _binomial(successes: int, trials: int, chance: float) -> float:
    return math.exp(
        log_choose(trials, successes)
        + successes * math.log(chance)
        + (trials - successes) * math.log1p(-chance)
    )


def _require_values(**values: float) -> None:
    for name, value in values.items():
        require(name, value, -_ANY, _ANY, _GNEITING)
