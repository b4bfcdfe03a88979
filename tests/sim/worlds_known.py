"""What a shop knows at a moment: its open work as a `Shop`, and its history to learn from.

Made only from what the ledger held then, so late entries, sickness and closures told late mislead
it as they would mislead a real shop. The operations are as planned: learning from history how long
things really take is the part of whoever quotes.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import log1p
from statistics import NormalDist
from typing import TypeVar

from shop_spec import AT_ONCE, CURING, RACK, Batch, InHand, Range, Shop, places_taken
from simpy_chance import Z90, value_min
from wall_clock import MINUTE
from worlds import Order, World, known_stretches
from worlds_history import JobDone, Judged, WaitSeen, histories, in_weather
from worlds_truth import DAY, Entry, Lived, day_of, since_start

NORMAL = NormalDist()
T = TypeVar("T")


@dataclass(frozen=True)
class Shipped:
    order: str
    ordered_at: datetime
    ships_at: datetime


@dataclass(frozen=True)
class Known:
    """What is known at `shop.now`, the order that is asked for among it."""

    shop: Shop
    kinds: Mapping[str, str]
    orders: tuple[Order, ...]  # all taken so far
    jobs: tuple[JobDone, ...]
    waits: tuple[WaitSeen, ...]
    judged: tuple[Judged, ...]
    shipped: tuple[Shipped, ...]


class Ledger:
    """A lived world, asked for what was known at one order after another."""

    def __init__(self, lived: Lived) -> None:
        self.lived, self.world = lived, lived.world
        self.steps = {batch.id: batch.operations for o in self.world.orders for batch in o.batches}
        self.shipped = sorted(
            (lived.ships[order.id], order.id, order.ordered_at) for order in self.world.orders
        )
        self.histories = histories(lived)
        self.of_batch: dict[str, list[Entry]] = {}
        for entry in lived.entries:
            self.of_batch.setdefault(entry.batch, []).append(entry)
        self.sprays = [e for e in lived.entries if e.what == "began" and e.gun]

    def known_at(self, order: Order) -> Known:
        """Return what was known as an order was taken."""
        now, world = order.ordered_at, self.world
        at = since_start(world, now)
        orders = tuple(o for o in world.orders if o.ordered_at <= now)
        people = tuple(
            replace(person, absences=known_stretches(world.absences, now, person.id))
            for person in world.shop.people
        )
        plain = replace(
            world.shop,
            now=now,
            closures=known_stretches(world.closures, now),
            people=people,
            guns=tuple(replace(g, holds=self._held(g.id, at)) for g in world.shop.guns),
        )
        gone = self.shipped[: bisect_right(self.shipped, at, key=lambda row: row[0])]
        jobs, waits, judged = self.histories
        return Known(
            shop=replace(plain, batches=self._open_batches(plain, orders, at)),
            kinds={b.id: world.kinds[b.id] for o in orders for b in o.batches},
            orders=orders,
            jobs=_by(jobs, at),
            waits=_by(waits, at),
            judged=_by(judged, at),
            shipped=tuple(
                Shipped(name, ordered, self.lived.clock.moment(ships))
                for ships, name, ordered in gone
            ),
        )

    def _held(self, gun: str, at: int) -> str:
        told = self.sprays[: bisect_right(self.sprays, at, key=lambda entry: entry.recorded)]
        used = [entry for entry in told if entry.gun == gun]
        if not used:
            return ""
        last = max(used, key=lambda entry: entry.number)
        return self.steps[last.batch][last.index].product

    def _open_batches(self, plain: Shop, orders: Sequence[Order], at: int) -> tuple[Batch, ...]:
        states = []
        for order in orders:
            if self.lived.ships[order.id] < at - 7 * DAY:
                continue  # whatever was late has been written down since
            for batch in order.batches:
                told = [e for e in self.of_batch.get(batch.id, ()) if e.recorded <= at]
                told.sort(key=lambda entry: entry.number)
                if state := _state(batch, told, at, self.lived):
                    states.append((told[-1].number if told else -1, state))
        return _consistent(plain, states)


def _by(rows: Sequence[tuple[int, T]], at: int) -> tuple[T, ...]:
    count = bisect_right(rows, at, key=lambda row: row[0])
    return tuple(item for _, item in rows[:count])


def rest_of(span: Range, passed_min: float) -> Range:
    """Return what is left of a range after a time in which it has not ended, by its own chances."""
    if passed_min <= 0.0:
        return span
    middle = log1p(span.p50)
    up, down = log1p(span.p90) - middle, middle - log1p(span.p10)
    off = log1p(passed_min) - middle
    slope = up if off >= 0.0 else down
    before = NORMAL.cdf(off * Z90 / slope) if slope else float(off >= 0.0)
    if before > 0.9999:  # long overdue: it is as good as over
        return Range(0.0, 0.0, 0.0)
    levels = (before + q * (1.0 - before) for q in (0.1, 0.5, 0.9))
    left = (max(0.0, value_min(span, NORMAL.inv_cdf(q)) - passed_min) for q in levels)
    return Range(*sorted(left))


def _state(batch: Batch, told: Sequence[Entry], at: int, lived: Lived) -> Batch | None:
    """Return a batch as far as its entries tell; None when it is finished."""
    if not told:
        passed = (at - since_start(lived.world, batch.ordered_at)) / MINUTE
        return replace(batch, ready_in=rest_of(batch.ready_in, passed))
    batch = _sent_back(replace(batch, ready_in=AT_ONCE), told)
    last = told[-1]
    if last.what == "finished":
        return None
    if last.what == "supplied":
        return batch
    if last.what == "began":
        return _in_hand(batch, last, at, lived)
    if last.what == "ended":
        return _after(batch, last.index, last.at, at, lived.world)
    if last.what == "back" and last.scrap:
        lead = rest_of(lived.world.shop.joinery_lead, (at - last.at) / MINUTE)
        return replace(batch, ready_in=lead)
    back = batch.operations[last.index].back
    return replace(batch, position=last.index - back if last.what == "back" else last.index + 1)


def _sent_back(batch: Batch, told: Sequence[Entry]) -> Batch:
    left, rounds = [*batch.left_now()], [*batch.rounds_now()]
    for entry in told:
        if entry.what == "back":
            target = entry.index - batch.operations[entry.index].back
            left[target : entry.index + 1] = [entry.pieces] * (entry.index + 1 - target)
            if entry.scrap:
                left[:target] = [entry.scrap] * target
            rounds[entry.index] += 1
    return replace(batch, left=tuple(left), rounds_done=tuple(rounds))


def _in_hand(batch: Batch, began: Entry, at: int, lived: Lived) -> Batch:
    step = batch.operations[began.index]
    planned = step.setup_min + step.piece_min * began.pieces
    worked = lived.clock.worked_between(began.at, at) / MINUTE
    job = InHand(began.person, max(planned - worked, 0.15 * planned), step.spread, began.gun)
    return replace(batch, position=began.index, in_hand=job)


def _after(batch: Batch, index: int, ended: int, at: int, world: World) -> Batch | None:
    """Return a batch whose operation has ended: it waits, or it is ready for the next one."""
    if index + 1 == len(batch.operations):
        return None
    step, after = batch.operations[index], replace(batch, position=index + 1, in_hand=None)
    if step.wait is None:
        return after
    weather = world.nature.weather
    expected = in_weather(step.wait, weather[day_of(weather, ended)])
    left = rest_of(expected, (at - ended) / MINUTE)
    held = step.place if left.p90 > 0.0 else ""
    return replace(after, ready_in=left, ready_is_wait=True, place_held=held)


def _consistent(shop: Shop, states: Sequence[tuple[int, Batch]]) -> tuple[Batch, ...]:
    """Give up what cannot be true at once: an end not written down shows by a later beginning."""
    people: set[str] = set()
    guns: set[str] = set()
    free = {RACK: shop.rack_places, CURING: shop.curing_places}
    holds = {gun.id: gun.holds for gun in shop.guns}
    kept = []
    for _, state in sorted(states, key=lambda numbered: -numbered[0]):
        if job := state.in_hand:
            product = state.operations[state.position].product
            taken = job.gun in guns or len(guns) == shop.booth_places
            if job.person in people or (job.gun and (taken or holds[job.gun] != product)):
                ended = replace(state, in_hand=None, position=state.position + 1)
                if ended.position == len(ended.operations):
                    continue
                state = ended
            else:
                people.add(job.person)
                guns.update({job.gun} - {""})
        if state.place_held and not _fits(state, free):
            state = replace(state, place_held="")
        for kind in free:
            free[kind] -= places_taken(state, kind)
        kept.append(state)
    return tuple(sorted(kept, key=lambda batch: batch.id))


def _fits(batch: Batch, free: Mapping[str, int]) -> bool:
    return all(places_taken(batch, kind) <= free[kind] for kind in free)
