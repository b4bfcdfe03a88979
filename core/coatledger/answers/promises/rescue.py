"""What would save a promise: each way is simulated with the same luck, the cheapest enough first.

Ways are work in another order, sending part of it first, an hour more a day, and a Saturday.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import cached_property

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import Ahead, chance_by, of_orders, run
from coatledger.answers.promises.danger import Rescue, WayKind
from coatledger.answers.promises.outlook import OpenPromise
from coatledger.answers.promises.place import days_given
from coatledger.answers.promises.quote import LEVEL_LEAST, REPLICATIONS_FOR_WAYS
from coatledger.answers.promises.ways import open_h, ways_of
from coatledger.computations.calendar import Opening, local_date
from coatledger.computations.simulate.forward import Simulated, quantile_day
from coatledger.computations.simulate.shop import Batch, OpenShop

# Less than this of a chance is the luck of so few replications and no help.
GAIN_LEAST = 0.03
_LAST_HOUR = 22
# An order loses its chance when it falls by more than chance alone makes it fall.
_LOSS = 0.05


class Try(Struct, frozen=True):
    """A way: what the shop comes to then (None: it cannot be), which part of the order has to ship
    by the day, and what it costs."""

    way: WayKind
    says: str
    then: Simulated | None
    keys: tuple[str, ...]
    hours: float


class Rescuer:
    """Tries ways for the promises of one shop; what is the same for each is simulated once."""

    def __init__(self, found: Ahead, seed: int) -> None:
        self._found, self._shop, self._seed = found, found.shop, seed
        self._saturday = tuple(ways_of(found.facts, self._shop, (), (), ("saturday",)))

    def rescues(self, promise: OpenPromise, keys: Sequence[str]) -> tuple[Rescue, ...]:
        """Try each way and tell those that help, the cheapest that is enough at the head.

        *Reference:* `computations.simulate`, the same draws for each batch as without the way.
        *Valid:* a promise something of which is still to be done; what waits packed is not hurried.
        """
        mine, as_it_is = tuple(sorted(keys)), self._as_it_is
        day, level = promise.latest.ships_by, max(promise.latest.level_pct / 100.0, LEVEL_LEAST)
        if as_it_is is None or of_orders(as_it_is, mine) is None:
            return ()
        least = _chance(as_it_is, mine, day) + GAIN_LEAST
        told = []
        for one in self._ways(promise, mine):
            chance = 0.0 if one.then is None else _chance(one.then, one.keys, day)
            if one.then is not None and chance >= least:
                harmed = _harmed(self._shop, as_it_is, one.then, frozenset(mine))
                told.append(
                    Rescue(way=one.way, says=_says(one, one.then, mine, level), chance=chance,
                           hours=one.hours, enough=chance >= level, harms=harmed)
                )  # fmt: skip
        return tuple(sorted(told, key=lambda one: (not one.enough, bool(one.harms), one.hours)))

    def _ways(self, promise: OpenPromise, mine: tuple[str, ...]) -> Iterator[Try]:
        shop, day = self._shop, promise.latest.ships_by
        today = local_date(shop.now, shop.hours.zone)
        first = tuple(
            replace(b, due=min(b.due, today)) if b.order in mine else b for b in shop.batches
        )
        then = self._run(replace(shop, batches=first))
        yield Try("order_of_work", "do it before everything else", then, mine, 0.0)
        parted = self._parted(frozenset(mine), day, promise.latest.level_pct)
        if parted is not None:
            yield parted
        days = _working_days(shop, today, day)
        says = f"work an hour longer on each of {days} days"
        yield Try("extra_hour", says, self._hour_longer, mine, float(days))
        for way in self._saturday:
            hours = max(open_h(shop, weekday) for weekday in range(1, 8))
            yield Try("saturday", way.says, self._with_saturday, mine, hours)

    @cached_property
    def _as_it_is(self) -> Simulated | None:
        return self._run(self._shop)

    @cached_property
    def _hour_longer(self) -> Simulated | None:
        longer = _longer(self._shop)
        return None if longer is None else self._run(longer)

    @cached_property
    def _with_saturday(self) -> Simulated | None:
        return self._run(self._saturday[0].shop)

    def _run(self, shop: OpenShop) -> Simulated | None:
        found = run(shop, self._seed, REPLICATIONS_FOR_WAYS)
        return found if isinstance(found, Simulated) else None

    def _parted(self, mine: frozenset[str], day: date, level_pct: float) -> Try | None:
        """Let each batch of it ship alone, and send as many as make the day at the level."""
        alone, pieces = _apart(self._shop, mine)
        if len(pieces) < 2:
            return None
        then = self._run(alone)
        if then is None:
            return None
        level = max(level_pct / 100.0, LEVEL_LEAST)
        likeliest = sorted(pieces, key=lambda key: -_chance(then, (key,), day))
        ends = range(len(likeliest) - 1, 0, -1)
        sent = next((s for n in ends if _chance(then, s := likeliest[:n], day) >= level), None)
        if sent is None:
            return None
        some, every = sum(pieces[key] for key in sent), sum(pieces.values())
        return Try("split", f"ship {some} of {every} by {day.isoformat()}", then, tuple(sent), 0.0)


def _chance(found: Simulated, keys: Sequence[str], day: date) -> float:
    ships = of_orders(found, keys)
    return 0.0 if ships is None else chance_by(ships, day)


def _says(one: Try, then: Simulated, keys: Sequence[str], level: float) -> str:
    if one.way != "split":
        return one.says
    rest = of_orders(then, [key for key in then.orders if key.split("#")[0] in keys])
    assert rest is not None, "what was parted is in the shop"
    return f"{one.says}, the rest by {quantile_day(rest, level).isoformat()}"


def _apart(shop: OpenShop, mine: frozenset[str]) -> tuple[OpenShop, Mapping[str, int]]:
    """Let each batch of some orders ship alone, and say of how many pieces each is."""
    batches: list[Batch] = []
    pieces: dict[str, int] = {}
    for batch in shop.batches:
        for part in _halves(batch) if batch.order in mine else (batch,):
            if batch.order in mine:
                key = f"{batch.order}#{len(pieces)}"
                pieces[key] = part.pieces
                batches.append(replace(part, order=key))
            else:
                batches.append(part)
    return replace(shop, batches=tuple(batches)), pieces


def _halves(batch: Batch) -> tuple[Batch, ...]:
    """Part what nobody has begun; what is under way moves together."""
    if batch.pieces < 2 or batch.position or batch.members or batch.left or batch.in_hand:
        return (batch,)
    half = batch.pieces // 2
    return (
        replace(batch, pieces=half),
        replace(batch, id=f"{batch.id}#2", pieces=batch.pieces - half),
    )


def _longer(shop: OpenShop) -> OpenShop | None:
    """Close an hour later on each day that ends in time for it."""
    last: Mapping[int, time] = {
        weekday: max(o.closes for o in shop.hours.openings if o.weekday == weekday)
        for weekday in {o.weekday for o in shop.hours.openings if o.closes != time(0)}
    }
    openings = tuple(_hour_more(o) if _ends_day(o, last) else o for o in shop.hours.openings)
    if openings == shop.hours.openings:
        return None
    return replace(shop, hours=replace(shop.hours, openings=openings))


def _ends_day(opening: Opening, last: Mapping[int, time]) -> bool:
    return opening.closes == last.get(opening.weekday) and opening.closes.hour <= _LAST_HOUR


def _hour_more(opening: Opening) -> Opening:
    later = datetime.combine(date.min, opening.closes) + timedelta(hours=1)
    return Opening(opening.weekday, opening.opens, later.time())


def _working_days(shop: OpenShop, today: date, day: date) -> int:
    closed = {local_date(one.starts_at, shop.hours.zone) for one in shop.closures}
    working = {opening.weekday for opening in shop.hours.openings}
    span = (today + timedelta(days=n) for n in range(max((day - today).days + 1, 1)))
    return sum(one.isoweekday() in working and one not in closed for one in span)


def _harmed(
    shop: OpenShop, as_it_is: Simulated, then: Simulated, mine: frozenset[str]
) -> tuple[str, ...]:
    """Name orders with a day that would lose clearly of their chance of it."""
    losing = []
    for order, day in days_given(shop).items():
        if order in mine:
            continue
        before, after = (
            float(np.mean(found.ships_on[found.row(order)] <= day.toordinal()))
            for found in (as_it_is, then)
        )
        if after < before - _LOSS:
            losing.append(order)
    return tuple(sorted(losing))
