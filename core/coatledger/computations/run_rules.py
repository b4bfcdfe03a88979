"""Run rules: patterns in a chart that hint at a cause before any point leaves the limits.

Every rule added finds changes sooner and cries wolf more often; `run_length` says exactly how
often, so that a shop can choose.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.special import normal_cdf

_NELSON = "Nelson 1984"
_STATES_MAX = 5_000

Side = Literal["one side", "either side", "inside"]


class ZoneRule(Struct, frozen=True):
    """`needed` of `window` points in a row, the last among them, beyond (or inside) `sigmas`."""

    name: str
    needed: int
    window: int
    sigmas: float
    side: Side
    says: str


class TrendRule(Struct, frozen=True):
    """Points in a row that only rise or only fall, or that turn at every step."""

    name: str
    window: int
    alternating: bool
    says: str


class Signal(Struct, frozen=True):
    """A rule met at a point, counted from 0."""

    rule: str
    at: int


RunRule = ZoneRule | TrendRule

# Nelson, Journal of Quality Technology 16 (1984) 237-239, tests 1 to 8 (from memory).
NELSON: Mapping[int, RunRule] = {
    1: ZoneRule("nelson 1", 1, 1, 3.0, "one side", "one point beyond 3 sigma"),
    2: ZoneRule("nelson 2", 9, 9, 0.0, "one side", "nine in a row on one side"),
    3: TrendRule("nelson 3", 6, False, "six in a row rising or falling"),
    4: TrendRule("nelson 4", 14, True, "fourteen in a row alternating"),
    5: ZoneRule("nelson 5", 2, 3, 2.0, "one side", "two of three beyond 2 sigma, same side"),
    6: ZoneRule("nelson 6", 4, 5, 1.0, "one side", "four of five beyond 1 sigma, same side"),
    7: ZoneRule("nelson 7", 15, 15, 1.0, "inside", "fifteen in a row within 1 sigma"),
    8: ZoneRule("nelson 8", 8, 8, 1.0, "either side", "eight in a row beyond 1 sigma"),
}

# Western Electric, Statistical Quality Control Handbook (1956), the four zone rules (from memory).
WESTERN_ELECTRIC: Mapping[int, ZoneRule] = {
    1: ZoneRule("western electric 1", 1, 1, 3.0, "one side", "one point beyond 3 sigma"),
    2: ZoneRule("western electric 2", 2, 3, 2.0, "one side", "two of three beyond 2 sigma"),
    3: ZoneRule("western electric 3", 4, 5, 1.0, "one side", "four of five beyond 1 sigma"),
    4: ZoneRule("western electric 4", 8, 8, 0.0, "one side", "eight in a row on one side"),
}


def signals(scores: Sequence[float], rules: Sequence[RunRule]) -> tuple[Signal, ...]:
    """Return every place at which a rule is met by standardised points, (value - centre) / sigma.

    *Reference:* as the tables above; a count of k of m includes its last point (Champ and
    Woodall 1987). *Valid:* points near normal and independent of one another.
    """
    for score in scores:
        require("score", score, -1e9, 1e9, _NELSON)
    return tuple(
        Signal(rule.name, at)
        for at in range(len(scores))
        for rule in rules
        if (
            _zone_met(scores[: at + 1], rule)
            if isinstance(rule, ZoneRule)
            else _trend_met(scores[: at + 1], rule)
        )
    )


def run_length(rules: Sequence[ZoneRule], shift_sigma: float = 0.0) -> float:
    """Return the average number of points to the first signal; at no shift, to a false alarm.

    *Reference:* Champ and Woodall, Technometrics 29 (1987): the rules as an absorbing Markov chain,
    solved exactly. *Valid:* independent normal points about a known centre; zone rules only.
    """
    require("shift_sigma", shift_sigma, -10.0, 10.0, "Champ & Woodall 1987")
    require("number of rules", len(rules), 1, 12, "Champ & Woodall 1987")
    chances = _zone_chances(rules, shift_sigma)
    tracks = [(rule, sign) for rule in rules for sign in _signs(rule)]
    start = (0,) * len(tracks)
    places = {start: 0}
    moves: list[tuple[int, int, float]] = []
    waiting = [start]
    while waiting:
        state = waiting.pop()
        for score, chance in chances:
            after = _after(state, tracks, score)
            if after is None:
                continue
            if after not in places:
                places[after] = len(places)
                waiting.append(after)
                require("number of states", len(places), 1, _STATES_MAX, "the exact chain")
            moves.append((places[state], places[after], chance))
    staying = np.zeros((len(places), len(places)))
    for from_place, to_place, chance in moves:
        staying[from_place, to_place] += chance
    waits = np.linalg.solve(np.eye(len(places)) - staying, np.ones(len(places)))
    return float(waits[0])


def _zone_met(scores: Sequence[float], rule: ZoneRule) -> bool:
    recent = scores[-rule.window :]
    return any(
        _hit(recent[-1], rule, sign)
        and sum(_hit(score, rule, sign) for score in recent) >= rule.needed
        for sign in _signs(rule)
    )


def _trend_met(scores: Sequence[float], rule: TrendRule) -> bool:
    recent = scores[-rule.window :]
    if len(recent) < rule.window:
        return False
    steps = np.sign(np.diff(np.asarray(recent, dtype=np.float64)))
    if rule.alternating:
        return bool(np.all(steps[1:] * steps[:-1] < 0))
    return bool(np.all(steps > 0) or np.all(steps < 0))


def _signs(rule: ZoneRule) -> tuple[int, ...]:
    return (1, -1) if rule.side == "one side" else (1,)


def _hit(score: float, rule: ZoneRule, sign: int) -> bool:
    if rule.side == "inside":
        return abs(score) < rule.sigmas
    if rule.side == "either side":
        return abs(score) > rule.sigmas
    return sign * score > rule.sigmas


def _zone_chances(rules: Sequence[ZoneRule], shift_sigma: float) -> list[tuple[float, float]]:
    """Cut the line where any rule does; give each piece a point inside it and its chance."""
    cuts = sorted({sign * rule.sigmas for rule in rules for sign in (1.0, -1.0)})
    middles = [cuts[0] - 1.0, *((low + high) / 2.0 for low, high in pairwise(cuts)), cuts[-1] + 1.0]
    below = [0.0, *(normal_cdf(cut - shift_sigma) for cut in cuts), 1.0]
    return [(middles[i], below[i + 1] - below[i]) for i in range(len(middles))]


def _after(
    state: tuple[int, ...], tracks: Sequence[tuple[ZoneRule, int]], score: float
) -> tuple[int, ...] | None:
    """Return the next state, or None where a rule is met. A state is each rule's recent hits."""
    following: list[int] = []
    for history, (rule, sign) in zip(state, tracks, strict=True):
        hit = _hit(score, rule, sign)
        hits = history << 1 | hit
        if hit and hits.bit_count() >= rule.needed:
            return None
        following.append(_forget(hits & (1 << rule.window - 1) - 1, rule))
    return tuple(following)


def _forget(hits: int, rule: ZoneRule) -> int:
    """Drop old hits that can no longer be part of a signal, so that fewer states remain."""
    for oldest in range(hits.bit_length() - 1, -1, -1):
        # With this hit as the first, even hits at every point left in its window must suffice.
        points_left = rule.window - 1 - oldest
        if (hits & (1 << oldest + 1) - 1).bit_count() + points_left >= rule.needed:
            break
        hits &= ~(1 << oldest)
    return hits
