"""What goes with rework, compared like with like: tables of each product and wood, taken together.

Within a stratum the total of bad ones is as it is; what is left to chance is how many of them fall
on the pieces with the lot, gun or person in question. Their sum over all strata is tested exactly.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from coatledger.computations.association import FisherTest, OddsRatio, TwoByTwo
from coatledger.computations.special import halve, log_choose

Numbers = npt.NDArray[np.float64]
# Tables that are equally likely differ in their last digits.
_ALIKE = 1.0 + 1e-7
# Odds ratios looked for stay within these.
_LOG_ODDS_MAX = 50.0
_SMALLEST = 1e-300


def matched_exact(strata: Sequence[TwoByTwo]) -> FisherTest:
    """Test for an association that runs through all strata, exactly, however few the pieces.

    *Reference:* Birch, JRSS B 26 (1964); Cox, JRSS B 20 (1958): the sum of the strata's
    hypergeometric counts, its distribution by convolution, as R's mantelhaen.test(exact = TRUE).
    Two-sided as the sum of all totals no likelier. *Valid:* any counts; with one stratum it is
    Fisher's test, with none to compare every chance is 1.
    """
    place, chances = _totals(strata)
    alike = chances <= chances[place] * _ALIKE
    return FisherTest(
        two_sided=min(1.0, math.fsum(chances[alike].tolist())),
        less=min(1.0, math.fsum(chances[: place + 1].tolist())),
        greater=min(1.0, math.fsum(chances[place:].tolist())),
    )


def matched_odds_ratio(strata: Sequence[TwoByTwo], confidence: float = 0.95) -> OddsRatio:
    """Return the one odds ratio of all strata, conditional maximum likelihood, exact interval.

    *Reference:* as `matched_exact`; the totals' distribution tilted by the ratio (Gart, Biometrika
    57 (1970)). *Valid:* any counts; 0 or infinite where all or none could not have been more
    extreme, None where no count was free to vary.
    """
    place, chances = _totals(strata)
    last, tail = len(chances) - 1, (1.0 - confidence) / 2.0
    if last == 0:
        return OddsRatio(None, 0.0, math.inf)
    totals, logs = np.arange(last + 1), np.log(np.maximum(chances, _SMALLEST))

    def tilted(log_odds: float) -> Numbers:
        weights = logs + totals * log_odds
        found = np.exp(weights - weights.max())
        return np.asarray(found / found.sum(), dtype=np.float64)

    def solve(too_low: Callable[[Numbers], bool]) -> float:
        return math.exp(halve(lambda x: too_low(tilted(x)), -_LOG_ODDS_MAX, _LOG_ODDS_MAX))

    ratio = 0.0 if place == 0 else math.inf
    if 0 < place < last:
        ratio = solve(lambda p: float(p @ totals) < place)
    return OddsRatio(
        ratio=ratio,
        low=0.0 if place == 0 else solve(lambda p: float(p[place:].sum()) < tail),
        high=math.inf if place == last else solve(lambda p: float(p[: place + 1].sum()) > tail),
    )


def _totals(strata: Sequence[TwoByTwo]) -> tuple[int, Numbers]:
    """Return where the total seen lies among the possible ones, and each one's chance."""
    chances = np.ones(1)
    place = 0
    for stratum in strata:
        low, weights = _hypergeometric(stratum)
        chances = np.convolve(chances, weights)
        place += stratum.with_bad - low
    return place, chances


def _hypergeometric(table: TwoByTwo) -> tuple[int, Numbers]:
    """Return the least number of bad ones that may fall on the first side, and chances from it."""
    bad = table.with_bad + table.without_bad
    low, high = max(0, bad - table.without_all), min(bad, table.with_all)
    logs = np.array(
        [
            log_choose(table.with_all, x) + log_choose(table.without_all, bad - x)
            for x in range(low, high + 1)
        ]
    )
    weights = np.exp(logs - logs.max())
    return low, weights / weights.sum()
