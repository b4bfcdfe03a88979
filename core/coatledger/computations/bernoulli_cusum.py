"""Is it getting worse, piece by piece: a CUSUM of good and bad that is tuned for one rise.

A shop with one bad piece a week has no weekly shares to chart. Each bad piece adds `step - 1`, each
good one takes 1 away and the sum never goes below 0; at the bound it signals. All are whole
numbers, so how long it takes, at any chance of a bad piece, is known exactly.
"""

import math
from collections.abc import Iterable

import numpy as np
from msgspec import Struct

from coatledger.computations.ranges import require

_SOURCE = "Reynolds & Stoumbos 1999"
_BOUND_MAX = 3_000


class Design(Struct, frozen=True):
    """A chart: what a bad piece weighs and where it signals, and what it was made for.

    `pieces_to_false_alarm` and `pieces_to_signal` are averages, at the usual chance and at the
    raised one.
    """

    usual: float
    raised: float
    step: int
    bound: int
    pieces_to_false_alarm: float
    pieces_to_signal: float


class Passed(Struct, frozen=True):
    """The sum after each piece, and the pieces, counted from 0, at which it signalled.

    It begins anew after a signal."""

    sums: tuple[int, ...]
    signals: tuple[int, ...]


def step_for(usual: float, times: float) -> int:
    """Return the weight of a bad piece among good ones: the log likelihood ratio of `times` the
    usual chance, rounded to a whole number of good pieces.

    *Reference:* Reynolds and Stoumbos, Journal of Quality Technology 31 (1999): gamma = r1 / r2,
    1 / gamma rounded. *Valid:* a raised chance below 1.
    """
    raised = _raised(usual, times)
    r1 = -math.log((1.0 - raised) / (1.0 - usual))
    r2 = math.log(raised * (1.0 - usual) / (usual * (1.0 - raised)))
    return max(2, round(r2 / r1))


def run_length(chance: float, step: int, bound: int) -> float:
    """Return the average number of pieces from a sum of 0 to a signal.

    *Reference:* Reynolds and Stoumbos 1999, the sum as a Markov chain, solved exactly. *Valid:*
    each piece bad with one chance, independently.
    """
    require("chance", chance, 1e-9, 1.0, _SOURCE)
    require("step", step, 2, 100_000, _SOURCE)
    require("bound", bound, 1, _BOUND_MAX, _SOURCE)
    staying = np.zeros((bound, bound))
    places = np.arange(bound)
    staying[places, np.maximum(places - 1, 0)] += 1.0 - chance
    up = places + step - 1
    inside = up < bound
    staying[places[inside], up[inside]] += chance
    return float(np.linalg.solve(np.eye(bound) - staying, np.ones(bound))[0])


def design(usual: float, times: float, pieces_to_false_alarm: float) -> Design:
    """Return the quickest chart whose false alarms are on average that many pieces apart, or more.

    *Reference:* as `run_length`, the least bound by halving. *Valid:* bounds to 3,000.
    """
    require("pieces_to_false_alarm", pieces_to_false_alarm, 1.0, 1e7, _SOURCE)
    step, raised = step_for(usual, times), _raised(usual, times)
    low, high = 1, 2
    while run_length(usual, step, high) < pieces_to_false_alarm:
        require("bound", 2 * high, 1, _BOUND_MAX, _SOURCE)
        low, high = high, 2 * high
    while low < high:
        middle = (low + high) // 2
        if run_length(usual, step, middle) < pieces_to_false_alarm:
            low = middle + 1
        else:
            high = middle
    return Design(
        usual=usual,
        raised=raised,
        step=step,
        bound=low,
        pieces_to_false_alarm=run_length(usual, step, low),
        pieces_to_signal=run_length(raised, step, low),
    )


def chart(bad: Iterable[bool], step: int, bound: int) -> Passed:
    """Add pieces up in their order.

    *Reference, Valid:* as `run_length`.
    """
    total = 0
    sums: list[int] = []
    signals: list[int] = []
    for place, is_bad in enumerate(bad):
        total = max(0, total + (step - 1 if is_bad else -1))
        sums.append(total)
        if total >= bound:
            signals.append(place)
            total = 0
    return Passed(tuple(sums), tuple(signals))


def _raised(usual: float, times: float) -> float:
    require("usual", usual, 1e-6, 0.5, _SOURCE)
    require("times", times, 1.01, 100.0, _SOURCE)
    return require("raised", usual * times, 1e-6, 1.0 - 1e-9, _SOURCE)
