"""What a calendar shows of the shop: pieces that get ready, coats planned, dates promised, pick-ups
and closed days. Each entry keeps its key while it means the same thing, however often it moves."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.answers.day_plan.answer import DayPlan, Line
from coatledger.computations.calendar import local_date, pick_ups, wall_moment
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import open_orders
from coatledger.subjects.order import Order
from coatledger.subjects.working import Working, working

PICK_UPS_AHEAD_DAYS = 28
CLOSED_AHEAD = timedelta(days=366)
Kind = Literal["ready", "coat", "ship", "pick_up", "closed"]
_WORDS: Mapping[str, str] = {
    "touch": "may be touched", "recoat": "may be scuffed and coated", "stack": "may be stacked",
    "pack": "may be packed",
}  # fmt: skip
_SHOWN_MOST = 6


class Entry(Struct, frozen=True, kw_only=True):
    """One entry; with dates it is a matter of whole days, `ends` being the day after the last.
    `key` stays while it means the same thing, and `revision` counts how often that was changed."""

    key: str
    kind: Kind
    title: str
    says: str
    begins: datetime | date
    ends: datetime | date
    revision: int = 0


class Diary(Struct, frozen=True, kw_only=True):
    """The entries of a calendar, and when the ledger they rest on was last written to."""

    position: int
    zone: str
    changed_at: datetime
    entries: tuple[Entry, ...]


def diary(reader: Reader, asked: Asked, plan: DayPlan, holidays: Iterable[date] = ()) -> Diary:
    """Return what a calendar shows besides and of a day plan made for the same question."""
    view = asked.view(reader)
    described = view.shop()
    entries = [*_ready(plan), *_coats(plan), *_promised(reader, asked)]
    if described is not None:
        calendar = working(described, view.shop_state(), holidays)
        today = local_date(moment(asked.now_us), described.zone)
        entries += _pick_ups(calendar, today)
        entries += _closed(calendar, today)
    return Diary(
        position=plan.position, zone=plan.zone, changed_at=moment(reader.head().recorded_us),
        entries=tuple(entries),
    )  # fmt: skip


def _ready(plan: DayPlan) -> Iterator[Entry]:
    """Yield when pieces are surely ready, one entry for each thing they get ready for."""
    for one in plan.drying:
        for film in one.ready:
            if film.sure is None or film.purpose not in _WORDS:
                continue
            likely = f" Likely from {_clock(film.likely, plan.zone)}." if film.likely else ""
            yield Entry(
                key=f"ready/{film.purpose}/{one.acts[0]}/{one.pieces[0]}",
                kind="ready",
                title=f"{_named(one.pieces)} {_WORDS[film.purpose]}",
                says=f"{', '.join(one.pieces)}: surely from then on, in the air as it is.{likely}",
                begins=film.sure,
                ends=film.sure,
            )


def _coats(plan: DayPlan) -> Iterator[Entry]:
    for line in (line for day in plan.days for line in day.lines):
        if line.act == "coat":
            of = line.pieces or (f"order {line.order}",)
            yield Entry(
                key=f"coat/{line.coat_number}/{of[0]}", kind="coat",
                title=f"{_named(of)}: {line.says}", says=_of_coat(line, of), begins=line.begins,
                ends=line.ends,
            )  # fmt: skip


def _promised(reader: Reader, asked: Asked) -> Iterator[Entry]:
    """Yield the dates customers were told, those of one line apart from those of a whole order."""
    for order in open_orders(reader, asked):
        for line in dict.fromkeys(told.line for told in order.told):
            told = [one for one in order.told if one.line == line]
            day = date.fromisoformat(told[-1].ships_by)
            left = sum(one.quantity for one in order.lines) - len(order.shipped)
            yield Entry(
                key=f"ship/{order.order}/{line or ''}", kind="ship", begins=day,
                title=f"Order {order.order}{f', line {line}' if line else ''} ships by today",
                says=f"Told with {told[-1].level_pct:g} %. {_pieces_of(order, left)}",
                ends=day + timedelta(days=1), revision=len(told) - 1,
            )  # fmt: skip


def _pick_ups(calendar: Working, today: date) -> Iterator[Entry]:
    zone, says = calendar.hours.zone, "What is to leave today is packed by then."
    # Today's is told all day, though its time may be over.
    begins = wall_moment(today, time(0), zone)
    for at in pick_ups(
        begins, PICK_UPS_AHEAD_DAYS, calendar.pickup_days, calendar.cut_off, zone, calendar.closures
    ):
        yield Entry(key=f"pick-up/{local_date(at, zone)}", kind="pick_up", title="Pick-up",
                    says=says, begins=at, ends=at)  # fmt: skip


def _closed(calendar: Working, today: date) -> Iterator[Entry]:
    """Yield the stretches of whole closed days on which the shop would be open otherwise."""
    works = {one.weekday for one in calendar.hours.openings}
    days = sorted({local_date(gone.starts_at, calendar.hours.zone) for gone in calendar.closures})
    first: date | None = None
    for n, day in enumerate(days):
        first = first or day
        end = day + timedelta(days=1)
        if end in days[n + 1 : n + 2]:
            continue
        span = (first + timedelta(days=k) for k in range((end - first).days))
        ahead = end > today and first < today + CLOSED_AHEAD
        if ahead and any(one.isoweekday() in works for one in span):
            yield Entry(key=f"closed/{first}", kind="closed", title="The shop is closed",
                        says="A closure that was announced, or a public holiday.", begins=first,
                        ends=end)  # fmt: skip
        first = None


def _named(pieces: tuple[str, ...]) -> str:
    if len(pieces) <= _SHOWN_MOST:
        return ", ".join(pieces)
    return f"{pieces[0]} to {pieces[-1]}, {len(pieces)} pieces"


def _of_coat(line: Line, of: tuple[str, ...]) -> str:
    parts = [", ".join(of) + "."]
    if line.finish is not None and line.finish.needed_l is not None:
        can = line.finish.can or "a fresh mix"
        parts.append(f"{line.finish.needed_l.likely:.2f} L from {can}.")
    if line.gun:
        parts.append(f"Gun {line.gun}.")
    if line.due:
        parts.append(f"Order {line.order} is due {line.due}.")
    return " ".join(parts)


def _pieces_of(order: Order, left: int) -> str:
    return f"{left} of {sum(one.quantity for one in order.lines)} pieces have not left yet."


def _clock(at: datetime, zone: str) -> str:
    return f"{at.astimezone(ZoneInfo(zone)):%a %H:%M}"
