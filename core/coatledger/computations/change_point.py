"""When did it begin: the place in a series of shares at which the chance most likely changed.

The date comes with the range of dates it could as well be, and with how much the data favour any
change at all; without that, some place is always the likeliest.
"""

import math
from collections.abc import Sequence

from msgspec import Struct

from coatledger.computations.ranges import require

_SMITH = "Smith 1975"


class ChangePoint(Struct, frozen=True):
    """The first group after the change (counted from 0), its range, and both shares.

    `favours_change` is the Bayes factor of one change somewhere against none: below 1 the data
    favour no change, above about 20 they are strong for one (Kass and Raftery 1995).
    """

    first_after: int
    earliest: int
    latest: int
    share_before: float
    share_after: float
    favours_change: float


def change_in_share(
    defective: Sequence[int], inspected: Sequence[int], confidence: float = 0.9
) -> ChangePoint:
    """Date one change of a binomial chance, with the range that holds it with this confidence.

    *Reference:* Smith, Biometrika 62 (1975), every place equally likely beforehand and Jeffreys'
    prior for each share, which leaves beta functions; the range spans the likeliest places that
    together reach the confidence. *Valid:* one change at most, two groups or more.
    """
    require("number of groups", len(inspected), 2, 100_000, _SMITH)
    require("number of counts", len(defective), len(inspected), len(inspected), _SMITH)
    require("confidence", confidence, 0.01, 0.9999, _SMITH)
    for bad, size in zip(defective, inspected, strict=True):
        require("inspected", size, 1, 1e9, _SMITH)
        require("defective", bad, 0, size, _SMITH)
    bad_sum, size_sum = sum(defective), sum(inspected)
    bad_before = size_before = 0
    logs: list[float] = []
    for bad, size in zip(defective[:-1], inspected[:-1], strict=True):
        bad_before += bad
        size_before += size
        after = _log_evidence(bad_sum - bad_before, size_sum - size_before)
        logs.append(_log_evidence(bad_before, size_before) + after)
    top = max(logs)
    weights = [math.exp(value - top) for value in logs]
    total = math.fsum(weights)
    first = logs.index(top) + 1
    kept = _likeliest([weight / total for weight in weights], confidence)
    favour = top + math.log(total / len(logs)) - _log_evidence(bad_sum, size_sum)
    return ChangePoint(
        first_after=first,
        earliest=min(kept) + 1,
        latest=max(kept) + 1,
        share_before=sum(defective[:first]) / sum(inspected[:first]),
        share_after=sum(defective[first:]) / sum(inspected[first:]),
        favours_change=math.exp(favour) if favour < 700.0 else math.inf,
    )


def _log_evidence(bad: int, size: int) -> float:
    """Return the logarithm of B(x + 1/2, n - x + 1/2) / B(1/2, 1/2)."""
    good = size - bad
    return (
        math.lgamma(bad + 0.5) + math.lgamma(good + 0.5) - math.lgamma(size + 1) - math.log(math.pi)
    )


def _likeliest(chances: Sequence[float], confidence: float) -> list[int]:
    kept: list[int] = []
    held = 0.0
    for place in sorted(range(len(chances)), key=lambda place: -chances[place]):
        if held >= confidence:
            break
        kept.append(place)
        held += chances[place]
    return kept
