"""The day plan: today's work and tomorrow's in order, from the shop that promises are made from.

It is one course of the same engine, everything likely, so that plan and promise cannot tell two
stories. It stores nothing and is computed anew on each read, so that every fact plans it again.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.day_plan.answer import RULE, DayPlan, Drying, Line, PlannedDay, Span
from coatledger.answers.day_plan.batches import Task, tasks
from coatledger.answers.day_plan.films import drying
from coatledger.answers.day_plan.foreseen import foresee
from coatledger.answers.day_plan.leaving import rags, shipping
from coatledger.answers.day_plan.lines import Lines
from coatledger.answers.day_plan.waits import waits
from coatledger.clocks.clocks import shop_clocks
from coatledger.computations.calendar import (
    Intervals,
    NeverOpen,
    from_microseconds,
    local_date,
    microseconds,
    open_intervals,
    pick_ups,
    wall_moment,
)
from coatledger.computations.cautions import CAUTIONS
from coatledger.computations.drying import Spread
from coatledger.computations.simulate.shop import Impossible, OpenShop
from coatledger.events.setup import ShopDescribed
from coatledger.ledger.store import Reader
from coatledger.open_shop.crew import AWAY_SAYS
from coatledger.open_shop.drying import NO_FACTORS
from coatledger.open_shop.known import Known, known
from coatledger.open_shop.shop_now import HELD_SAYS, WORKED, shop_now
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import pieces
from coatledger.subjects.piece import Piece

DAYS, DAYS_MOST = 2, 7
STEP_US = 5 * 60_000_000
# A shop that is closed for longer has no tomorrow to plan.
LOOK_AHEAD = timedelta(days=60)
# Work that is begun before the plan's end is told to its end.
_BEYOND = timedelta(days=30)


class _Ahead(Struct, frozen=True):
    """The days of the plan: its beginning and end, and the open stretches from its beginning on."""

    begins: datetime
    until: datetime
    open_: Intervals


def day_plan(
    reader: Reader, asked: Asked, holidays: Iterable[date] = (),
    factors: Mapping[str, Spread] = NO_FACTORS, *, days: int = DAYS,
) -> DayPlan:  # fmt: skip
    """Plan so many working days, today counted while it is still open.

    *Reference:* `computations.simulate.once`. *Valid:* a shop with hours and people; else `missing`
    names what is not there.
    """
    view = asked.view(reader)
    described = view.shop()
    begins = from_microseconds(-(-asked.now_us // STEP_US) * STEP_US)
    plan = DayPlan(
        position=asked.position(reader), as_of=begins, valid_until=None, rule=RULE,
        zone=described.zone if described else "UTC",
    )  # fmt: skip
    if described is None:
        return replace(plan, missing=("shop_described",))
    open_ones = tuple(pieces(reader, asked, WORKED))
    clocks = shop_clocks(view, open_ones, asked.now_us, factors)
    by_piece = {clock.piece: clock for clock in clocks}
    plan = replace(plan, drying=drying(clocks, begins))
    lacks = _lacking(described)
    if lacks:
        return replace(plan, missing=lacks, valid_until=_next_film(plan.drying, begins))
    facts = known(reader, asked, described, factors)
    shop = shop_now(reader, asked, facts, tuple(holidays), factors, by_piece)
    try:
        ahead = _ahead(shop, begins, days)
        work = tasks(facts, shop.batches)
        foreseen = foresee(reader, asked, facts, shop, work, by_piece, begins, ahead.until)
    except (Impossible, NeverOpen) as never:
        told = never.faults if isinstance(never, Impossible) else (str(never),)
        return replace(plan, missing=told, valid_until=_next_film(plan.drying, begins))
    lines = Lines(facts, work, foreseen, ahead.open_).made()
    cut_offs = _cut_offs(shop, ahead)
    here = (*open_ones, *pieces(reader, asked, ("packed",)))
    leaving = tuple(shipping(facts, _done(here, work), work, foreseen, cut_offs))
    lines = _in_order((*lines, *leaving, *rags(lines, described.zone)))
    today = local_date(begins, described.zone)
    planned = _days(lines, ahead, cut_offs, today, described.zone)
    codes = dict.fromkeys(code for line in lines for code in line.cautions)
    return replace(
        plan, days=planned, waiting=waits(work, foreseen, ahead.open_, today, described.zone),
        cautions=tuple(CAUTIONS[code] for code in codes), assumed=_assumed(facts),
        valid_until=_valid_until(plan.drying, planned, begins, described.zone),
    )  # fmt: skip


def _lacking(described: ShopDescribed) -> tuple[str, ...]:
    return tuple(
        text for text, there in (
            ("hours in shop_described", described.hours),
            ("people in shop_described", described.people),
        ) if not there
    )  # fmt: skip


def _ahead(shop: OpenShop, begins: datetime, days: int) -> _Ahead:
    """Find the end of the last of so many days on which the shop is open."""
    zone = shop.hours.zone
    last = begins + LOOK_AHEAD
    open_ = open_intervals(begins, last + _BEYOND, shop.hours, shop.closures)
    found: list[date] = []
    for opens, _ in open_:
        day = local_date(from_microseconds(int(opens)), zone)
        if day not in found and from_microseconds(int(opens)) < last:
            found.append(day)
    if not found:
        raise NeverOpen(f"the shop is not open within {LOOK_AHEAD.days} days")
    end = found[: max(days, 1)][-1] + timedelta(days=1)
    return _Ahead(begins, wall_moment(end, time(0), zone), open_)


def _cut_offs(shop: OpenShop, ahead: _Ahead) -> tuple[datetime, ...]:
    """Return the cut-offs within the plan at which things are picked up."""
    days = (ahead.until - ahead.begins).days + 2
    found = pick_ups(
        ahead.begins, days, shop.pick_up_weekdays, shop.cut_off, shop.hours.zone, shop.closures
    )
    return tuple(at for at in found if at <= ahead.until)


def _done(here: Sequence[Piece], work: Mapping[str, Task]) -> tuple[Piece, ...]:
    """Return the pieces that stand here and need no more work."""
    busy = {word for task in work.values() for word in task.pieces}
    return tuple(
        piece
        for piece in here
        if piece.stage not in ("expected", "in_rework") and piece.piece not in busy
    )


def _in_order(lines: Iterable[Line]) -> tuple[Line, ...]:
    return tuple(sorted(lines, key=lambda line: (line.begins, line.ends)))


def _days(
    lines: Sequence[Line], ahead: _Ahead, cut_offs: Sequence[datetime], today: date, zone: str
) -> tuple[PlannedDay, ...]:
    """Put lines, hours and pick-ups under their days, closed days between them too."""
    last = local_date(ahead.until - timedelta(microseconds=1), zone)
    return tuple(
        PlannedDay(
            day=day,
            open=_open_on(day, ahead.open_, zone),
            pick_up_at=next((at for at in cut_offs if local_date(at, zone) == day), None),
            lines=tuple(line for line in lines if local_date(line.begins, zone) == day),
        )
        for day in (today + timedelta(days=n) for n in range((last - today).days + 1))
    )


def _open_on(day: date, open_: Intervals, zone: str) -> tuple[Span, ...]:
    first = microseconds(wall_moment(day, time(0), zone))
    last = microseconds(wall_moment(day + timedelta(days=1), time(0), zone))
    return tuple(
        Span(begins=from_microseconds(int(opens)), ends=from_microseconds(int(closes)))
        for opens, closes in open_
        if first <= opens < last
    )


def _assumed(facts: Known) -> tuple[str, ...]:
    """What the plan rests on; it waits for who is held or away, whatever a promise may assume."""
    return tuple(says for says in facts.assumed if says not in (HELD_SAYS, AWAY_SAYS))


def _next_film(films: Sequence[Drying], begins: datetime) -> datetime | None:
    times = (at for one in films for film in one.ready
             for at in (film.earliest, film.likely, film.sure))  # fmt: skip
    return min((at for at in times if at is not None and at > begins), default=None)


def _valid_until(
    films: Sequence[Drying], days: Sequence[PlannedDay], begins: datetime, zone: str
) -> datetime | None:
    """Return the first moment at which time alone makes another plan: while something could be
    begun now, the plan's own beginning, which then moves on."""
    changes = [line.begins for day in days for line in day.lines]
    if any(at <= begins for at in changes):
        return begins
    changes += [span.begins for day in days for span in day.open]
    changes += [day.pick_up_at for day in days if day.pick_up_at is not None]
    changes += [wall_moment(days[0].day + timedelta(days=1), time(0), zone)]
    film = _next_film(films, begins)
    return min([at for at in changes if at > begins] + ([film] if film else []), default=None)
