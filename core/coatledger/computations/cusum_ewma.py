"""Charts with a memory, for changes too small for a single week to show: EWMA and CUSUM.

With each comes its average run length, solved exactly, so that its limits can be chosen.
"""

import math
from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.special import normal_cdf

_ANY = 1e12
_EWMA = "NIST/SEMATECH e-Handbook 6.3.2.4"
_CUSUM = "NIST/SEMATECH e-Handbook 6.3.2.3"
_NODES = 60


class EwmaPoint(Struct, frozen=True):
    """The weighted average after a point, within its limits or beyond."""

    average: float
    low: float
    high: float

    @property
    def beyond(self) -> bool:
        """Say whether the average is outside its limits."""
        return not self.low <= self.average <= self.high


class CusumPoint(Struct, frozen=True):
    """What has piled up above and below the target; a signal where either passes the bound."""

    high_sum: float
    low_sum: float
    signal: bool


def ewma_chart(
    values: Sequence[float], target: float, sigma: float, weight: float, width: float = 3.0
) -> tuple[EwmaPoint, ...]:
    """Average each value with those before it, the newest with `weight`.

    *Reference:* NIST/SEMATECH e-Handbook 6.3.2.4, with the exact variance of the first points.
    *Valid:* 0 < weight <= 1; with weight 1 it is a Shewhart chart.
    """
    require("weight", weight, 1e-6, 1.0, _EWMA)
    require("width", width, 1e-6, 100.0, _EWMA)
    require("sigma", sigma, 1e-12, _ANY, _EWMA)
    average = require("target", target, -_ANY, _ANY, _EWMA)
    points: list[EwmaPoint] = []
    for count, value in enumerate(values, start=1):
        require("value", value, -_ANY, _ANY, _EWMA)
        average = weight * value + (1.0 - weight) * average
        settled = 1.0 - (1.0 - weight) ** (2 * count)
        reach = width * sigma * math.sqrt(weight / (2.0 - weight) * settled)
        points.append(EwmaPoint(average, target - reach, target + reach))
    return tuple(points)


def cusum_chart(
    values: Sequence[float], target: float, allowance: float, bound: float
) -> tuple[CusumPoint, ...]:
    """Add up what exceeds the target by more than `allowance`, in the units of the values.

    *Reference:* NIST/SEMATECH e-Handbook 6.3.2.3, tabular CUSUM with k and h times sigma. *Valid:*
    allowance about half the shift to be found.
    """
    require("allowance", allowance, 0.0, _ANY, _CUSUM)
    require("bound", bound, 1e-12, _ANY, _CUSUM)
    require("target", target, -_ANY, _ANY, _CUSUM)
    high = low = 0.0
    points: list[CusumPoint] = []
    for value in values:
        require("value", value, -_ANY, _ANY, _CUSUM)
        high = max(0.0, high + value - target - allowance)
        low = max(0.0, low + target - allowance - value)
        points.append(CusumPoint(high, low, high > bound or low > bound))
    return tuple(points)


def ewma_run_length(weight: float, width: float, shift_sigma: float = 0.0) -> float:
    """Return the average number of points to a signal of an EWMA with settled limits.

    *Reference:* Crowder, Technometrics 29 (1987), the integral equation by Gauss-Legendre
    quadrature. *Valid:* independent normal points, weight 0.02 to 1.
    """
    require("weight", weight, 0.02, 1.0, "Crowder 1987")
    require("width", width, 0.1, 6.0, "Crowder 1987")
    require("shift_sigma", shift_sigma, -10.0, 10.0, "Crowder 1987")
    bound = width * math.sqrt(weight / (2.0 - weight))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    nodes, weights = bound * nodes, bound * weights
    arrivals = (nodes[None, :] - (1.0 - weight) * nodes[:, None]) / weight - shift_sigma
    kernel = weights[None, :] * _density(arrivals) / weight
    lengths = np.linalg.solve(np.eye(_NODES) - kernel, np.ones(_NODES))
    from_target = weights * _density(nodes / weight - shift_sigma) / weight
    return float(1.0 + from_target @ lengths)


def cusum_run_length(allowance: float, bound: float, shift_sigma: float = 0.0) -> float:
    """Return the average number of points to a signal of a two-sided CUSUM, all in sigmas.

    *Reference:* Page, Biometrika 41 (1954), the integral equation by Gauss-Legendre quadrature; the
    sides join as rates (van Dobben de Bruyn 1968). *Valid:* independent normal points.
    """
    require("allowance", allowance, 0.0, 6.0, "Page 1954")
    require("bound", bound, 0.1, 20.0, "Page 1954")
    require("shift_sigma", shift_sigma, -10.0, 10.0, "Page 1954")
    sides = (_one_sided(allowance, bound, shift) for shift in (shift_sigma, -shift_sigma))
    return 1.0 / sum(1.0 / length for length in sides)


def _one_sided(allowance: float, bound: float, shift: float) -> float:
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    nodes, weights = bound * (nodes + 1.0) / 2.0, bound * weights / 2.0
    # Place 0 is the sum at rest, which holds a chance of its own; the others are the nodes.
    places = np.concatenate(([0.0], nodes))
    drift = allowance - shift
    kernel = np.empty((_NODES + 1, _NODES + 1))
    kernel[:, 0] = [normal_cdf(drift - place) for place in places]
    kernel[:, 1:] = weights[None, :] * _density(nodes[None, :] - places[:, None] + drift)
    lengths = np.linalg.solve(np.eye(_NODES + 1) - kernel, np.ones(_NODES + 1))
    return float(lengths[0])


def _density(z: np.typing.NDArray[np.float64]) -> np.typing.NDArray[np.float64]:
    return np.asarray(np.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi), dtype=np.float64)
