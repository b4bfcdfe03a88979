"""The few special functions the other computations need: the incomplete beta and gamma integrals,
their inverses and normal quantiles.

Written with the standard library so that the core needs no numerical package for a limit.
"""

import math
from collections.abc import Callable
from statistics import NormalDist

from coatledger.computations.ranges import require

_TERMS_MAX = 100_000
_HALVINGS_MAX = 2_000
_TINY = 1e-300
_CLOSE = 1e-15


def normal_cdf(z: float) -> float:
    """Return the chance that a standard normal value is at most z.

    *Reference:* DLMF 7.2.2, through the complementary error function. *Valid:* any finite z; keeps
    its relative accuracy in the lower tail.
    """
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def normal_quantile(chance: float) -> float:
    """Return the z below which a standard normal value stays with this chance.

    *Reference:* Wichura, Applied Statistics 37 (1988), algorithm AS 241, as the standard library
    has it. *Valid:* 0 < chance < 1.
    """
    require("chance", chance, _TINY, 1.0 - 1e-16, "AS 241")
    return NormalDist().inv_cdf(chance)


def beta_cdf(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta integral I_x(a, b).

    *Reference:* DLMF 8.17.22, continued fraction evaluated by Lentz's rule. *Valid:* 0 <= x <= 1,
    a and b from above 0 to 10^9; about 12 digits for a, b below 10^4.
    """
    require("x", x, 0.0, 1.0, "DLMF 8.17")
    require("a", a, _TINY, 1e9, "DLMF 8.17")
    require("b", b, _TINY, 1e9, "DLMF 8.17")
    if x in (0.0, 1.0):
        return x
    log_front = (
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    # The fraction converges fast on one side of the mean; the other side is its mirror image.
    if x < (a + 1.0) / (a + b + 2.0):
        return math.exp(log_front) * _beta_fraction(x, a, b) / a
    return 1.0 - math.exp(log_front) * _beta_fraction(1.0 - x, b, a) / b


def beta_quantile(chance: float, a: float, b: float) -> float:
    """Return x with I_x(a, b) = chance.

    Newton's steps from the normal approximation; a step out of what is known to hold the root is
    replaced by halving that.
    *Reference:* inverse of DLMF 8.17; its derivative is the beta density. *Valid:* as `beta_cdf`,
    0 <= chance <= 1.
    """
    require("chance", chance, 0.0, 1.0, "DLMF 8.17")
    if chance in (0.0, 1.0):
        return chance
    low, high, mean = 0.0, 1.0, a / (a + b)
    log_beta = math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    z = normal_quantile(min(max(chance, _TINY), 1.0 - 1e-16))
    x = mean + z * math.sqrt(mean * (1.0 - mean) / (a + b + 1.0))
    for _ in range(_HALVINGS_MAX):
        if not low < x < high:
            x = low + (high - low) / 2.0
        if x in (low, high):
            return high
        error = beta_cdf(x, a, b) - chance
        if error < 0.0:
            low = x
        else:
            high = x
        density = math.exp((a - 1.0) * math.log(x) + (b - 1.0) * math.log1p(-x) - log_beta)
        after = x - error / density if density > 0.0 else math.nan
        if low <= after <= high and abs(after - x) <= 2.0 * math.ulp(x):
            return after
        x = after
    raise ArithmeticError("the quantile did not settle")


def gamma_cdf(x: float, shape: float) -> float:
    """Return the regularised lower incomplete gamma integral P(shape, x).

    *Reference:* DLMF 8.11.4 (series) and 8.9.2 (continued fraction). *Valid:* x >= 0, shape from
    above 0 to 10^9; about 12 digits for shapes below 10^4.
    """
    require("x", x, 0.0, 1e12, "DLMF 8.2")
    require("shape", shape, _TINY, 1e9, "DLMF 8.2")
    if x == 0.0:
        return 0.0
    front = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    if x < shape + 1.0:
        return front * _gamma_series(x, shape)
    return 1.0 - front * _gamma_fraction(x, shape)


def gamma_quantile(chance: float, shape: float) -> float:
    """Return x with P(shape, x) = chance, by halving.

    *Reference:* inverse of DLMF 8.2. *Valid:* as `gamma_cdf`, 0 <= chance < 1.
    """
    require("chance", chance, 0.0, 1.0 - 1e-15, "DLMF 8.2")
    high = 2.0 * shape + 10.0
    while gamma_cdf(high, shape) < chance:
        high *= 2.0
    return halve(lambda x: gamma_cdf(x, shape) < chance, 0.0, high)


def halve(too_low: Callable[[float], bool], low: float, high: float) -> float:
    """Close in on where `too_low` turns false, until the doubles run out.

    *Reference:* bisection. *Valid:* `too_low` true, if anywhere, below some value and false above.
    """
    for _ in range(_HALVINGS_MAX):
        middle = low + (high - low) / 2.0
        if middle in (low, high):
            return high
        if too_low(middle):
            low = middle
        else:
            high = middle
    raise ArithmeticError("the halving did not settle")


def log_choose(items: int, chosen: int) -> float:
    """Return the logarithm of the number of ways to choose. *Reference:* DLMF 1.2.1."""
    return math.lgamma(items + 1) - math.lgamma(chosen + 1) - math.lgamma(items - chosen + 1)


def _beta_fraction(x: float, a: float, b: float) -> float:
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1.0)
    d = 1.0 / (d if abs(d) > _TINY else _TINY)
    value = d
    for m in range(1, _TERMS_MAX):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        step = 1.0
        for term in (even, odd):
            d = 1.0 + term * d
            c = 1.0 + term / c
            d = 1.0 / (d if abs(d) > _TINY else _TINY)
            c = c if abs(c) > _TINY else _TINY
            step = c * d
            value *= step
        if abs(step - 1.0) < _CLOSE:
            return value
    raise ArithmeticError("the incomplete beta fraction did not settle")


def _gamma_series(x: float, shape: float) -> float:
    term = total = 1.0 / shape
    for n in range(1, _TERMS_MAX):
        term *= x / (shape + n)
        total += term
        if term < total * _CLOSE:
            return total
    raise ArithmeticError("the incomplete gamma series did not settle")


def _gamma_fraction(x: float, shape: float) -> float:
    b = x + 1.0 - shape
    c, d = 1.0 / _TINY, 1.0 / b
    value = d
    for n in range(1, _TERMS_MAX):
        term = -n * (n - shape)
        b += 2.0
        d = term * d + b
        d = 1.0 / (d if abs(d) > _TINY else _TINY)
        c = b + term / c
        c = c if abs(c) > _TINY else _TINY
        step = c * d
        value *= step
        if abs(step - 1.0) < _CLOSE:
            return value
    raise ArithmeticError("the incomplete gamma fraction did not settle")
