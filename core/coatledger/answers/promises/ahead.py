"""The open shop with every hold in force, run forward: what quotes and promises are read from.

A hold is work that somebody may still take. It stands like an order that was promised its day, so
that nobody else is sold the same hours; but it is no event, and ends by the clock.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.calendar import NeverOpen, local_date, next_pick_up
from coatledger.computations.drying import Spread
from coatledger.computations.simulate.forward import Simulated, quantile_day, simulate
from coatledger.computations.simulate.shop import Batch, Impossible, OpenShop
from coatledger.events.orders import HoldBefore
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import batch_of, order_key, wanted_of
from coatledger.open_shop.drying import NO_FACTORS
from coatledger.open_shop.known import Known, known
from coatledger.open_shop.shelf import held_on_shelf
from coatledger.open_shop.shop_now import in_jobs, shop_now, that_fit
from coatledger.open_shop.to_come import with_what_may_come
from coatledger.subjects.asked import Asked
from coatledger.subjects.order import Order

LEVELS_PCT = (50.0, 80.0, 90.0, 95.0)
REPLICATIONS = 1_000
Days = npt.NDArray[np.int64]


class World(Struct, frozen=True, kw_only=True):
    """From what a question about ship dates is answered, beside the ledger: the public holidays,
    what the clocks have learned, and the holds in force, in the order they were placed."""

    holidays: frozenset[date] = frozenset()
    factors: Mapping[str, Spread] = NO_FACTORS
    holds: tuple[HoldBefore, ...] = ()


class Ahead(Struct, frozen=True, kw_only=True):
    """The shop as it can be simulated, with what it was read from. `lacks` names what a shop needs
    before it can promise anything; it is then as described, but not to be simulated."""

    facts: Known
    shop: OpenShop
    lacks: tuple[str, ...] = ()


class Quantile(Struct, frozen=True, kw_only=True):
    """The first day by which it ships with this chance or more; `chance` is that of the day."""

    level_pct: float
    ships_by: date
    chance: float


def ahead(reader: Reader, asked: Asked, world: World) -> Ahead | None:
    """Read the open shop with its holds; None when nobody described the shop."""
    described = asked.view(reader).shop()
    if described is None:
        return None
    facts = known(reader, asked, described, world.factors)
    known_work = shop_now(reader, asked, facts, world.holidays, world.factors)
    shop = with_what_may_come(facts, known_work)
    taken = held_on_shelf(reader, asked, world.holds)
    held = tuple(batch for hold in world.holds for batch in _held(facts, hold, taken))
    lacks = (
        ("hours in shop_described", described.hours),
        ("people in shop_described", described.people),
        ("pick-up days in shop_described", described.pickup_days),
    )
    return Ahead(
        facts=facts,
        shop=replace(shop, batches=(*shop.batches, *held)),
        lacks=tuple(text for text, there in lacks if not there),
    )


def run(
    shop: OpenShop, seed: int, replications: int, watched: Sequence[str] = ()
) -> Simulated | tuple[str, ...]:
    """Simulate a shop, or say in words why its work can never be done."""
    if not shop.batches:
        nothing = np.empty((0, replications), dtype=np.int64)
        return Simulated(orders=(), ready_min=nothing, ships_on=nothing)
    try:
        return simulate(shop, seed, replications, tuple(watched))
    except (Impossible, NeverOpen) as never:
        return never.faults if isinstance(never, Impossible) else (str(never),)


def quantiles_of(ships: Days) -> tuple[Quantile, ...]:
    """Return the days at the levels that are always told."""
    days = ((pct, quantile_day(ships, pct / 100.0)) for pct in LEVELS_PCT)
    return tuple(
        Quantile(level_pct=pct, ships_by=day, chance=chance_by(ships, day)) for pct, day in days
    )


def chance_by(ships: Days, day: date) -> float:
    """Return the share of the replications that have shipped by the end of a day."""
    return float(np.mean(ships <= day.toordinal()))


def of_orders(found: Simulated, keys: Iterable[str]) -> Days | None:
    """Return when the last of several orders ships; None when nothing of them is still to do."""
    rows = [found.ships_on[found.row(key)] for key in keys if key in found.orders]
    if not rows:
        return None
    last: Days = np.maximum.reduce(rows)
    return last


def keys_of(order: Order, line: str | None) -> tuple[str, ...]:
    """Name what an order, or one line of it, is called in the simulated shop. Pieces that were
    given to no line count for each of them."""
    if order.together:
        return (order_key(order, None),)
    lines = [one.line for one in order.lines if line in (None, one.line)]
    return tuple(order_key(order, one) for one in (*lines, None))


def leaves_next(shop: OpenShop) -> date:
    """Return the next pick-up day: when that leaves which is packed and only waits."""
    pick_up = next_pick_up(
        shop.now, shop.pick_up_weekdays, shop.cut_off, shop.hours.zone, shop.closures
    )
    return local_date(pick_up, shop.hours.zone)


def _held(
    facts: Known, hold: HoldBefore, taken: Mapping[tuple[str, str], int]
) -> tuple[Batch, ...]:
    """What is held and does not stand on the shelf has to be made."""
    name = f"hold:{hold.hold}"
    found = (
        batch_of(
            facts, replace(wanted_of(line), quantity=lacking), f"{name}:{line.line}", name,
            hold.placed_at, hold.ships_by,
        )
        for line in hold.lines
        if (lacking := line.quantity - taken.get((hold.hold, line.line), 0))
    )  # fmt: skip
    return that_fit(in_jobs(found), facts.described.rack_places)
