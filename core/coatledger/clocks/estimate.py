"""A first ship estimate: what remains of a piece's schedule, the clocks, and the shop's hours.

It looks at one piece as if it were next at every step: other work in the room is not in it. Minutes
where the schedule gives none, and the order of waiting, are common practice, no published source.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from msgspec import Struct

from coatledger.clocks.ahead import Ahead, Level
from coatledger.clocks.answer import PieceClock
from coatledger.clocks.runs import NO_FACTORS
from coatledger.computations.calendar import (
    NeverOpen,
    add_working_minutes,
    local_date,
    next_open,
    next_pick_up,
)
from coatledger.computations.drying import Spread, Stage
from coatledger.events.setup import Step
from coatledger.ledger.record import moment
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import FILMS, Plan
from coatledger.subjects.view import View
from coatledger.subjects.working import Working, working

# Hands-on minutes of one piece: a part a piece, a part a square metre.
MINUTES: Mapping[str, tuple[float, float]] = {
    "sand": (3, 20), "scuff": (2, 8), "raise_grain": (1, 3), "blow_off": (1, 1),
    "fill_grain": (5, 25), "stain": (5, 12), "coat": (3, 5), "rub_out": (5, 20),
    "polish": (5, 15), "inspect": (3, 1), "cure": (0, 0), "pack": (10, 5),
}  # fmt: skip
# What the film below must have reached before an act.
WAITS: Mapping[str, Stage] = {
    "scuff": "sandable", "sand": "sandable", "coat": "sandable", "fill_grain": "sandable",
    "stain": "sandable", "rub_out": "stackable", "polish": "stackable", "inspect": "tack_free",
    "cure": "cured", "pack": "wrap_safe",
}  # fmt: skip
LEVELS: tuple[Level, ...] = ("likely", "sure")


class StepTime(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When one remaining step may begin and end, likely; `waits_for` names the film's stage."""

    act: str
    begins: datetime
    ends: datetime
    product: str | None = None
    waits_for: str | None = None


class ShipEstimate(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When a piece would ship if it were next at every step. `missing` says why there is none."""

    likely: date | None = None
    sure: date | None = None
    ready_likely: datetime | None = None
    steps: tuple[StepTime, ...] = ()
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def estimate(
    view: View, piece: Piece, plan: Plan, dries: PieceClock, holidays: Iterable[date] = (),
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> ShipEstimate:  # fmt: skip
    """Walk a piece's remaining steps through the shop's hours and its films' clocks.

    `factors` are what this shop has learned of its products; without one the sheet stands.
    """
    if piece.stage in ("shipped", "scrapped", "expected", "unborn"):
        return ShipEstimate(missing=(f"the piece is {piece.stage}",))
    described = view.shop()
    if described is None or not described.hours:
        return ShipEstimate(missing=("shop_described with hours",))
    if described.people == 0 or not described.pickup_days:
        return ShipEstimate(missing=("people and pick-up days in shop_described",))
    calendar = working(described, view.shop_state(), holidays)
    ahead = Ahead(view, piece, factors)
    try:
        walks = tuple(_walk(ahead, plan, dries, calendar, level) for level in LEVELS)
    except NeverOpen as never:
        return ShipEstimate(missing=(str(never),))
    (likely, steps, assumed), (sure, _, _) = walks
    if likely is None or sure is None:
        return ShipEstimate(steps=steps, missing=("a climate in which the film dries",))
    return ShipEstimate(
        likely=_ships(likely, calendar),
        sure=_ships(sure, calendar),
        ready_likely=likely,
        steps=steps,
        assumed=assumed,
    )


_Walk = tuple[datetime | None, tuple[StepTime, ...], tuple[str, ...]]


def _walk(ahead: Ahead, plan: Plan, dries: PieceClock, calendar: Working, level: Level) -> _Walk:
    now = at = moment(ahead.view.at_us)
    assumed = {"other work in the room is not counted": None}
    if plan.assumed:
        assumed["no schedule is described: the usual one for its use is taken"] = None
    if ahead.piece.open_defects:
        kinds = dict.fromkeys(fault.kind.replace("_", " ") for fault in ahead.piece.open_defects)
        assumed[f"rework for what was found is not counted: {', '.join(kinds)}"] = None
    ready: Mapping[Stage, datetime | None] = _now_ready(dries, level)
    steps: list[StepTime] = []
    bare_wood = not (ahead.piece.coats or ahead.piece.layers)
    for step in plan.remaining:
        stage = WAITS.get(step.act)
        wait = ready.get(stage, at) if stage is not None else at
        if wait is None:
            return None, tuple(steps), tuple(assumed)
        begins = next_open(max(at, wait), calendar.hours, calendar.closures)
        at = add_working_minutes(
            begins, _minutes(step, ahead.piece, assumed), calendar.hours, calendar.closures
        )
        waited = stage if wait > now and begins >= wait else None
        steps.append(
            StepTime(act=step.act, begins=begins, ends=at, product=step.product, waits_for=waited)
        )
        if step.act in FILMS:
            put_on = ahead.ready(step, at, assumed, level, bare_wood=bare_wood)
            ready = {stage: _later(ready.get(stage, at), put_on[stage]) for stage in put_on}
            bare_wood = False
    return at, tuple(steps), tuple(assumed)


def _now_ready(dries: PieceClock, level: Level) -> Mapping[Stage, datetime | None]:
    """When the slowest face reaches each stage; no film, no wait."""
    found: dict[Stage, datetime | None] = {}
    for face in dries.faces:
        for time in face.stages:
            when: datetime | None = getattr(time, level)
            known = found.get(time.stage, when)
            found[time.stage] = None if when is None or known is None else max(known, when)
    return found


def _later(one: datetime | None, other: datetime | None) -> datetime | None:
    """A film is at a stage when all below it are, too; None is never."""
    return None if one is None or other is None else max(one, other)


def _minutes(step: Step, piece: Piece, assumed: dict[str, None]) -> float:
    if step.minutes is not None:
        return step.minutes
    each, per_m2 = MINUTES[step.act]
    assumed["hands-on minutes by common practice where the schedule gives none"] = None
    return each + per_m2 * (piece.coat_area_m2 or 1.0)


def _ships(ready: datetime, calendar: Working) -> date:
    zone = calendar.hours.zone
    leaves = next_pick_up(ready, calendar.pickup_days, calendar.cut_off, zone, calendar.closures)
    return local_date(leaves, zone)
