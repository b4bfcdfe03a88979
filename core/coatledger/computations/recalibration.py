"""How chances that were said came true, and what to say instead: learned from earlier promises.

A simulated chance u becomes G(u), log-odds moved by a shift and stretched about even odds. Of each
past promise it is known between which simulated chances its day of shipping fell; the two numbers
are what these make of a prior belief. So a model that is off keeps its word, and says by how much.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from coatledger.computations.air_saturation import Floats
from coatledger.computations.ranges import require

# What is believed before a promise has come true or not: simulated chances are bolder than what
# comes true. Fitted once to 1,575 promises of twelve invented shops, other ones than are judged.
SHIFT, SHIFT_SD = 0.1, 0.4
LOG_STRETCH, LOG_STRETCH_SD = -0.28, 0.2
# Promises of the same weeks stand or fall together, so that each counts for less than one; one in a
# hundred is of another kind and says nothing. Common practice, no published source.
WEIGHT, LAPSE = 0.5, 0.01
_SHIFTS, _STRETCHES = 41, 17
_MOST = "a chance"

Days = npt.NDArray[np.int64]


class Recalibration(Struct, frozen=True):
    """By how much log-odds are moved and stretched, and how many promises said so."""

    shift: float = 0.0
    stretch: float = 1.0
    promises: int = 0


AS_SIMULATED: Final = Recalibration()


class Outcome(Struct, frozen=True):
    """One promise: its day of shipping lay after that of one simulated chance (0 for none) and no
    later than that of another (1 for none)."""

    low: float
    high: float


def stated(simulated: float, by: Recalibration) -> float:
    """Return the chance to say for a simulated one.

    *Reference:* Platt scaling (Platt, Advances in Large Margin Classifiers, 1999) of a predictive
    distribution (Kuleshov, Fenner and Ermon, ICML 2018). *Valid:* 0 to 1; never moves 0 and 1.

    >>> round(stated(0.9, Recalibration(0.0, 0.5)), 6)
    0.75
    """
    require(_MOST, simulated, 0.0, 1.0, "Platt 1999")
    if simulated in (0.0, 1.0):
        return simulated
    return 1.0 / (1.0 + math.exp(-by.shift - by.stretch * _logit(simulated)))


def simulated(said: float, by: Recalibration) -> float:
    """Return the simulated chance for which a chance is said: the inverse of `stated`."""
    require(_MOST, said, 0.0, 1.0, "Platt 1999")
    if said in (0.0, 1.0):
        return said
    return 1.0 / (1.0 + math.exp((by.shift - _logit(said)) / by.stretch))


def recalibrated(days: Days, by: Recalibration) -> Days:
    """Return simulated days, one a replication, such that they come with the chances to be said.

    What shipped later than another replication still does: each day takes the place of its rank.
    *Reference:* as `stated`. *Valid:* one row a thing that ships; days of other rows keep their
    replication.
    """
    if by == AS_SIMULATED or not days.size:
        return days
    count = days.shape[-1]
    said = (np.arange(count) + 0.5) / count
    odds = (np.log(said / (1.0 - said)) - by.shift) / by.stretch
    ranks = np.minimum((count / (1.0 + np.exp(-odds))).astype(np.int64), count - 1)
    order = np.argsort(days, axis=-1, kind="stable")
    found = np.empty_like(days)
    ascending = np.take_along_axis(days, order, axis=-1)
    np.put_along_axis(found, order, ascending[..., ranks], axis=-1)
    return found


def recalibrate(outcomes: Sequence[Outcome]) -> Recalibration:
    """Learn from earlier promises how simulated chances come true.

    *Reference:* the mean of the posterior on a fixed grid (Gelman et al., Bayesian Data Analysis 3,
    section 10.1), each outcome interval-censored; a calibrator of a predictive distribution in the
    sense of Vovk, Petej, Toccaceli, Gammerman and Ahlberg (COPA 2020). *Valid:* outcomes known when
    it is asked, promises that are still open among them, else it hears only of the quick ones.
    """
    told = [one for one in outcomes if one.low > 0.0 or one.high < 1.0]
    shifts = np.linspace(SHIFT - 4 * SHIFT_SD, SHIFT + 4 * SHIFT_SD, _SHIFTS)
    logs = np.linspace(LOG_STRETCH - 4 * LOG_STRETCH_SD, LOG_STRETCH + 4 * LOG_STRETCH_SD,
                       _STRETCHES)  # fmt: skip
    prior = -0.5 * (
        ((shifts[:, None] - SHIFT) / SHIFT_SD) ** 2
        + ((logs[None, :] - LOG_STRETCH) / LOG_STRETCH_SD) ** 2
    )
    believed = prior
    if told:
        low = _odds(np.array([one.low for one in told]))
        high = _odds(np.array([one.high for one in told]))
        span = _said(high, shifts, logs) - _said(low, shifts, logs)
        believed = prior + WEIGHT * np.log(np.maximum(span, 0.0) + LAPSE).sum(axis=2)
    mass = np.exp(believed - believed.max())
    mass /= mass.sum()
    return Recalibration(
        shift=round(float((mass.sum(axis=1) * shifts).sum()), 3),
        stretch=round(math.exp(float((mass.sum(axis=0) * logs).sum())), 3),
        promises=len(told),
    )


def _said(odds: Floats, shifts: Floats, logs: Floats) -> Floats:
    """Return the chances said, shaped shifts x stretches x outcomes."""
    moved = shifts[:, None, None] + np.exp(logs)[None, :, None] * odds[None, None, :]
    found: Floats = 1.0 / (1.0 + np.exp(-np.clip(moved, -500.0, 500.0)))
    return found


def _odds(chances: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        found: Floats = np.clip(np.log(chances) - np.log1p(-chances), -400.0, 400.0)
    return found


def _logit(chance: float) -> float:
    return math.log(chance / (1.0 - chance))
