"""When would it ship? A quote simulates the whole open shop with what is asked for in it.

It stores nothing. The new order stands behind every order that has a date and before what is made
for stock. The same question at the same place, with the same seed and engine, has the same answer.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ways import WAYS, Way, ways_of
from coatledger.computations.calendar import NeverOpen
from coatledger.computations.drying import Spread
from coatledger.computations.simulate import ENGINE, Simulated, Spent, quantile_day, simulate
from coatledger.computations.simulate_shop import Batch, Impossible, OpenShop
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import Wanted, batch_of, lacking
from coatledger.open_shop.drying import NO_FACTORS
from coatledger.open_shop.known import STOCK_DUE, Known, known
from coatledger.open_shop.shop_now import shop_now, that_fit
from coatledger.subjects.asked import Asked, iso

LEVELS_PCT = (50.0, 80.0, 90.0, 95.0)
REPLICATIONS, REPLICATIONS_FOR_WAYS = 1_000, 200
ORDER = "asked-for"


class Quantile(Struct, frozen=True, kw_only=True):
    """The first day by which it ships with this chance."""

    level_pct: float
    ships_by: date


class Takes(Struct, frozen=True, kw_only=True):
    """Where the days go on average, for the batch that is last: elapsed time, nights and all."""

    queue_days: float
    hands_on_days: float
    drying_days: float
    cure_days: float
    rework_days: float
    pick_up_days: float


class Earlier(Struct, frozen=True, kw_only=True):
    """What would make it earlier, and the day at the same level then."""

    way: str
    says: str
    ships_by: date


class Quote(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """When something would ship. `missing` names why there is no date; then nothing else is told.

    `chance` is the share of replications that ship by `ships_by`, which is often more than the
    level: things leave on pick-up days only.
    """

    position: int
    as_of: datetime | None
    engine: str = ENGINE
    seed: int = 0
    replications: int = 0
    level_pct: float = 0.0
    ships_by: date | None = None
    chance: float = 0.0
    quantiles: tuple[Quantile, ...] = ()
    takes: Takes | None = None
    earlier: tuple[Earlier, ...] = ()
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


def quote(
    reader: Reader, asked: Asked, wanted: Sequence[Wanted], *, seed: int = 1,
    replications: int = REPLICATIONS, wanted_by: date | None = None,
    holidays: Iterable[date] = (), factors: Mapping[str, Spread] = NO_FACTORS,
    ways: Iterable[str] = WAYS,
) -> Quote:  # fmt: skip
    """Quote several lines that ship together; one way to ask for less is to ask for each alone.

    *Reference:* `computations.simulate`. *Valid:* a shop with hours, people and pick-up days, and
    offerings, schedules and products that are described; else `missing` names what is not.
    """
    place = Quote(position=asked.position(reader), as_of=iso(asked.now_us))
    view = asked.view(reader)
    described = view.shop()
    if described is None:
        return replace(place, missing=("shop_described",))
    lacks = [text for text, there in (
        ("hours in shop_described", described.hours),
        ("people in shop_described", described.people),
        ("pick-up days in shop_described", described.pickup_days),
        ("what is asked for", wanted),
    ) if not there]  # fmt: skip
    facts = known(reader, asked, described, factors)
    lacks += [text for one in wanted for text in lacking(facts, one)]
    if lacks:
        return replace(place, missing=tuple(dict.fromkeys(lacks)))
    days = tuple(holidays)
    shop = shop_now(reader, asked, facts, days, factors)
    asked_for = _asked_for(facts, shop, wanted, wanted_by)
    if not asked_for:
        return replace(place, missing=("work in the schedule of what is asked for",))
    whole = replace(shop, batches=(*shop.batches, *asked_for))
    try:
        found = simulate(whole, seed, replications, (ORDER,))
    except (Impossible, NeverOpen) as never:
        told = never.faults if isinstance(never, Impossible) else (str(never),)
        return replace(place, missing=told)
    level = described.service_level_pct / 100.0
    return replace(
        _told(place, found, level), seed=seed, replications=replications,
        level_pct=described.service_level_pct,
        earlier=_earlier(facts, shop, asked_for, wanted, seed, level, tuple(ways)),
        assumed=tuple(facts.assumed),
    )  # fmt: skip


def _asked_for(
    facts: Known, shop: OpenShop, wanted: Sequence[Wanted], wanted_by: date | None
) -> tuple[Batch, ...]:
    """Return what is asked for as batches that stand behind everything that has a date."""
    dated = [batch.due for batch in shop.batches if batch.due < STOCK_DUE]
    today = shop.now.date()
    due = wanted_by or max((*dated, today), default=today)
    found = (
        batch_of(facts, one, f"asked-for:{n}", ORDER, shop.now, due)
        for n, one in enumerate(wanted, 1)
    )
    return that_fit(tuple(b for b in found if b is not None), facts.described.rack_places)


def _told(place: Quote, found: Simulated, level: float) -> Quote:
    ships = found.ships_on[found.row(ORDER)]
    ships_by = quantile_day(ships, max(level, 1e-9))
    (_, spent), *_ = found.spent
    return replace(
        place,
        ships_by=ships_by,
        chance=float(np.mean(ships <= ships_by.toordinal())),
        quantiles=tuple(
            Quantile(level_pct=pct, ships_by=quantile_day(ships, pct / 100.0)) for pct in LEVELS_PCT
        ),
        takes=_takes(spent),
    )


def _takes(spent: Spent) -> Takes:
    def days(minutes: float) -> float:
        return round(minutes / 1_440.0, 3)

    return Takes(
        queue_days=days(spent.queue_min), hands_on_days=days(spent.hands_on_min),
        drying_days=days(spent.drying_min), cure_days=days(spent.cure_min),
        rework_days=days(spent.again_min), pick_up_days=days(spent.pick_up_min),
    )  # fmt: skip


def _earlier(
    facts: Known, shop: OpenShop, asked_for: tuple[Batch, ...], wanted: Sequence[Wanted],
    seed: int, level: float, ways: tuple[str, ...],
) -> tuple[Earlier, ...]:  # fmt: skip
    """Try each way with the same luck, and tell those that bring the day forward."""
    if not ways:
        return ()

    def day(one: Way) -> date:
        whole = replace(one.shop, batches=(*one.shop.batches, *one.asked_for))
        found = simulate(whole, seed, REPLICATIONS_FOR_WAYS)
        return quantile_day(found.ships_on[found.row(ORDER)], max(level, 1e-9))

    as_it_is = day(Way("as it is", "", shop, asked_for))
    found = ((one, day(one)) for one in ways_of(facts, shop, asked_for, wanted, ways))
    return tuple(
        Earlier(way=one.way, says=one.says, ships_by=at) for one, at in found if at < as_it_is
    )
