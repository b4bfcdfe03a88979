"""What goes with rework, compared like with like: tables of each product and wood, taken together.

Within a stratum the total of bad ones is as it is; what is left to chance is how many of them fall
on the pieces with the lot, gun or person in question. Their sum over all strata is tested exactly.
"""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from coatledger.computations.association import FisherTest, TwoByTwo
from coatledger.computations.special import log_choose

Numbers = npt.NDArray[np.float64]
# Tables that are equally likely differ in their last digits.
_ALIKE = 1.0 + 1e-7


def matched_exact(strata: Sequence[TwoByTwo]) -> FisherTest:
    """Test for an association that runs through all strata, exactly, however few the pieces.

    *Reference:* Birch, JRSS B 26 (1964); Cox, JRSS B 20 (1958): the sum of the strata's
    hypergeometric counts, its distribution by convolution, as R's mantelhaen.test(exact = TRUE).
    Two-sided as the sum of all totals no likelier. *Valid:* any counts; with one stratum it is
    Fisher's test, with none to compare every chance is 1.
    """
    chances = np.ones(1)
    low = seen = 0
    for stratum in strata:
        stratum_low, weights = _hypergeometric(stratum)
        chances = np.convolve(chances, weights)
        low += stratum_low
        seen += stratum.with_bad
    place = seen - low
    alike = chances <= chances[place] * _ALIKE
    return FisherTest(
        two_sided=min(1.0, math.fsum(chances[alike].tolist())),
        less=min(1.0, math.fsum(chances[: place + 1].tolist())),
        greater=min(1.0, math.fsum(chances[place:].tolist())),
    )


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
