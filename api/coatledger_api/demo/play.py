"""The whole play: six weeks of the invented shop as posts in order of time, made from one seed.

Nothing is random but through the generator passed in, and nothing asks the time: the same seed and
the same `now` give the same facts with the same ids.
"""

import random
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from coatledger.events.catalogue import AnyEvent
from coatledger.events.orders import OrderTaken, PromiseMade
from msgspec.structs import replace

from coatledger_api.demo import chores, mistakes, opening
from coatledger_api.demo.cans import Cans
from coatledger_api.demo.floor import Floor
from coatledger_api.demo.log import Entry, Log
from coatledger_api.demo.orders import Book
from coatledger_api.demo.released import batches
from coatledger_api.demo.shop import Shop
from coatledger_api.demo.weather import weather
from coatledger_api.demo.workdays import workdays
from coatledger_api.selling.asked import AskedLine, PromiseAsked

SEED: Final = 20
WINDOW: Final = timedelta(minutes=10)
FACTS_MAX: Final = 400


class Post(NamedTuple):
    """What one device sends in one go; `fast_by` is how much its clock was fast. `asks` is sent
    instead of facts where the web shop asks the service for a date and promises it."""

    at: datetime
    device: str
    fast_by: timedelta
    facts: tuple[AnyEvent, ...]
    asks: PromiseAsked | None = None

    @property
    def facts_made(self) -> int:
        """How many facts come of it: a promise is an order taken, and the day it was told."""
        return len(self.facts) if self.asks is None else 2


def play(seed: int, now: datetime) -> tuple[Post, ...]:
    """Return every post of the six weeks up to now, in order of time."""
    shop = _empty_shop(seed, now)
    opening.stocked(shop)
    opening.times_away(shop)
    scripts = [
        chores.mornings(shop), chores.evenings(shop), chores.deliveries(shop),
        shop.book.pickups(shop.days.at(0, "07:00")),
        shop.book.shelf_sales(shop.days.at(4, "20:10")),
    ]  # fmt: skip
    for script in scripts:
        shop.floor.begin(script, urgency=1)
    shop.floor.run(batches(shop), now)
    chores.logger(shop, now)
    mistakes.without_signal(shop)
    mistakes.corrected(shop)
    mistakes.settled(shop)
    return tuple(_posts(shop, shop.log.done_by(now)))


def _empty_shop(seed: int, now: datetime) -> Shop:
    rng = random.Random(seed)
    days = workdays(now)
    log = Log(rng)
    sheets = opening.described(log, days)
    return Shop(
        rng=rng, days=days, log=log, floor=Floor(days), cans=Cans(log), air=weather(rng, days),
        book=Book(log, days), products=sheets,
    )  # fmt: skip


def _posts(shop: Shop, entries: tuple[Entry, ...]) -> Iterator[Post]:
    """Send each fact as its device does: what belongs together in time goes in one request."""
    waiting: list[Entry] = []
    for entry in entries:
        if _is_asked_for(shop, entry):
            if waiting:
                yield _post(shop, waiting)
                waiting = []
            if isinstance(entry.fact, OrderTaken):
                yield Post(entry.post_at, entry.device, timedelta(), (), _asked(entry.fact))
            continue
        if waiting and (
            entry.post_at - waiting[0].post_at > WINDOW
            or mistakes.sent_offset(shop, entry) != mistakes.sent_offset(shop, waiting[0])
            or len(waiting) == FACTS_MAX
        ):
            yield _post(shop, waiting)
            waiting = []
        waiting.append(entry)
    if waiting:
        yield _post(shop, waiting)


def _is_asked_for(shop: Shop, entry: Entry) -> bool:
    """Whether a fact is written by the service, which is asked for its order's date."""
    fact = entry.fact
    return isinstance(fact, OrderTaken | PromiseMade) and fact.order in shop.book.quoted


def _asked(taken: OrderTaken) -> PromiseAsked:
    lines = tuple(
        AskedLine(line=one.line, quantity=one.quantity, sku=one.sku, offering=one.offering)
        for one in taken.lines
    )
    return PromiseAsked(
        order=taken.order, lines=lines, wanted_by=taken.wanted_by, customer=taken.customer,
        price=taken.price, currency=taken.currency,
    )  # fmt: skip


def _post(shop: Shop, entries: list[Entry]) -> Post:
    fast_by = mistakes.sent_offset(shop, entries[0])
    facts = tuple(_as_sent(e.fact, fast_by) for e in entries)
    return Post(entries[-1].post_at, entries[0].device, fast_by, facts)


def _as_sent(fact: AnyEvent, fast_by: timedelta) -> AnyEvent:
    """A device whose clock is fast writes later times than it was."""
    if not fast_by:
        return fact
    ended = fact.ended_at + fast_by if fact.ended_at else None
    return replace(fact, occurred_at=fact.occurred_at + fast_by, ended_at=ended)
