"""The clock learns: every dryness check says a little about how a product dries in this shop.

A check is an interval-censored observation: found ready, the coat's factor on the sheet's hours is
at most what `drying_one.Drying.factor_reached` gives, found not ready it is more. The product's
factor is lognormal about the sheet, each coat's lognormal about the product's. The posterior is
summed on a fixed grid of log factors: no sampling, no iteration, the same answer every time.
"""

import functools
import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np

from coatledger.computations.air_saturation import Floats
from coatledger.computations.drying import COAT_LOG_SD, PRODUCT_LOG_SD, Z_90, Spread
from coatledger.computations.ranges import require, require_all
from coatledger.computations.scoring import crps_lognormal, interval_score, pinball
from coatledger.computations.special import normal_cdf

MODEL: Final = "the learning clock"
LEVELS: Final = (0.1, 0.5, 0.9)
# A thumb on the wrong button: one check in a hundred says nothing. Common practice, no published
# source; without it a single slip could pull the clock far.
LAPSE: Final = 0.01
# How far a new lot may stray from its product, and the odds at which we say so. Kass & Raftery
# (JASA 90 (1995) 773): 20 to 1 is where evidence becomes strong.
LOT_LOG_SD: Final = 0.30
NOTICE_ODDS: Final = 20.0
_STEP: Final = 0.01


def _frozen(values: Floats) -> Floats:
    values.setflags(write=False)
    return values


# Log factors from -2.5 to 2.5: factors of 0.08 to 12.
_GRID: Final = _frozen(np.arange(-250.0, 251.0) * _STEP)
# The normal integral between these points by cubic Hermite steps: within 1e-10, and far quicker for
# whole arrays than calling the exact one for each.
_REACH: Final = 8.0
_POINTS: Final = 128
_AT: Final = _frozen(np.arange(-1024.0, 1025.0) / _POINTS)
_CDF: Final = _frozen(np.array([normal_cdf(float(z)) for z in _AT]))
_SLOPE: Final = _frozen(np.exp(-_AT * _AT / 2.0) / math.sqrt(2.0 * math.pi) / _POINTS)


class Check(msgspec.Struct, frozen=True):
    """One dryness check: the coat, the factor at which it would just be ready, and if it was."""

    coat: str
    reached: float
    ready: bool


class Posterior(msgspec.Struct, frozen=True, eq=False):
    """What is believed of a product's log factor: chances along a fixed grid, summing to 1.

    Leading axes, if any, are products learned side by side.
    """

    weights: Floats
    coat_log_sd: float


class Drift(msgspec.Struct, frozen=True, kw_only=True):
    """Whether a new lot dries unlike the product: odds for it, and how many times slower it is."""

    odds: float
    slower_p50: float
    notice: bool


class LearningScore(msgspec.Struct, frozen=True, kw_only=True):
    """How well the clock foretold its checks, and how well the sheet alone would have done.

    Both are mean log scores, smaller is better.
    """

    coats: int
    clock: float
    sheet_alone: float


class RangeScore(msgspec.Struct, frozen=True, kw_only=True):
    """How good past 10/50/90 % ranges were: the share that held, and penalties in units of time."""

    count: int
    held: float
    crps: float
    interval: float
    pinball: float


def prior(
    median: float = 1.0, product_log_sd: float = PRODUCT_LOG_SD, coat_log_sd: float = COAT_LOG_SD
) -> Posterior:
    """Return what is believed before any check: the sheet is right in the middle, not exactly.

    *Reference:* lognormal; the spreads are common practice, no published source. *Valid:* medians
    of 0.2 to 5.
    """
    require("factor", median, 0.2, 5.0, MODEL)
    require("log standard deviation of a product", product_log_sd, 0.02, 1.0, MODEL)
    require("log standard deviation of a coat", coat_log_sd, 0.03, 0.6, MODEL)
    z = (_GRID - math.log(median)) / product_log_sd
    return Posterior(_normalised(np.exp(-z * z / 2.0)), coat_log_sd)


def intervals(checks: Sequence[Check]) -> tuple[Floats, Floats]:
    """Return what the checks say of each coat's log factor: above the first, at most the second.

    Checks of one coat meet in one interval. Checks that contradict each other (ready, then not) are
    both kept, apart, for neither is known to be the slip.
    """
    lower: dict[str, float] = {}
    upper: dict[str, float] = {}
    for check in checks:
        require("factor reached", check.reached, 1e-6, 1e6, MODEL)
        bound = math.log(check.reached)
        lower.setdefault(check.coat, -math.inf)
        upper.setdefault(check.coat, math.inf)
        if check.ready:
            upper[check.coat] = min(upper[check.coat], bound)
        else:
            lower[check.coat] = max(lower[check.coat], bound)
    rows: list[tuple[float, float]] = []
    for coat, low in lower.items():
        high = upper[coat]
        rows.extend([(low, high)] if low < high else [(low, math.inf), (-math.inf, high)])
    return np.array([low for low, _ in rows]), np.array([high for _, high in rows])


def learn(belief: Posterior, lower: Floats, upper: Floats, lapse: float = LAPSE) -> Posterior:
    """Return the belief after coats whose log factor lies above `lower` and at most at `upper`.

    The last axis runs over coats. *Reference:* Bayes' rule with the censored normal likelihood
    (Tobin 1958), by the rectangle rule, which for smooth bells is exact to rounding. *Valid:* log
    factors within 2.5; coats independent given the product.
    """
    require("share of slips", lapse, 0.0, 0.5, MODEL)
    log_chance = np.log(np.maximum(_chances(belief, lower, upper, lapse), 1e-300))
    return msgspec.structs.replace(
        belief, weights=_grown(belief.weights, np.sum(log_chance, axis=-2))
    )


def factor_quantiles(belief: Posterior, levels: Sequence[float] = LEVELS) -> Floats:
    """Return quantiles of the product's own factor. *Reference:* the posterior's running sum."""
    return np.exp(_quantiles(belief.weights, levels))


def next_coat_quantiles(belief: Posterior, levels: Sequence[float] = LEVELS) -> Floats:
    """Return quantiles of the next coat's factor: the product's, and coats differ too.

    *Reference:* posterior predictive, the posterior folded with the coats' bell.
    """
    return np.exp(_quantiles(belief.weights @ _bell(belief.coat_log_sd), levels))


def next_coat(belief: Posterior) -> Spread:
    """Return the next coat's factor as the clock wants it. *Valid:* one product."""
    return Spread(*(float(value) for value in next_coat_quantiles(belief)))


def chance_ready(belief: Posterior, reached: float) -> float:
    """Return the chance that a check finds the next coat ready where this factor is reached."""
    require("factor reached", reached, 1e-6, 1e6, MODEL)
    bound = np.array([math.log(reached)])
    return float(_foretold(belief, np.array([-np.inf]), bound, 0.0)[0])


def drift(belief: Posterior, lower: Floats, upper: Floats) -> Drift:
    """Return whether a new lot's coats dry unlike the product so far.

    *Reference:* Bayes factor of a lot shifted by a bell of `LOT_LOG_SD` against one like the
    others; noticed at `NOTICE_ODDS`. A lot like the others is noticed at most
    once in 20 looks (Markov's bound). *Valid:* one product, the belief without these coats.
    """
    shifted = msgspec.structs.replace(
        belief, weights=_normalised(belief.weights @ _bell(LOT_LOG_SD))
    )
    odds = math.exp(_log_evidence(shifted, lower, upper) - _log_evidence(belief, lower, upper))
    lot = factor_quantiles(learn(shifted, lower, upper), (0.5,))
    usual = factor_quantiles(belief, (0.5,))
    return Drift(odds=odds, slower_p50=float(lot[0] / usual[0]), notice=odds >= NOTICE_ODDS)


def score_learning(lower: Floats, upper: Floats, start: Posterior | None = None) -> LearningScore:
    """Return how well each coat's checks were foretold from the coats before it.

    *Reference:* prequential log score (Dawid 1984) of the interval's chance; proper for censored
    outcomes. *Valid:* coats in order of time, one or more.
    """
    belief = start or prior()
    count = require("number of coats", lower.size, 1, 1e6, MODEL)
    sheet_alone = float(np.mean(-np.log(_foretold(belief, lower, upper, LAPSE))))
    total = 0.0
    for low, high in zip(lower, upper, strict=True):
        one = (np.array([low]), np.array([high]))
        total -= math.log(_foretold(belief, *one, LAPSE)[0])
        belief = learn(belief, *one)
    return LearningScore(coats=int(count), clock=total / count, sheet_alone=sheet_alone)


def score_ranges(ranges: Sequence[Spread], observed: Sequence[float]) -> RangeScore:
    """Return how good past ranges were, once the times are known.

    *Reference:* Gneiting & Raftery 2007; the CRPS takes the range for a lognormal of the same
    median and 80 % width. *Valid:* times above 0, as many as ranges, one or more.
    """
    count = len(ranges)
    require("number of ranges", count, 1, 1e6, MODEL)
    require("number of observed times", len(observed), count, count, MODEL)
    held = crps = interval = loss = 0.0
    for spread, time in zip(ranges, observed, strict=True):
        held += spread.p10 <= time <= spread.p90
        log_sd = math.log(spread.p90 / spread.p10) / (2.0 * Z_90)
        crps += crps_lognormal(time, math.log(spread.p50), max(log_sd, 1e-9))
        interval += interval_score(time, spread.p10, spread.p90, 0.2)
        points = zip((spread.p10, spread.p50, spread.p90), LEVELS, strict=True)
        loss += sum(pinball(time, point, level) for point, level in points) / 3.0
    return RangeScore(
        count=count,
        held=held / count,
        crps=crps / count,
        interval=interval / count,
        pinball=loss / count,
    )


def _chances(belief: Posterior, lower: Floats, upper: Floats, lapse: float) -> Floats:
    """Return each coat's chance at each log factor: coats along the axis before the last."""
    if np.any(lower >= upper):
        raise ValueError("a coat's log factor cannot be above and at most the same value")
    sure = _cdf((upper[..., None] - _GRID) / belief.coat_log_sd)
    sure -= _cdf((lower[..., None] - _GRID) / belief.coat_log_sd)
    return (1.0 - lapse) * sure + lapse / 2.0


def _foretold(belief: Posterior, lower: Floats, upper: Floats, lapse: float) -> Floats:
    foretold: Floats = _chances(belief, lower, upper, lapse) @ belief.weights
    likely: Floats = np.maximum(foretold, 1e-300)
    return likely


def _log_evidence(belief: Posterior, lower: Floats, upper: Floats) -> float:
    log_chance = np.sum(np.log(np.maximum(_chances(belief, lower, upper, LAPSE), 1e-300)), axis=-2)
    most = float(np.max(log_chance))
    return most + math.log(float(np.exp(log_chance - most) @ belief.weights))


def _grown(weights: Floats, log_chance: Floats) -> Floats:
    most = np.max(log_chance, axis=-1, keepdims=True)
    return _normalised(weights * np.exp(log_chance - most))


def _normalised(weights: Floats) -> Floats:
    normalised: Floats = weights / np.sum(weights, axis=-1, keepdims=True)
    return normalised


@functools.lru_cache(maxsize=4)
def _bell(log_sd: float) -> Floats:
    z = (_GRID[:, None] - _GRID) / log_sd
    return _frozen(np.exp(-z * z / 2.0) * (_STEP / (log_sd * math.sqrt(2.0 * math.pi))))


def _quantiles(weights: Floats, levels: Sequence[float]) -> Floats:
    require_all("level", np.asarray(levels, dtype=np.float64), 1e-6, 1.0 - 1e-6, MODEL)
    rows = weights.reshape(-1, _GRID.size)
    # Half a cell to the left: a weight is the mass around its point, not before it.
    sums = np.cumsum(rows, axis=-1) - rows / 2.0
    shares = sums / np.sum(rows, axis=-1, keepdims=True)
    found = np.array([np.interp(levels, share, _GRID) for share in shares])
    return found.reshape(*weights.shape[:-1], len(levels))


def _cdf(z: Floats) -> Floats:
    place = np.clip(z, -_REACH, _REACH - 1e-9) * _POINTS + _POINTS * _REACH
    left = place.astype(np.intp)
    t = place - left
    s = 1.0 - t
    rise: Floats = _CDF[left] * (1.0 + 2.0 * t) * s * s + _CDF[left + 1] * t * t * (3.0 - 2.0 * t)
    return rise + t * s * (_SLOPE[left] * s - _SLOPE[left + 1] * t)
