"""From an order's word to a promise: what is to be recorded, computed so that nobody else is sold
the same capacity, and what was recorded, told the same way every time.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from hashlib import sha256
from uuid import UUID

import msgspec
from coatledger.answers.promises.ahead import REPLICATIONS
from coatledger.answers.promises.made import Basis, promises_of
from coatledger.answers.promises.ordered import quote_of_order
from coatledger.answers.promises.quote import Quote
from coatledger.answers.promises.shelved import made_of
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.ledger.batch import Condition
from coatledger.ledger.record import micros, recorded
from coatledger.ledger.store import Reader
from coatledger.open_shop.shelf import words_on_shelf
from coatledger.refusal import refuse
from coatledger.subjects.asked import ask
from coatledger.subjects.order import Order
from coatledger_adapters.holds import Held
from coatledger_adapters.public_holidays import calendar_versions
from msgspec import Struct

from coatledger_api.problems import ProblemError
from coatledger_api.selling.asked import ADDRESSES, PromiseAsked, digest, lines_of
from coatledger_api.selling.holding import OWN, Wish, placed, require_by
from coatledger_api.selling.pricing import (
    PRICED,
    Priced,
    in_force,
    require_nothing_missing,
    world_of,
)
from coatledger_api.service import Service

_OWN_HOLD = timedelta(minutes=2)


class MeanwhileError(Exception):
    """Another call about the same order or hold was sooner: look again."""


class Ready(Struct, frozen=True, kw_only=True):
    """What is to be recorded, on which condition, and the hold that ends with it. Without events
    the order was promised by the same call before."""

    events: tuple[OrderTaken | PieceAllotted | PromiseMade, ...] = ()
    conditions: tuple[Condition, ...] = ()
    hold: str | None = None


class Standing(Struct, frozen=True, kw_only=True):
    """An order as it stands: its state, the last position that named it, since when it is known,
    and the digests of the calls that promised it."""

    order: Order
    named: int
    taken_at: int
    promised_by: tuple[str | None, ...]


def needs_no_simulation(service: Service, asked: PromiseAsked) -> bool:
    """Whether the date is known already: the hold is live, or the order was promised before."""
    now_us = micros(service.clock())
    held = None if asked.hold is None else service.holds.find(asked.hold)
    if held is not None and held.is_live(now_us):
        return True
    with service.store.reading() as reader:
        return bool(_standing(service, reader, asked.order).promised_by)


def prepare(service: Service, asked: PromiseAsked) -> Ready:
    """Find the date to be promised and everything that goes with it, or refuse."""
    with service.store.reading() as reader:
        there = _standing(service, reader, asked.order)
    if there.promised_by:
        if there.promised_by[0] != digest(asked):
            detail = f"order {asked.order} has a promise of another call"
            raise ProblemError("promised_otherwise", detail)
        return Ready()
    if asked.order in ADDRESSES:
        detail = f"/v1/promises/{asked.order} is no order's address: give the order another word"
        raise refuse("invalid", "/order", detail)
    if there.order.stage == "cancelled":
        raise refuse("impossible_order", "/order", f"order {asked.order} is cancelled")
    if asked.hold is not None:
        return _from_hold(service, asked, there)
    if there.order.stage == "unborn":
        return _from_lines(service, asked, there)
    return _of_order(service, asked, there)


def recorded_promises(reader: Reader, order: str) -> tuple[tuple[PromiseMade, int, int], ...]:
    """Return the promises of an order as they were recorded, with their positions and times."""
    rows = (recorded(row) for row in reader.of_subject(f"order:{order}", types=("promise_made",)))
    found = [
        (row.event, row.position, micros(row.recorded_at))
        for row in rows
        if isinstance(row.event, PromiseMade)
    ]
    return tuple(sorted(found, key=lambda one: one[1]))


def _standing(service: Service, reader: Reader, word: str) -> Standing:
    subject = f"order:{word}"
    fold = reader.folds((subject,)).get(subject)
    taken = reader.of_subject(subject, types=("order_taken",))
    made = recorded_promises(reader, word)
    return Standing(
        order=ask(reader, service.clock()).view(reader).order(word),
        named=0 if fold is None else fold.position,
        taken_at=min((row.position for row in taken), default=0),
        promised_by=tuple(one.asked_sha256 for one, *_ in made),
    )


def _from_hold(service: Service, asked: PromiseAsked, there: Standing) -> Ready:
    if asked.lines is not None:
        raise refuse("invalid", "/lines", "what was held is promised; lines belong to the hold")
    assert asked.hold is not None
    held = service.holds.find(asked.hold)
    if held is None or held.hold.startswith(OWN):
        raise ProblemError("not_found", f"no hold {asked.hold}")
    priced = PRICED.decode(held.quote)
    if held.taken_for not in (None, asked.order):
        raise ProblemError("hold_taken", f"{held.hold} is of order {held.taken_for}")
    if there.order.stage != "unborn":
        _require_same_lines(there, priced.lines)
        if there.taken_at <= priced.quote.position:
            raise ProblemError("promised_otherwise", f"order {asked.order} was taken before")
    require_by(priced.quote, asked.no_later_than)
    now_us = micros(service.clock())
    if held.is_live(now_us):
        if not service.holds.take(held.hold, asked.order, now_us):
            raise MeanwhileError
        return _ready(service, asked, there, priced, held.hold)
    if held.taken_for == asked.order and held.ended_us is not None:
        raise MeanwhileError
    return _after_hold(service, asked, there, priced)


def _after_hold(service: Service, asked: PromiseAsked, there: Standing, was: Priced) -> Ready:
    """The hold is over: what was held is promised where it can still be kept at the level."""
    days = _days(was.quote)
    held_day = was.quote.ships_by

    def judge(told: Quote) -> None:
        if any(day > days[line] for line, day in _days(told).items()):
            detail = f"{asked.hold} ended, and {held_day} can no longer be kept"
            raise ProblemError("hold_over", detail, quote=msgspec.to_builtins(told))

    own = _own_hold(service, asked, was.lines, together=was.together, wanted_by=held_day)
    now = placed(service, own, judge)
    return _claimed(service, asked, there, now, days)


def _from_lines(service: Service, asked: PromiseAsked, there: Standing) -> Ready:
    if asked.lines is None:
        raise ProblemError(
            "not_found", f"no order {asked.order} was taken: promise it from lines or a hold"
        )
    own = _own_hold(
        service, asked, lines_of(asked.lines), together=asked.together, wanted_by=asked.wanted_by
    )
    held = placed(service, own, lambda told: require_by(told, asked.no_later_than))
    return _claimed(service, asked, there, held, {})


def _of_order(service: Service, asked: PromiseAsked, there: Standing) -> Ready:
    """Promise an order that was taken before: it has its place in the shop already."""
    if asked.lines is not None:
        _require_same_lines(there, lines_of(asked.lines))
    with service.simulations.selling:
        holds = service.holds.standing(micros(service.clock())).holds
        with service.store.reading() as reader:
            there = _standing(service, reader, asked.order)
            place = ask(reader, service.clock())
            before = in_force(reader, place, holds)
            told = quote_of_order(
                reader, place, asked.order, world=world_of(service, reader, place, before),
                seed=asked.seed, replications=REPLICATIONS,
            )  # fmt: skip
            described = place.view(reader).shop()
    require_nothing_missing(told)
    require_by(told, asked.no_later_than)
    priced = Priced(
        quote=told, lines=there.order.lines, together=there.order.together, holds=before,
        calendar=calendar_versions(None if described is None else described.holidays),
    )  # fmt: skip
    return _ready(service, asked, there, priced, None)


def _own_hold(
    service: Service, asked: PromiseAsked, lines: tuple[OrderLine, ...], *, together: bool,
    wanted_by: date | None,
) -> Wish:  # fmt: skip
    """What is promised at once is held first, so that it is sold as a hold is: to one only."""
    return Wish(
        hold=OWN + asked.order, lines=lines, together=together, wanted_by=wanted_by,
        seed=asked.seed, until=service.clock() + _OWN_HOLD, asked_sha256=digest(asked),
    )  # fmt: skip


def _claimed(
    service: Service, asked: PromiseAsked, there: Standing, held: Held,
    days: Mapping[str | None, date],
) -> Ready:  # fmt: skip
    if not service.holds.take(held.hold, asked.order, micros(service.clock())):
        raise MeanwhileError
    return _ready(service, asked, there, PRICED.decode(held.quote), held.hold, days)


def _ready(
    service: Service, asked: PromiseAsked, there: Standing, priced: Priced, hold: str | None,
    days: Mapping[str | None, date] | None = None,
) -> Ready:  # fmt: skip
    now = service.clock()
    basis = Basis(
        order=asked.order, at=now, calendar=priced.calendar, holds=priced.holds, days=days or {},
        asked_sha256=digest(asked), id_of=lambda line: _id(service, asked.order, f"made:{line}"),
    )  # fmt: skip
    made = promises_of(priced.quote, basis)
    taken = () if there.order.stage != "unborn" else (
        OrderTaken(
            id=_id(service, asked.order, "taken"), occurred_at=now, source="storefront",
            order=asked.order, lines=priced.lines, customer=asked.customer,
            wanted_by=asked.wanted_by, together=priced.together, price=asked.price,
            currency=asked.currency,
        ),
    )  # fmt: skip
    condition = Condition(subject=f"order:{asked.order}", after=there.named)
    given, untouched = _off_the_shelf(service, asked.order, priced, now)
    return Ready(
        events=(*taken, *given, *made), conditions=(condition, *untouched), hold=hold
    )  # fmt: skip


def _off_the_shelf(
    service: Service, order: str, priced: Priced, now: datetime
) -> tuple[tuple[PieceAllotted, ...], tuple[Condition, ...]]:
    """Give the order the pieces that its quote found on the shelf, while nobody touches them. Where
    they are gone meanwhile the day stands, and the shop sees that it is not kept by itself."""
    quantities = {line.line: line.quantity for line in priced.lines if line.line in
                  priced.quote.on_shelf} | dict(priced.quote.from_shelf)  # fmt: skip
    made = {word: name for word, name in made_of(priced.lines).items() if word in quantities}
    if not made:
        return (), ()
    facts, conditions = list[PieceAllotted](), list[Condition]()
    with service.store.reading() as reader:
        words = words_on_shelf(reader, ask(reader, now), made.values())
        free = {name: list(found) for name, found in words.items()}
        for line, name in made.items():
            taken, free[name] = free[name][: quantities[line]], free[name][quantities[line] :]
            if len(taken) < quantities[line]:
                continue
            facts.append(
                PieceAllotted(
                    id=_id(service, order, f"allotted:{line}"), occurred_at=now,
                    source="storefront", pieces=tuple(taken), order=order, line=line,
                )
            )  # fmt: skip
            folds = reader.folds(tuple(f"piece:{word}" for word in taken))
            conditions += [
                Condition(subject=name, after=fold.position) for name, fold in folds.items()
            ]
    return tuple(facts), tuple(conditions)


def _id(service: Service, order: str, what: str) -> UUID:
    """Make the same id for the same fact on every machine, so that a call sent twice at once is one
    fact: by its form a UUIDv8, of a hash (RFC 9562, section 5.8)."""
    told = f"{service.store.shop}\n{order}\n{what}".encode()
    bits = int.from_bytes(sha256(told).digest()[:16])
    return UUID(int=bits & ~(0xF << 76) & ~(0b11 << 62) | (8 << 76) | (0b10 << 62))


def _days(told: Quote) -> dict[str | None, date]:
    """Return the days of a quote: that of the whole, or those of the lines that ship alone."""
    assert told.ships_by is not None
    if told.lines:
        return {one.line: one.ships_by for one in told.lines}
    return {None: told.ships_by}


def _require_same_lines(there: Standing, lines: Sequence[OrderLine]) -> None:
    if tuple(there.order.lines) != tuple(lines):
        detail = f"order {there.order.order} was taken with other lines"
        raise ProblemError("promised_otherwise", detail)
