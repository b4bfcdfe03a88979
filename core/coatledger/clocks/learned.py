"""What dryness checks say of one coat's own factor; `shop_learning` learns of a product."""

import math
from collections.abc import Iterable
from typing import Final

from msgspec import Struct

from coatledger.computations.drying import Z_90, Spread
from coatledger.computations.special import normal_cdf, normal_quantile

_TAIL: Final = 1e-9


class Seen(Struct, frozen=True):
    """One check: the factor at which the coat would just have been ready, and whether it was."""

    reached: float
    ready: bool


class Taught(Spread, frozen=True):
    """A product's factor on the sheet's hours, and the shop's own checks that taught it."""

    checks: int = 0
    coats: int = 0


def in_words(product: str | None, factor: Spread) -> str | None:
    """Say what a clock owes to the shop's own checks; None where the sheet stands alone."""
    if not isinstance(factor, Taught):
        return None
    return (
        f"{product} takes {factor.p50:.2f} times its sheet's hours here ({factor.p10:.2f} to "
        f"{factor.p90:.2f}), by {factor.checks} check(s) on {factor.coats} coat(s)"
    )


def intervals_of(seen: Iterable[Seen]) -> tuple[float, float]:
    """Return between which factors a coat must lie; checks that contradict each other say nothing.

    *Reference:* a check is an interval-censored observation of the coat's factor.
    """
    low, high = 0.0, math.inf
    for one in seen:
        if one.ready:
            high = min(high, one.reached)
        else:
            low = max(low, one.reached)
    return (low, high) if low < high else (0.0, math.inf)


def widened(belief: Spread, log_sd: float) -> Spread:
    """Return a belief with an independent doubt added: log variances add."""
    down = math.hypot(math.log(belief.p50 / belief.p10), Z_90 * log_sd)
    up = math.hypot(math.log(belief.p90 / belief.p50), Z_90 * log_sd)
    return Spread(belief.p50 * math.exp(-down), belief.p50, belief.p50 * math.exp(up))


def conditioned(belief: Spread, low: float, high: float) -> Spread:
    """Return the factor's 10, 50 and 90 % points once it is known to lie between two values.

    *Reference:* lognormal truncated to an interval, its quantiles by the normal's inverse. *Valid:*
    an interval the belief all but rules out is answered by its nearest end.
    """
    if low <= 0.0 and math.isinf(high):
        return belief
    log_sd = math.log(belief.p90 / belief.p10) / (2.0 * Z_90)
    middle = math.log(belief.p50)
    first = 0.0 if low <= 0.0 else normal_cdf((math.log(low) - middle) / log_sd)
    last = 1.0 if math.isinf(high) else normal_cdf((math.log(high) - middle) / log_sd)
    if last - first < _TAIL:
        near = high if low <= 0.0 or (not math.isinf(high) and high < belief.p50) else low
        return Spread(near, near, near)
    points = (
        math.exp(middle + log_sd * normal_quantile(first + share * (last - first)))
        for share in (0.1, 0.5, 0.9)
    )
    p10, p50, p90 = (min(max(point, low), high) for point in points)
    return Spread(p10, p50, p90)
