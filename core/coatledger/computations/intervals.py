"""How sure a proportion or a rate is: an interval beside every percentage a small shop sees.

Wilson is the interval to show, exact the one to promise by: exact never covers less than it says.
"""

import math

from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.special import beta_quantile, gamma_quantile, normal_quantile

_SOURCE = "NIST/SEMATECH e-Handbook 7.2.4"
_RATE_SOURCE = "Garwood 1936"
_MOST_CONFIDENT = 1.0 - 1e-9


class Interval(Struct, frozen=True):
    """Two limits, each part of the interval."""

    low: float
    high: float


def wilson(successes: int, trials: int, confidence: float = 0.95) -> Interval:
    """Return the score interval of a proportion, good from the first handful of pieces.

    *Reference:* NIST/SEMATECH e-Handbook 7.2.4.1; Wilson, JASA 22 (1927). *Valid:* any counts with
    at least one trial; covers about as often as it says, in places a little less.

    >>> wilson(4, 20, 0.90)
    Interval(low=0.09311801658121095, high=0.3783766858353676)
    """
    _require_counts(successes, trials, confidence)
    z = normal_quantile(0.5 + confidence / 2.0)
    share = successes / trials
    spread = z * math.sqrt(share * (1.0 - share) / trials + (z / (2.0 * trials)) ** 2)
    middle = share + z * z / (2.0 * trials)
    whole = 1.0 + z * z / trials
    # At none and at all the formula meets 0 and 1 exactly; floating point only nearly does.
    return Interval(
        low=0.0 if successes == 0 else (middle - spread) / whole,
        high=1.0 if successes == trials else (middle + spread) / whole,
    )


def exact(successes: int, trials: int, confidence: float = 0.95) -> Interval:
    """Return the interval of a proportion that never covers less often than it says.

    *Reference:* NIST/SEMATECH e-Handbook 7.2.4.2; Clopper and Pearson, Biometrika 26 (1934), by
    beta quantiles. *Valid:* any counts with at least one trial; wider than needed for few trials.
    """
    _require_counts(successes, trials, confidence)
    tail = (1.0 - confidence) / 2.0
    failures = trials - successes
    return Interval(
        low=0.0 if successes == 0 else beta_quantile(tail, successes, failures + 1),
        high=1.0 if failures == 0 else beta_quantile(1.0 - tail, successes + 1, failures),
    )


def exact_rate(events: int, exposure: float, confidence: float = 0.95) -> Interval:
    """Return the exact interval of a rate: events per unit of exposure (weeks, square metres).

    *Reference:* Garwood, Biometrika 28 (1936): half chi-square quantiles of 2x and 2x + 2 degrees
    of freedom. *Valid:* independent events at a steady rate.
    """
    _require_rate(events, exposure, confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if events == 0 else gamma_quantile(tail, events)
    return Interval(low=low / exposure, high=gamma_quantile(1.0 - tail, events + 1) / exposure)


def score_rate(events: int, exposure: float, confidence: float = 0.95) -> Interval:
    """Return the score interval of a rate, Wilson's twin for counts.

    *Reference:* inverts (x - mu)^2 = z^2 mu; Rao's score for a Poisson mean (from memory: Barker,
    The American Statistician 56 (2002), compares it). *Valid:* as `exact_rate`; covers about as
    often as it says.
    """
    _require_rate(events, exposure, confidence)
    z = normal_quantile(0.5 + confidence / 2.0)
    spread = z * math.sqrt(events + z * z / 4.0)
    middle = events + z * z / 2.0
    low = 0.0 if events == 0 else middle - spread
    return Interval(low=low / exposure, high=(middle + spread) / exposure)


def _require_counts(successes: int, trials: int, confidence: float) -> None:
    require("trials", trials, 1, 1e9, _SOURCE)
    require("successes", successes, 0, trials, _SOURCE)
    require("confidence", confidence, 0.5, _MOST_CONFIDENT, _SOURCE)


def _require_rate(events: int, exposure: float, confidence: float) -> None:
    require("events", events, 0, 1e9, _RATE_SOURCE)
    require("exposure", exposure, 1e-9, 1e12, _RATE_SOURCE)
    require("confidence", confidence, 0.5, _MOST_CONFIDENT, _RATE_SOURCE)
