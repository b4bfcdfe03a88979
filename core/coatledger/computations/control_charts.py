"""Shewhart charts of shares, counts and gaps: is this week unlike the others, or only a number?

Limits stand three standard deviations out. A share is never below 0 or above 1 and a count never
below 0, so limits end there; that is the chart's definition and the only cut made here.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.special import gamma_cdf

Numbers = npt.NDArray[np.float64]

_MONTGOMERY = "Montgomery, Introduction to Statistical Quality Control"
_LANEY = "Laney 2002"
_MOST = 1e12
# Mean moving range of two normal values over their standard deviation, d2 of tables for n = 2.
MOVING_RANGE_D2 = 1.128
# Nelson's power that makes exponential times near normal.
_NELSON_POWER = 1 / 3.6


class ChartPoint(Struct, frozen=True):
    """One plotted value with its own limits."""

    value: float
    low: float
    high: float

    @property
    def beyond(self) -> bool:
        """Say whether the value is outside its limits; on a limit it is not."""
        return not self.low <= self.value <= self.high


class Chart(Struct, frozen=True):
    """A centre line and points; `sigma_z` is 1 where the spread is the textbook's."""

    center: float
    points: tuple[ChartPoint, ...]
    sigma_z: float = 1.0


class Dispersion(Struct, frozen=True):
    """How the spread between groups compares with chance alone; a small `p` says it is more."""

    ratio: float
    statistic: float
    degrees: int
    p: float


def p_chart(defective: Sequence[int], inspected: Sequence[int]) -> Chart:
    """Chart shares, such as reworked pieces of those inspected each week.

    *Reference:* NIST/SEMATECH e-Handbook 6.3.3.2. *Valid:* groups that differ by chance only; check
    with `binomial_dispersion`, else `laney_p_chart`. Normal limits need about 5 expected a group.
    """
    x, n = _shares(defective, inspected)
    center, sigmas = _share_sigmas(x, n)
    return _chart(x / n, center, sigmas, 1.0)


def u_chart(defects: Sequence[int], units: Sequence[float]) -> Chart:
    """Chart defects per unit, such as nibs per square metre.

    *Reference:* NIST/SEMATECH e-Handbook 6.3.3.1; Montgomery. *Valid:* as a Poisson count; check
    with `poisson_dispersion`, else `laney_u_chart`.
    """
    x, n = _rates(defects, units)
    center, sigmas = _rate_sigmas(x, n)
    return _chart(x / n, center, sigmas, math.inf)


def c_chart(defects: Sequence[int]) -> Chart:
    """Chart counts from groups of one size. *Reference, Valid:* as `u_chart`, units of 1."""
    return u_chart(defects, [1.0] * len(defects))


def laney_p_chart(defective: Sequence[int], inspected: Sequence[int]) -> Chart:
    """Chart shares whose groups differ by more (or less) than chance.

    *Reference:* Laney, Quality Engineering 14 (2002): limits times sigma_z, the mean moving range
    of the standardised shares over 1.128. *Valid:* two groups or more, a share inside 0 and 1.
    """
    x, n = _shares(defective, inspected)
    center, sigmas = _share_sigmas(x, n)
    return _laney(x / n, center, sigmas, 1.0)


def laney_u_chart(defects: Sequence[int], units: Sequence[float]) -> Chart:
    """Chart defects per unit whose groups differ by more than chance.

    *Reference, Valid:* as `laney_p_chart`.
    """
    x, n = _rates(defects, units)
    center, sigmas = _rate_sigmas(x, n)
    return _laney(x / n, center, sigmas, math.inf)


def individuals_chart(values: Sequence[float]) -> Chart:
    """Chart single values, such as a week's median lead time.

    *Reference:* NIST/SEMATECH e-Handbook 6.3.2.2, mean +/- 3 mean moving range / 1.128. *Valid:*
    two values or more, near normal.
    """
    x = _checked("value", values, -_MOST, 2)
    return _individuals(x)


def g_chart(gaps: Sequence[int]) -> Chart:
    """Chart how many good pieces lay between two bad ones, where bad ones are rare.

    *Reference:* Benneyan, Health Care Management Science 4 (2001): mean g, sigma sqrt(g (g + 1)).
    *Valid:* a steady chance for each piece. The lower limit is 0 for any mean: the chart shows that
    bad pieces became rarer, not that they became commoner; for that use a CUSUM or run rules.
    """
    x = _checked("gap", gaps, 0.0, 2)
    center = float(np.mean(x))
    sigmas = np.full(len(x), math.sqrt(center * (center + 1.0)))
    return _chart(x, center, sigmas, math.inf)


def t_chart(times: Sequence[float]) -> Chart:
    """Chart the time between rare events, in any unit.

    *Reference:* Nelson, Journal of Quality Technology 26 (1994): the power 1/3.6 makes exponential
    times near normal; an individuals chart of it, turned back. *Valid:* times above 0.
    """
    x = _checked("time", times, 1e-12, 2)
    raised = _individuals(x**_NELSON_POWER)
    points = tuple(
        ChartPoint(
            float(time),
            max(point.low, 0.0) ** (1 / _NELSON_POWER),
            point.high ** (1 / _NELSON_POWER),
        )
        for time, point in zip(x, raised.points, strict=True)
    )
    return Chart(raised.center ** (1 / _NELSON_POWER), points)


def binomial_dispersion(defective: Sequence[int], inspected: Sequence[int]) -> Dispersion:
    """Test whether shares differ by more than chance, before limits of a p chart are trusted.

    *Reference:* Wetherill and Brown, Statistical Process Control (1991), chi-square with n - 1
    degrees of freedom. *Valid:* about 5 expected in a group.
    """
    x, n = _shares(defective, inspected)
    center, sigmas = _share_sigmas(x, n)
    return _dispersion(x / n, center, sigmas)


def poisson_dispersion(defects: Sequence[int], units: Sequence[float]) -> Dispersion:
    """Test whether rates differ by more than chance. *Reference, Valid:* `binomial_dispersion`."""
    x, n = _rates(defects, units)
    center, sigmas = _rate_sigmas(x, n)
    return _dispersion(x / n, center, sigmas)


def _chart(values: Numbers, center: float, sigmas: Numbers, most: float) -> Chart:
    points = tuple(
        ChartPoint(float(value), max(0.0, center - 3.0 * sigma), min(most, center + 3.0 * sigma))
        for value, sigma in zip(values, sigmas.tolist(), strict=True)
    )
    return Chart(center, points)


def _laney(values: Numbers, center: float, sigmas: Numbers, most: float) -> Chart:
    require("number of groups", len(values), 2, 1e6, _LANEY)
    require("smallest sigma", float(np.min(sigmas)), 1e-15, _MOST, _LANEY)
    sigma_z = _moving_range((values - center) / sigmas) / MOVING_RANGE_D2
    chart = _chart(values, center, sigmas * sigma_z, most)
    return Chart(center, chart.points, sigma_z)


def _individuals(values: Numbers) -> Chart:
    center = float(np.mean(values))
    reach = 3.0 * _moving_range(values) / MOVING_RANGE_D2
    points = tuple(ChartPoint(float(value), center - reach, center + reach) for value in values)
    return Chart(center, points)


def _moving_range(values: Numbers) -> float:
    return float(np.mean([abs(later - earlier) for earlier, later in pairwise(values.tolist())]))


def _dispersion(values: Numbers, center: float, sigmas: Numbers) -> Dispersion:
    require("number of groups", len(values), 2, 1e6, "the dispersion test")
    require("smallest sigma", float(np.min(sigmas)), 1e-15, _MOST, "the dispersion test")
    statistic = float(np.sum(((values - center) / sigmas) ** 2))
    degrees = len(values) - 1
    p = 1.0 - gamma_cdf(statistic / 2.0, degrees / 2.0)
    return Dispersion(statistic / degrees, statistic, degrees, p)


def _shares(defective: Sequence[int], inspected: Sequence[int]) -> tuple[Numbers, Numbers]:
    x, n = _checked("defective", defective, 0.0, 1), _checked("inspected", inspected, 1.0, 1)
    require("number of sizes", len(n), len(x), len(x), _MONTGOMERY)
    for bad, size in zip(x.tolist(), n.tolist(), strict=True):
        require("defective", bad, 0.0, size, _MONTGOMERY)
    return x, n


def _rates(defects: Sequence[int], units: Sequence[float]) -> tuple[Numbers, Numbers]:
    x, n = _checked("defects", defects, 0.0, 1), _checked("units", units, 1e-9, 1)
    require("number of sizes", len(n), len(x), len(x), _MONTGOMERY)
    return x, n


def _share_sigmas(x: Numbers, n: Numbers) -> tuple[float, Numbers]:
    center = float(np.sum(x) / np.sum(n))
    return center, np.sqrt(center * (1.0 - center) / n)


def _rate_sigmas(x: Numbers, n: Numbers) -> tuple[float, Numbers]:
    center = float(np.sum(x) / np.sum(n))
    return center, np.sqrt(center / n)


def _checked(name: str, values: Sequence[float], low: float, least: int) -> Numbers:
    require(f"number of values of {name}", len(values), least, 1e6, _MONTGOMERY)
    for value in values:
        require(name, value, low, _MOST, _MONTGOMERY)
    return np.asarray(values, dtype=np.float64)
