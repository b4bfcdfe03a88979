"""Placing a hold: price it behind all that stands, and keep it if nobody was sooner."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Literal

import msgspec
from coatledger.answers.promises.ahead import REPLICATIONS
from coatledger.answers.promises.quote import Quote
from coatledger.events.base import Moment
from coatledger.events.orders import OrderLine
from coatledger.ledger.record import micros, moment
from coatledger.subjects.asked import ask
from coatledger_adapters.holds import Held
from coatledger_adapters.public_holidays import calendar_versions
from msgspec import Struct

from coatledger_api.operations import ENCODER
from coatledger_api.problems import ProblemError
from coatledger_api.selling.asked import HoldAsked, digest, lines_of
from coatledger_api.selling.pricing import (
    PRICED,
    Priced,
    check_lines,
    in_force,
    price,
    world_of,
)
from coatledger_api.service import Service

HOLDS_MAX = 100
TRIES = 6
# A hold that a promise places for itself begins so, which no client's word does.
OWN = "~"
State = Literal["live", "being_promised", "promised", "over", "released"]


class Wish(Struct, frozen=True, kw_only=True):
    """What is to be held, and under which word."""

    hold: str
    lines: tuple[OrderLine, ...]
    together: bool
    wanted_by: date | None
    seed: int
    until: datetime
    asked_sha256: str
    asked: bytes = b"{}"


class Hold(Struct, frozen=True, kw_only=True):
    """Capacity that is kept until a time: everybody else stands behind it. `quote` is what it was
    placed with; `order` what it is or was promised to."""

    hold: str
    state: State
    placed_at: Moment
    until: Moment
    together: bool
    lines: tuple[OrderLine, ...]
    order: str | None
    quote: Quote


class Holds(Struct, frozen=True, kw_only=True):
    """The holds that count, in the order they were placed."""

    as_of: Moment
    holds: tuple[Hold, ...]


def place_hold(service: Service, asked: HoldAsked) -> tuple[Hold, bool]:
    """Hold what is asked for, or find that it is held already; whether it is new. Simulates."""
    now = service.clock()
    sha256 = digest(asked)
    there = service.holds.find(asked.hold)
    if there is not None:
        if there.asked_sha256 != sha256:
            raise ProblemError("hold_reused", f"{asked.hold} holds something else")
        return shown(there, micros(now)), False
    wish = Wish(
        hold=asked.hold, lines=lines_of(asked.lines), together=asked.together,
        wanted_by=asked.wanted_by, seed=asked.seed, asked_sha256=sha256,
        until=now + timedelta(minutes=asked.minutes), asked=ENCODER.encode(asked),
    )  # fmt: skip
    latest = asked.no_later_than
    held = placed(service, wish, lambda told: require_by(told, latest))
    return shown(held, micros(now)), True


def placed(service: Service, wish: Wish, judge: Callable[[Quote], None]) -> Held:
    """Price a wish and keep it; when somebody else was sooner, price it again behind them. `judge`
    refuses a quote that will not do."""
    with service.simulations.selling:
        for _ in range(TRIES):
            now_us = micros(service.clock())
            standing = service.holds.standing(now_us)
            if len(standing.holds) >= HOLDS_MAX:
                raise ProblemError("holds_full", f"{HOLDS_MAX} holds count at present")
            priced = _priced(service, wish, standing.holds)
            judge(priced.quote)
            held = service.holds.place(
                Held(
                    wish.hold, now_us, micros(wish.until), wish.asked_sha256, wish.asked,
                    ENCODER.encode(priced),
                ),
                standing.newest, priced.quote.position,
            )  # fmt: skip
            if held is not None:
                return held
            there = service.holds.find(wish.hold)
            if there is not None and there.is_live(now_us):
                return _same(there, wish)
    after = {"Retry-After": str(service.settings.retry_after_s)}
    raise ProblemError("busy", "others were sooner each time", headers=after)


def require_by(told: Quote, latest: date | None) -> None:
    """Refuse a quote that is later than the latest day that will do."""
    assert told.ships_by is not None
    if latest is not None and told.ships_by > latest:
        detail = f"at {told.level_pct:g} % it ships by {told.ships_by.isoformat()}"
        raise ProblemError("capacity_gone", detail, quote=msgspec.to_builtins(told))


def shown(held: Held, now_us: int) -> Hold:
    """Show a hold as it stands."""
    priced = PRICED.decode(held.quote)
    return Hold(
        hold=held.hold, state=_state(held, now_us), placed_at=moment(held.placed_us),
        until=moment(held.until_us), together=priced.together, lines=priced.lines,
        order=held.taken_for, quote=priced.quote,
    )  # fmt: skip


def _state(held: Held, now_us: int) -> State:
    if held.ended_us is not None:
        return "released" if held.taken_for is None else "promised"
    if not held.is_live(now_us):
        return "over"
    return "live" if held.taken_for is None else "being_promised"


def _same(there: Held, wish: Wish) -> Held:
    if there.asked_sha256 != wish.asked_sha256:
        raise ProblemError("hold_reused", f"{wish.hold} holds something else")
    return there


def _priced(service: Service, wish: Wish, holds: tuple[Held, ...]) -> Priced:
    with service.store.reading() as reader:
        place = ask(reader, service.clock())
        check_lines(reader, place, wish.lines)
        before = in_force(reader, place, holds)
        told = price(
            reader, place, wish.lines, world=world_of(service, reader, place, before),
            together=wish.together, wanted_by=wish.wanted_by, seed=wish.seed,
            replications=REPLICATIONS,
        )  # fmt: skip
        described = place.view(reader).shop()
    region = None if described is None else described.holidays
    return Priced(
        quote=told, lines=wish.lines, together=wish.together, holds=before,
        calendar=calendar_versions(region),
    )  # fmt: skip
