"""One order's promise: every day it was told, what has left and when, and whether it was kept."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Literal
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.outlook import OpenPromise
from coatledger.computations.calendar import local_date
from coatledger.events.leaving import HandedOver, Shipped
from coatledger.events.orders import CustomerTold, PromiseMade, PromiseRevised
from coatledger.ledger.correct import Placed, history
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.judged import left_on
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.order import Order
from coatledger.subjects.order_lines import LineStands, lines_of

Outcome = Literal["open", "kept", "late", "overdue", "cancelled"]
_TOLD = ("promise_made", "promise_revised", "customer_told")
_LEFT = ("shipped", "handed_over")


class TimeTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One word to the customer: a day, a later one and why, or news and what they chose."""

    event: UUID
    position: int
    told_at: datetime
    line: str | None = None
    ships_by: date | None = None
    level_pct: float | None = None
    chance_pct: float | None = None
    why: str | None = None
    about: str | None = None
    chose: str | None = None


class Part(Struct, frozen=True, kw_only=True):
    """Pieces of a line that left on one day."""

    shipped_on: date
    pieces: tuple[str, ...]


class LineStory(Struct, frozen=True, kw_only=True):
    """One line: how many were ordered, what of it left when, and the day its rest is promised for.

    `outcome` looks at the first day told, by which a promise is scored; an order of which that day
    is over and something is still here is overdue.
    """

    line: str
    quantity: int
    parts: tuple[Part, ...]
    packed: tuple[str, ...]
    under_way: tuple[str, ...]
    not_begun: int
    rest: int
    first: date | None
    latest: date | None
    outcome: Outcome


class PromiseStory(Struct, frozen=True, kw_only=True):
    """An order and its promise. `now` is what it is worth at present, while something is open."""

    position: int
    as_of: datetime | None
    order: str
    stage: str
    together: bool
    wanted_by: date | None
    taken_at: datetime | None
    told: tuple[TimeTold, ...]
    lines: tuple[LineStory, ...]
    outcome: Outcome
    now: tuple[OpenPromise, ...]


def story(
    reader: Reader, asked: Asked, word: str, now: Iterable[OpenPromise]
) -> PromiseStory | None:
    """Tell an order's promise; None when nobody took such an order by then."""
    view = asked.view(reader)
    order = view.order(word)
    if order.stage == "unborn":
        return None
    described = view.shop()
    zone = "UTC" if described is None else described.zone
    facts = history(
        reader, f"order:{word}", known=asked.known, until_us=asked.now_us, types=(*_TOLD, *_LEFT)
    )
    left = left_on(facts, zone)
    today = local_date(moment(asked.now_us), zone)
    lines = tuple(_line(order, stands, left, today) for stands in lines_of(order, view.piece))
    return PromiseStory(
        position=asked.position(reader), as_of=iso(asked.now_us), order=word, stage=order.shelf,
        together=order.together,
        wanted_by=None if order.wanted_by is None else date.fromisoformat(order.wanted_by),
        taken_at=iso(order.taken_us), told=tuple(_told(one) for one in facts if not _leaves(one)),
        lines=lines, outcome=_worst([line.outcome for line in lines]), now=tuple(now),
    )  # fmt: skip


def _leaves(placed: Placed) -> bool:
    return isinstance(placed.fact, Shipped | HandedOver)


def _told(placed: Placed) -> TimeTold:
    fact = placed.fact
    assert isinstance(fact, PromiseMade | PromiseRevised | CustomerTold)
    base = TimeTold(
        event=fact.id, position=placed.position, told_at=moment(placed.at_us), line=fact.line
    )
    if isinstance(fact, CustomerTold):
        return replace(base, about=fact.about, chose=fact.chose)
    day = replace(base, ships_by=fact.ships_by, level_pct=fact.level_pct)
    if isinstance(fact, PromiseMade):
        return replace(day, chance_pct=fact.chance_pct)
    return replace(day, why=fact.why)


def _line(order: Order, stands: LineStands, left: Mapping[str, date], today: date) -> LineStory:
    told = order.told_of(stands.line)
    first = date.fromisoformat(told[0].ships_by) if told else None
    days: dict[date, list[str]] = {}
    for piece in stands.shipped:
        if piece in left:
            days.setdefault(left[piece], []).append(piece)
    return LineStory(
        line=stands.line, quantity=stands.quantity,
        parts=tuple(Part(shipped_on=day, pieces=tuple(p)) for day, p in sorted(days.items())),
        packed=stands.packed, under_way=stands.under_way, not_begun=stands.not_begun,
        rest=stands.rest, first=first,
        latest=date.fromisoformat(told[-1].ships_by) if told else None,
        outcome=_outcome(order, stands, first, max(days, default=None), today),
    )  # fmt: skip


def _outcome(
    order: Order, stands: LineStands, first: date | None, last: date | None, today: date
) -> Outcome:
    if stands.rest and order.stage == "cancelled":
        return "cancelled"
    if first is None:
        return "open"
    if stands.rest:
        return "overdue" if first < today else "open"
    return "late" if last is not None and last > first else "kept"


def _worst(outcomes: Sequence[Outcome]) -> Outcome:
    order: tuple[Outcome, ...] = ("cancelled", "overdue", "late", "open", "kept")
    return next((one for one in order if one in outcomes), "open")
