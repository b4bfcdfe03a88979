"""What would save a promise: each way is simulated with the same luck, the cheapest enough first.

Ways are work in another order, sending part of it first, an hour more a day, and a Saturday.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta

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
from coatledger.computations.simulate import Simulated, quantile_day
from coatledger.computations.simulate_shop import Batch, OpenShop

# Less than this of a chance is the luck of so few replications and no help.
GAIN_LEAST = 0.03
_LAST_HOUR = 22
# An order loses its chance when it falls by more than chance alone makes it fall.
_LOSS = 0.05


class Try(Struct, frozen=True):
    """A way: the shop then, which part of the order has to ship by the day, and what it costs."""

    way: WayKind
    says: str
    shop: OpenShop
    keys: tuple[str, ...]
    hours: float


def rescues(found: Ahead, promise: OpenPromise, keys: Sequence[str], seed: int) -> tuple[
    Rescue, ...
]:  # fmt: skip
    """Try each way and tell those that help, the cheapest that is enough at the head.

    *Reference:* `computations.simulate`, the same draws for each batch as without the way.
    *Valid:* a promise something of which is still to be done; what waits packed is not hurried.
    """
    mine = frozenset(keys)
    day, level = promise.latest.ships_by, max(promise.latest.level_pct / 100.0, LEVEL_LEAST)
    as_it_is = run(found.shop, seed, REPLICATIONS_FOR_WAYS)
    if not isinstance(as_it_is, Simulated) or of_orders(as_it_is, sorted(mine)) is None:
        return ()
    had = _chance(as_it_is, tuple(sorted(mine)), day)
    told = []
    for one in _ways(found, promise, mine, seed):
        then = run(one.shop, seed, REPLICATIONS_FOR_WAYS)
        if not isinstance(then, Simulated):
            continue
        chance = _chance(then, one.keys, day)
        if chance < had + GAIN_LEAST:
            continue
        harmed = _harmed(found.shop, as_it_is, then, mine)
        told.append(
            Rescue(way=one.way, says=_says(one, then, sorted(mine), level), chance=chance,
                   hours=one.hours, enough=chance >= level, harms=harmed)
        )  # fmt: skip
    return tuple(sorted(told, key=lambda one: (not one.enough, bool(one.harms), one.hours)))


def _chance(found: Simulated, keys: Sequence[str], day: date) -> float:
    ships = of_orders(found, keys)
    return 0.0 if ships is None else chance_by(ships, day)


def _says(one: Try, then: Simulated, keys: Sequence[str], level: float) -> str:
    if one.way != "split":
        return one.says
    rest = of_orders(then, [key for key in then.orders if key.split("#")[0] in keys])
    assert rest is not None, "what was parted is in the shop"
    return f"{one.says}, the rest by {quantile_day(rest, level).isoformat()}"


def _ways(found: Ahead, promise: OpenPromise, mine: frozenset[str], seed: int) -> Iterator[Try]:
    shop, day = found.shop, promise.latest.ships_by
    today = local_date(shop.now, shop.hours.zone)
    keys = tuple(sorted(mine))
    first = tuple(replace(b, due=min(b.due, today)) if b.order in mine else b for b in shop.batches)
    yield Try(
        "order_of_work", "do it before everything else", replace(shop, batches=first), keys, 0.0
    )
    parted = _parted(shop, mine, day, seed, promise.latest.level_pct)
    if parted is not None:
        yield parted
    longer = _longer(shop)
    if longer is not None:
        days = _working_days(shop, today, day)
        says = f"work an hour longer on each of {days} days"
        yield Try("extra_hour", says, longer, keys, float(days))
    for way in ways_of(found.facts, shop, (), (), ("saturday",)):
        hours = max(open_h(shop, weekday) for weekday in range(1, 8))
        yield Try("saturday", way.says, way.shop, keys, hours)


def _parted(
    shop: OpenShop, mine: frozenset[str], day: date, seed: int, level_pct: float
) -> Try | None:
    """Let each batch of it ship alone, and send as many as make the day at the level."""
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
    if len(pieces) < 2:
        return None
    alone = replace(shop, batches=tuple(batches))
    found = run(alone, seed, REPLICATIONS_FOR_WAYS)
    if not isinstance(found, Simulated):
        return None
    level = max(level_pct / 100.0, LEVEL_LEAST)
    likeliest = sorted(pieces, key=lambda key: -_chance(found, (key,), day))
    ends = range(len(likeliest) - 1, 0, -1)
    sent = next((s for n in ends if _chance(found, s := likeliest[:n], day) >= level), None)
    if sent is None:
        return None
    says = f"ship {sum(pieces[key] for key in sent)} of {sum(pieces.values())} by {day.isoformat()}"
    return Try("split", says, alone, tuple(sent), 0.0)


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
