"""Quote the orders of many worlds as they came, and judge the promises when the worlds are over.

The one who quotes is a parameter: it gets what was known, the order's id and a generator, and gives
a table of ship dates with the chance of each.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from judging import (
    Flow,
    Promise,
    ShopScore,
    Table,
    by_tenth,
    chance_error,
    kept_share,
    lead_ratios,
    promised,
    score_shops,
)
from worlds import WEEKS, Order, world
from worlds_known import Known, Ledger
from worlds_replay import Replay, table
from worlds_truth import DAY, Lived, live, since_start

LEVELS = (0.80, 0.95)

Quote = Callable[[Known, str, np.random.Generator], Table]


@dataclass(frozen=True)
class WorldJudged:
    """One world's promises at every level, and the flow of its orders."""

    seed: int
    promises: tuple[Promise, ...]
    flow: Flow


def judge_world(
    quote: Quote | Callable[[Lived], Quote], seed: int, every: int = 1, knowing: bool = False
) -> WorldJudged:
    """Quote every so-manieth order of a world; a `knowing` quoter is made for the world itself."""
    lived = live(world(seed))
    ask: Quote = quote(lived) if knowing else quote  # type: ignore[call-arg, arg-type, assignment]
    ledger = Ledger(lived)
    promises: list[Promise] = []
    for number, order in enumerate(lived.judged()[::every]):
        rng = np.random.Generator(np.random.PCG64((80, seed, number)))
        table = ask(ledger.known_at(order), order.id, rng)
        promises += [_promise(lived, order, table, level) for level in LEVELS]
    return WorldJudged(seed, tuple(promises), flow(lived))


def judge_replayed(seed: int, replications: int, every: int = 1, weeks: int = WEEKS) -> WorldJudged:
    """Play a world into a ledger and let the product itself quote, as it would have then."""
    lived = live(world(seed))
    promises = [
        _promise(lived, order, table(told), level)
        for order, told in Replay(lived, replications, every, weeks).quotes()
        for level in LEVELS
    ]
    return WorldJudged(seed, tuple(promises), flow(lived))


def _promise(lived: Lived, order: Order, table: Table, level: float) -> Promise:
    day, chance = promised(table, level)
    ordered = lived.clock.local_date(since_start(lived.world, order.ordered_at))
    ships = lived.ship_date(order.id)
    return Promise(lived.world.seed, order.id, level, ordered, day, chance, ships)


def flow(lived: Lived) -> Flow:
    """Return the orders up to the end of the half year."""
    until = lived.world.judged_until
    orders = [order for order in lived.world.orders if order.ordered_at < until]
    taken = [since_start(lived.world, order.ordered_at) for order in orders]
    leads = [
        (lived.ship_date(order.id) - lived.clock.local_date(at)).days
        for order, at in zip(orders, taken, strict=True)
    ]
    return Flow(
        orders=[order.id for order in orders],
        ordered_at=[at / DAY for at in taken],
        shipped_at=[lived.ships[order.id] / DAY for order in orders],
        true_leads=np.array(leads, dtype=np.int64),
    )


@dataclass(frozen=True)
class Report:
    """What `measure promise` prints: the figures, and a row a shop and level."""

    figures: Mapping[str, float]
    shops: Mapping[int, tuple[ShopScore, ...]]
    dishonest_tenths: int


def report(judged: Iterable[WorldJudged]) -> Report:
    """Return the figures of all worlds; of the two levels' lead ratios, the worse one."""
    worlds = list(judged)
    flows = {each.seed: each.flow for each in worlds}
    figures: dict[str, float] = {}
    shops: dict[int, tuple[ShopScore, ...]] = {}
    ratios, tenths = [], 0
    for level in LEVELS:
        name = round(level * 100)
        chosen = [p for each in worlds for p in each.promises if p.level == level]
        figures[f"kept_{name}"] = kept_share(chosen)
        figures[f"chance_error_{name}"] = chance_error(chosen)
        shops[name] = score_shops(chosen, flows)
        ratios.append(lead_ratios(shops[name]))
        figures[f"lead_vs_fixed_{name}"], figures[f"lead_vs_past_quantile_{name}"] = ratios[-1]
        tenths += sum(not tenth.honest for tenth in by_tenth(chosen))
    figures["lead_vs_fixed"] = max(fixed for fixed, _ in ratios)
    figures["lead_vs_past_quantile"] = max(past for _, past in ratios)
    return Report(figures, shops, tenths)
