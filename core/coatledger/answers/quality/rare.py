"""Rare bad pieces, one by one: for a shop with one a week, whose weekly shares say nothing.

Pieces count in the order of the quarter-hours of their first final inspection; within one, bad ones
come last. `usual` is the share of the whole span, so a rise within it is judged a little mildly.
"""

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise

from msgspec import Struct

from coatledger.answers.quality.cases import Counted
from coatledger.computations.bernoulli_cusum import chart, design
from coatledger.computations.control_charts import ChartPoint, g_chart, t_chart
from coatledger.ledger.record import micros

TIMES = 2.0
# A false alarm in about a year's pieces of a small shop, and never sooner than after this many.
FALSE_ALARM_PIECES = 2_000.0
BAD_LEAST = 5
SHARE_LEAST, SHARE_MOST = 0.002, 0.4
HOUR_US = 3_600_000_000


class PieceByPiece(Struct, frozen=True, kw_only=True):
    """A CUSUM over pieces for a doubling of their usual share of bad ones.

    `signalled` are the quarter-hours, in UTC, of the pieces at which it passed `bound`; it begins
    anew after each. The run lengths are averages, exact for independent pieces.
    """

    usual: float
    raised: float
    step: int
    bound: int
    highest: int
    last: int
    signalled: tuple[str, ...]
    pieces_to_false_alarm: float
    pieces_to_signal: float


class GapPoint(Struct, frozen=True, kw_only=True):
    """The gap before one bad piece, with its limits."""

    at: str
    gap: float
    low: float
    high: float


class Gaps(Struct, frozen=True, kw_only=True):
    """Good pieces (g), and hours (t), between one bad piece and the next."""

    g_center: float
    g: tuple[GapPoint, ...]
    t_center: float
    t: tuple[GapPoint, ...]


def bad_in_order(rows: Sequence[Counted], measure: str) -> tuple[tuple[str, bool], ...]:
    """Return each piece's quarter-hour and whether it was bad, the good ones of one first."""
    by_time: dict[str, list[int]] = {}
    for row in rows:
        outcome = row.case.outcome
        if measure == "failed_first" and "f" not in outcome:
            continue
        n = by_time.setdefault(row.case.at, [0, 0])
        n[_bad(row, measure)] += row.many
    return tuple(
        (at, bad)
        for at in sorted(by_time)
        for bad, many in ((False, by_time[at][0]), (True, by_time[at][1]))
        for _ in range(many)
    )


def piece_by_piece(rows: Sequence[Counted], measure: str) -> PieceByPiece | None:
    """Chart pieces for a doubling; None where bad ones are too few, too rare or too common."""
    order = bad_in_order(rows, measure)
    many = sum(bad for _, bad in order)
    if many < BAD_LEAST or not SHARE_LEAST <= many / len(order) <= SHARE_MOST:
        return None
    plan = design(many / len(order), TIMES, FALSE_ALARM_PIECES)
    passed = chart((bad for _, bad in order), plan.step, plan.bound)
    return PieceByPiece(
        usual=plan.usual,
        raised=plan.raised,
        step=plan.step,
        bound=plan.bound,
        highest=max(passed.sums),
        last=passed.sums[-1],
        signalled=tuple(order[place][0] for place in passed.signals),
        pieces_to_false_alarm=round(plan.pieces_to_false_alarm, 1),
        pieces_to_signal=round(plan.pieces_to_signal, 1),
    )


def gaps(rows: Sequence[Counted], measure: str) -> Gaps | None:
    """Chart the gaps between bad pieces; None where there are fewer than three."""
    good = 0
    g_gaps: list[int] = []
    g_at: list[str] = []
    times: list[str] = []
    for at, bad in bad_in_order(rows, measure):
        if not bad:
            good += 1
            continue
        g_gaps.append(good)
        g_at.append(at)
        good = 0
        if times[-1:] != [at]:
            times.append(at)
    if len(g_gaps) < BAD_LEAST or len(times) < 3 or sum(g_gaps) == 0:
        return None
    micro = [micros(datetime.fromisoformat(at + "+00:00")) for at in times]
    hours = [(b - a) / HOUR_US for a, b in pairwise(micro)]
    g, t = g_chart(g_gaps), t_chart(hours)
    return Gaps(
        g_center=g.center,
        g=_points(g_at, g.points),
        t_center=t.center,
        t=_points(times[1:], t.points),
    )


def _points(at: Sequence[str], points: Sequence[ChartPoint]) -> tuple[GapPoint, ...]:
    return tuple(
        GapPoint(at=when, gap=p.value, low=p.low, high=p.high)
        for when, p in zip(at, points, strict=True)
    )


def _bad(row: Counted, measure: str) -> bool:
    outcome = row.case.outcome
    if measure == "defects":
        return bool(row.case.kinds)
    if measure == "failed_first":
        return "p" not in outcome
    return ("r" if measure == "reworked" else "s") in outcome
