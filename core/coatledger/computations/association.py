"""What goes with rework: two-by-two tables, their odds ratios, and honest doubt about many of them.

An association is not a cause. Looking at every gun, lot, room and hand finds something by chance,
so false discoveries are bounded together and it is said what so few pieces could have shown.
"""

import math
from collections.abc import Callable, Sequence

from msgspec import Struct

from coatledger.computations.intervals import Interval, wilson
from coatledger.computations.ranges import require
from coatledger.computations.special import halve, log_choose, normal_cdf, normal_quantile

_SOURCE = "a two-by-two table"
_MOST_CONFIDENT = 1.0 - 1e-9
# Odds ratios looked for stay within these; beyond them a table says "none" or "all".
_LOG_ODDS_MAX = 50.0


class TwoByTwo(Struct, frozen=True):
    """Pieces with something (a lot, a gun) and without it, bad ones and all."""

    with_bad: int
    with_all: int
    without_bad: int
    without_all: int

    def __post_init__(self) -> None:
        """Refuse counts that cannot be."""
        require("with_all", self.with_all, 0, 1e6, _SOURCE)
        require("without_all", self.without_all, 0, 1e6, _SOURCE)
        require("with_bad", self.with_bad, 0, self.with_all, _SOURCE)
        require("without_bad", self.without_bad, 0, self.without_all, _SOURCE)


class OddsRatio(Struct, frozen=True):
    """How the odds of a bad piece differ; None where the table leaves them open."""

    ratio: float | None
    low: float
    high: float


class FisherTest(Struct, frozen=True):
    """Chances of a table at least as extreme, were there no association."""

    two_sided: float
    less: float
    greater: float


class Difference(Struct, frozen=True):
    """Two shares compared: first minus second with its interval, and the test of no difference."""

    difference: float
    interval: Interval
    z: float | None
    p: float


def fisher_exact(table: TwoByTwo) -> FisherTest:
    """Test for any association, exactly, however few the pieces.

    *Reference:* NIST/SEMATECH e-Handbook 7.3.3 (Fisher); two-sided as the sum of all tables no
    likelier. *Valid:* any counts.
    """
    low, logs = _tables(table)
    chances = _weights(logs, 0.0)
    seen = chances[table.with_bad - low]
    # Tables that are equally likely differ in their last digits.
    two_sided = math.fsum(chance for chance in chances if chance <= seen * (1.0 + 1e-7))
    return FisherTest(
        two_sided=min(1.0, two_sided),
        less=min(1.0, math.fsum(chances[: table.with_bad - low + 1])),
        greater=min(1.0, math.fsum(chances[table.with_bad - low :])),
    )


def odds_ratio(table: TwoByTwo, confidence: float = 0.95) -> OddsRatio:
    """Return the conditional maximum-likelihood odds ratio with its exact interval.

    *Reference:* Fisher's noncentral hypergeometric distribution; Cornfield 1956, as R's fisher.test
    and scipy.stats.contingency compute it. *Valid:* any counts; 0 or infinite where a cell is
    empty, None where no count was free to vary.
    """
    require("confidence", confidence, 0.5, _MOST_CONFIDENT, _SOURCE)
    low, logs = _tables(table)
    high = low + len(logs) - 1
    seen, tail = table.with_bad, (1.0 - confidence) / 2.0
    if low == high:
        return OddsRatio(None, 0.0, math.inf)

    def mean_too_low(log_odds: float) -> bool:
        weights = _weights(logs, log_odds)
        return math.fsum((low + i) * chance for i, chance in enumerate(weights)) < seen

    def upper_tail_too_low(log_odds: float) -> bool:
        return math.fsum(_weights(logs, log_odds)[seen - low :]) < tail

    def lower_tail_too_high(log_odds: float) -> bool:
        return math.fsum(_weights(logs, log_odds)[: seen - low + 1]) > tail

    at_low, at_high = seen == low, seen == high
    return OddsRatio(
        ratio=0.0 if at_low else math.inf if at_high else _solve(mean_too_low),
        low=0.0 if at_low else _solve(upper_tail_too_low),
        high=math.inf if at_high else _solve(lower_tail_too_high),
    )


def haldane_odds_ratio(table: TwoByTwo, confidence: float = 0.95) -> OddsRatio:
    """Return the odds ratio with half a piece added to each cell, for plots that need a number.

    *Reference:* Haldane, Annals of Human Genetics 20 (1956); Anscombe 1956; the interval by the
    normal approximation of its logarithm (Woolf 1955). *Valid:* pieces on both sides.
    """
    require("confidence", confidence, 0.5, _MOST_CONFIDENT, _SOURCE)
    require("with_all", table.with_all, 1, 1e6, _SOURCE)
    require("without_all", table.without_all, 1, 1e6, _SOURCE)
    a, b, c, d = (cell + 0.5 for cell in _cells(table))
    reach = normal_quantile(0.5 + confidence / 2.0) * math.sqrt(1 / a + 1 / b + 1 / c + 1 / d)
    ratio = a * d / (b * c)
    return OddsRatio(ratio, ratio * math.exp(-reach), ratio * math.exp(reach))


def mantel_haenszel(strata: Sequence[TwoByTwo], confidence: float = 0.95) -> OddsRatio:
    """Return one odds ratio over strata, such as species or weeks, compared like with like.

    *Reference:* Mantel and Haenszel, JNCI 22 (1959); variance of the logarithm by Robins, Breslow
    and Greenland, Biometrics 42 (1986). *Valid:* much the same ratio in each stratum; without
    bounds it is None where no stratum compares anything, 0 or infinite where one product is empty.
    """
    require("confidence", confidence, 0.5, _MOST_CONFIDENT, _SOURCE)
    r_sum = s_sum = pr = mixed = qs = 0.0
    for stratum in strata:
        a, b, c, d = _cells(stratum)
        total = a + b + c + d
        if total == 0:
            continue
        r, s, p, q = a * d / total, b * c / total, (a + d) / total, (b + c) / total
        r_sum, s_sum = r_sum + r, s_sum + s
        pr, mixed, qs = pr + p * r, mixed + p * s + q * r, qs + q * s
    if r_sum == 0.0 or s_sum == 0.0:
        ratio = None if r_sum == s_sum else 0.0 if r_sum == 0.0 else math.inf
        return OddsRatio(ratio, 0.0, math.inf)
    variance = pr / (2 * r_sum**2) + mixed / (2 * r_sum * s_sum) + qs / (2 * s_sum**2)
    reach = normal_quantile(0.5 + confidence / 2.0) * math.sqrt(variance)
    ratio = r_sum / s_sum
    return OddsRatio(ratio, ratio * math.exp(-reach), ratio * math.exp(reach))


def compare_shares(table: TwoByTwo, confidence: float = 0.95) -> Difference:
    """Compare the bad shares with and without something, for groups that are not small.

    *Reference:* the z test with pooled share, NIST/SEMATECH e-Handbook 7.3.3; the interval is
    Newcombe's method 10 (Statistics in Medicine 17 (1998)). *Valid:* about 5 bad and 5 good on each
    side; below that use `fisher_exact`. `z` is None where no piece, or every piece, is bad.
    """
    x1, n1, x2, n2 = table.with_bad, table.with_all, table.without_bad, table.without_all
    first, second = wilson(x1, n1, confidence), wilson(x2, n2, confidence)
    p1, p2 = x1 / n1, x2 / n2
    down = math.hypot(p1 - first.low, second.high - p2)
    up = math.hypot(first.high - p1, p2 - second.low)
    pooled = (x1 + x2) / (n1 + n2)
    variance = pooled * (1.0 - pooled) * (1.0 / n1 + 1.0 / n2)
    z = (p1 - p2) / math.sqrt(variance) if variance > 0.0 else None
    return Difference(
        difference=p1 - p2,
        interval=Interval(p1 - p2 - down, p1 - p2 + up),
        z=z,
        p=1.0 if z is None else 2.0 * normal_cdf(-abs(z)),
    )


def false_discovery_rates(p_values: Sequence[float]) -> tuple[float, ...]:
    """Return for each p value the least false-discovery rate at which it would be kept.

    *Reference:* Benjamini and Hochberg, JRSS B 57 (1995). *Valid:* tests independent or positively
    dependent.
    """
    for p in p_values:
        require("p", p, 0.0, 1.0, "Benjamini & Hochberg 1995")
    count = len(p_values)
    rates = [1.0] * count
    least = 1.0
    order = sorted(range(count), key=p_values.__getitem__)
    for rank in range(count, 0, -1):
        place = order[rank - 1]
        least = min(least, p_values[place] * count / rank)
        rates[place] = least
    return tuple(rates)


def detectable_odds_ratio(
    with_all: int, without_all: int, share_without: float, power: float = 0.8, alpha: float = 0.05
) -> float | None:
    """Return the least odds ratio above 1 that so few pieces would have shown; None for no such.

    *Reference:* Fleiss, Levin and Paik, Statistical Methods for Rates and Proportions (2003),
    section 4.2, power of the two-sided pooled z test, without continuity correction, solved for the
    ratio. *Valid:* a guide; optimistic below about 5 expected bad pieces on a side.
    """
    require("with_all", with_all, 1, 1e6, "Fleiss, Levin & Paik 2003")
    require("without_all", without_all, 1, 1e6, "Fleiss, Levin & Paik 2003")
    require("share_without", share_without, 1e-9, _MOST_CONFIDENT, "Fleiss, Levin & Paik 2003")
    require("power", power, 0.5, 0.9999, "Fleiss, Levin & Paik 2003")
    require("alpha", alpha, 1e-9, 0.5, "Fleiss, Levin & Paik 2003")
    odds = share_without / (1.0 - share_without)

    def too_weak(log_odds: float) -> bool:
        return (
            _power(with_all, without_all, share_without, odds * math.exp(log_odds), alpha) < power
        )

    return None if too_weak(_LOG_ODDS_MAX) else _solve(too_weak, 0.0)


def _power(n1: int, n2: int, p2: float, odds1: float, alpha: float) -> float:
    p1 = odds1 / (1.0 + odds1)
    pooled = (n1 * p1 + n2 * p2) / (n1 + n2)
    under_none = math.sqrt(pooled * (1.0 - pooled) * (1.0 / n1 + 1.0 / n2))
    under_this = math.sqrt(p1 * (1.0 - p1) / n1 + p2 * (1.0 - p2) / n2)
    return normal_cdf((p1 - p2 + normal_quantile(alpha / 2.0) * under_none) / under_this)


def _cells(table: TwoByTwo) -> tuple[int, int, int, int]:
    """Return with bad, with good, without bad, without good."""
    with_good = table.with_all - table.with_bad
    return table.with_bad, with_good, table.without_bad, table.without_all - table.without_bad


def _tables(table: TwoByTwo) -> tuple[int, list[float]]:
    """Return the least possible `with_bad` for these margins, and log counts from it upward."""
    bad = table.with_bad + table.without_bad
    low, high = max(0, bad - table.without_all), min(bad, table.with_all)
    return low, [
        log_choose(table.with_all, x) + log_choose(table.without_all, bad - x)
        for x in range(low, high + 1)
    ]


def _weights(logs: Sequence[float], log_odds: float) -> list[float]:
    tilted = [value + i * log_odds for i, value in enumerate(logs)]
    top = max(tilted)
    weights = [math.exp(value - top) for value in tilted]
    total = math.fsum(weights)
    return [weight / total for weight in weights]


def _solve(too_low: Callable[[float], bool], low: float = -_LOG_ODDS_MAX) -> float:
    """Return the odds ratio whose logarithm ends `too_low`."""
    return math.exp(halve(too_low, low, _LOG_ODDS_MAX))
