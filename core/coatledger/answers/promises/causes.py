"""What led a promise into danger: the facts recorded since it was last sound, by what they are."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import NamedTuple
from uuid import UUID

from msgspec import Struct

from coatledger.answers.promises.danger import Cause, CauseKind
from coatledger.answers.promises.endangers import named
from coatledger.answers.promises.outlook import OpenPromise
from coatledger.events import bare, finish, judging, leaving, orders, room_gun, setup
from coatledger.events.about import EventVoided
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, EventAmended
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import Reader

PAGE = 500
# Of what was recorded since then at most so much is looked through, the newest.
ROWS_MOST = 10_000
EVENTS_MOST = 20
# By how much a room's air must have changed to be worth naming: common practice, no published
# source. A recommended range is some 8 degrees and 35 % wide.
AIR_C, AIR_RH_PCT = 3.0, 10.0

_OF_PIECES: Mapping[type[Fact], tuple[CauseKind, str]] = MappingProxyType({
    judging.ReworkStarted: ("rework", "in rework"),
    judging.DefectFound: ("rework", "a defect was found"),
    leaving.DamageReported: ("rework", "damaged"),
    leaving.Returned: ("rework", "came back"),
    leaving.Scrapped: ("rework", "scrapped"),
    judging.Held: ("held", "held"),
    bare.PieceExpected: ("joinery", "expected from the joinery"),
})  # fmt: skip

# What is thrown away as any can or mix is one day endangers nothing.
_SPOILT = frozenset(("past_use_by", "frozen", "contaminated"))


class Span(NamedTuple):
    """Between which places it is looked: after the one at which a promise was sound."""

    after: int
    after_us: int
    now_us: int


class _Found(NamedTuple):
    kind: CauseKind
    says: str
    event: UUID


class Mine(Struct, frozen=True):
    """What belongs to a promise: its order and the words of its pieces, and whether anybody saw it
    in no danger since it was made."""

    promise: OpenPromise
    pieces: frozenset[str]
    was_sound: bool


def causes_of(reader: Reader, mine: Mine, span: Span) -> tuple[Cause, ...]:
    """Say what changed, what befell the promise's own pieces first. When nothing did, it is late:
    the days went by.

    *Reference:* the facts themselves, by their kinds; no share of the loss is given to each.
    *Valid:* what was recorded after the place at which the promise was last sound.
    """
    found: dict[tuple[CauseKind, str], list[UUID]] = {}
    rooms: dict[str, UUID] = {}
    for row in _rows(reader, span.after):
        fact = _meant(reader, row)
        if isinstance(fact, room_gun.ClimateRead):
            rooms[fact.room] = row.event_id
        one = None if fact is None else _judged(fact, mine, row.event_id)
        if one is not None:
            found.setdefault((one.kind, one.says), []).append(one.event)
    for air in _air(reader, rooms, span):
        found.setdefault((air.kind, air.says), []).append(air.event)
    told = [
        Cause(kind=kind, says=says, events=tuple(events[-EVENTS_MOST:]))
        for (kind, says), events in found.items()
    ]
    return tuple(sorted(told, key=lambda one: _ORDER.index(one.kind))) or (_late(mine),)


_ORDER: tuple[CauseKind, ...] = (
    "rework", "held", "joinery", "pieces", "drying", "order", "people", "hours", "finish",
    "climate", "described", "others", "late",
)  # fmt: skip


def _rows(reader: Reader, after: int) -> Iterator[Row]:
    after = max(after, reader.head().size - ROWS_MOST)
    while page := reader.rows(after, PAGE):
        yield from page
        after = page[-1].position


def _meant(reader: Reader, row: Row) -> Fact | None:
    """Return what a row says happened; a correction speaks of what it corrects."""
    event = recorded(row).event
    if isinstance(event, EventAmended):
        return event.replacement
    if isinstance(event, EventVoided):
        original = reader.by_id((event.original,)).get(event.original)
        fact = None if original is None else recorded(original).event
        return fact if isinstance(fact, Fact) and not isinstance(fact, CORRECTIONS) else None
    return event


def _judged(fact: Fact, mine: Mine, event: UUID) -> _Found | None:
    """Say what a fact does to a promise, or None for one that has nothing to do with it."""
    words = sorted(mine.pieces.intersection(getattr(fact, "pieces", ())))
    if type(fact) in _OF_PIECES and words:
        kind, says = _OF_PIECES[type(fact)]
        return _Found(kind, f"{says}: {named(words)}", event)
    match fact:
        case judging.Inspected() if words and not fact.passed:
            return _Found("rework", f"did not pass: {named(words)}", event)
        case orders.OrderChanged() if fact.order == mine.promise.order:
            return _Found("order", "the order was changed", event)
        case setup.PersonAbsent():
            until = "" if fact.until is None else f" until {fact.until.date().isoformat()}"
            return _Found("people", f"{fact.person} is away{until}", event)
        case setup.ClosureAnnounced() if not fact.cancelled:
            days = f"{fact.first_day} to {fact.last_day}"
            return _Found("hours", f"the shop is closed {days}", event)
        case setup.ShopDescribed():
            return _Found("hours", "the shop was described otherwise", event)
        case orders.PieceAllotted() if words and fact.order != mine.promise.order:
            return _Found("pieces", f"given away: {named(words)}", event)
        case finish.LotDiscarded() if fact.why not in _SPOILT:
            return None
        case finish.LotDiscarded() | finish.LotFrozen():
            what = "discarded" if isinstance(fact, finish.LotDiscarded) else "frozen"
            return _Found("finish", f"can {fact.lot} {what}", event)
        case setup.ProductDescribed() | setup.ScheduleDescribed() | setup.OfferingDescribed():
            return _Found("described", "products or schedules were described otherwise", event)
        case orders.PromiseMade() | orders.PromiseRevised():
            return _ahead(fact, mine.promise, event)
        case _:
            return None


def _ahead(
    fact: orders.PromiseMade | orders.PromiseRevised, promise: OpenPromise, event: UUID
) -> _Found | None:
    if fact.order == promise.order or fact.ships_by > promise.latest.ships_by:
        return None
    return _Found("others", "other orders were promised for the same day or sooner", event)


def _air(reader: Reader, rooms: Mapping[str, UUID], span: Span) -> Iterator[_Found]:
    for room, event in rooms.items():
        then = reader.climate_before(room, span.after_us)
        now = reader.climate_before(room, span.now_us)
        if then is None or now is None:
            continue
        if abs(now.air_c - then.air_c) >= AIR_C or abs(now.rh_pct - then.rh_pct) >= AIR_RH_PCT:
            says = (
                f"the air in {room}: {then.air_c:.1f} °C and {then.rh_pct:.0f} % before,"
                f" {now.air_c:.1f} °C and {now.rh_pct:.0f} % now"
            )
            yield _Found("climate", says, event)


def _late(mine: Mine) -> Cause:
    begun = f": {mine.promise.not_begun} not begun" if mine.promise.not_begun else ""
    if not mine.was_sound:
        return Cause(kind="late", says=f"the day it was promised for was never likely{begun}")
    return Cause(kind="late", says=f"nothing befell it, and the days went by{begun}")


def span_since(position: int, at: datetime, now_us: int) -> Span:
    """Make the span from a place at which a promise was sound to now."""
    return Span(position, micros(at), now_us)
