"""The whole open shop simulated forward, many replications in step: when each order is ready, and
on which pick-up day it leaves.

Seeded and replayed to the byte: the same shop, seed and engine version give the same whole minutes
and dates. What is served first is an explicit rule, see `step`.
"""

from collections.abc import Callable
from datetime import date
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from coatledger.computations.calendar import HORIZON_DAYS, NeverOpen
from coatledger.computations.ranges import require
from coatledger.computations.recalibration import recalibrated
from coatledger.computations.simulate.away import spells
from coatledger.computations.simulate.calendar import NEVER, Laid, lay
from coatledger.computations.simulate.compiled import COMPILES
from coatledger.computations.simulate.draws import Luck, lucks
from coatledger.computations.simulate.jobs import begin
from coatledger.computations.simulate.numbers import fixed, moving
from coatledger.computations.simulate.shop import OpenShop, require_possible
from coatledger.computations.simulate.state import State
from coatledger.computations.simulate.step import step
from coatledger.computations.simulate.tables import HANDS, MINUTE_S, Ints, Tables, tables
from coatledger.computations.simulate.watch import Watch

# Raised with any change that may change one draw, one rule or one date.
ENGINE = "open-shop-5"
# A replication of so many operations is drawn at once; this bounds the memory of a run.
CELLS_MAX = 4_000_000
REPLICATIONS_MAX = 100_000
_STEPS_MAX = 50_000_000

Run = Callable[[OpenShop, Tables, Laid, Luck, Watch], Ints]


class Spent(Struct, frozen=True):
    """Mean minutes of one order's last batch by kind, from now until it is ready."""

    queue_min: float
    hands_on_min: float
    drying_min: float
    cure_min: float
    again_min: float
    pick_up_min: float


class Simulated(Struct, frozen=True):
    """Whole minutes from now until each order is ready, and the ordinal of the day on which it
    ships, as often as is to be said of it; a row an order, a column a replication."""

    orders: tuple[str, ...]
    ready_min: npt.NDArray[np.int64]
    ships_on: npt.NDArray[np.int64]
    spent: tuple[tuple[str, Spent], ...] = ()

    def row(self, order: str) -> int:
        """Return the row of an order."""
        return self.orders.index(order)


def simulate(
    shop: OpenShop,
    seed: int,
    replications: int,
    watched: tuple[str, ...] = (),
    compiled: bool = COMPILES,
) -> Simulated:
    """Return what becomes of every order in so many replications; `watched` ones with the causes.

    `compiled` runs what a compiler made, see `compiled`; it changes no number.

    *Reference:* the open shop in words beside the tests' independent model. *Valid:* shops that are
    possible; refuses others, and calendars that end before the work does.
    """
    require_possible(shop)
    require("replications", replications, 1, REPLICATIONS_MAX, "the engine")
    table = tables(shop)
    days, run = _days(shop, table), _run_compiled if compiled else _run
    while True:
        laid = lay(shop, days)
        try:
            return _on_calendar(shop, table, laid, seed, replications, watched, run)
        except NeverOpen:
            if days >= HORIZON_DAYS:
                raise
            days = min(days * 3, HORIZON_DAYS)


def quantile_day(ships_on: npt.NDArray[np.int64], level: float) -> date:
    """Return the first day by which a share of the replications has shipped.

    *Reference:* the inverse of the empirical distribution. *Valid:* 0 < level <= 1.

    >>> quantile_day(np.array([738000, 738000, 738003, 738007]), 0.75).toordinal()
    738003
    """
    require("level", level, 1e-9, 1.0, "a quantile")
    at = int(np.ceil(level * ships_on.size - 1e-9)) - 1
    return date.fromordinal(int(np.partition(ships_on, at)[at]))


def _days(shop: OpenShop, table: Tables) -> int:
    """Guess how many days of calendar the work needs; too few are laid out again."""
    week = sum(
        ((o.closes.hour or 24) - o.opens.hour) * 60 - o.opens.minute for o in shop.hours.openings
    )
    work_min = float(table.base_s[table.asks >= HANDS].sum()) / MINUTE_S
    waits = np.expm1(table.y50 + 2.0 * table.high)
    longest = max((float(waits[a:b].sum()) for a, b in _spans(table)), default=0.0)
    lead = float(np.expm1(table.batch_lead[:, 0] + 2 * table.batch_lead[:, 2]).max(initial=0.0))
    expected = max((b.ready_in.p90 - b.passed_min for b in shop.batches), default=0.0)
    elapsed_min = 2 * work_min / max(week, 30) * 7 * 1440 + 2 * longest + lead + 2 * expected
    return min(40 + int(elapsed_min / 1440), HORIZON_DAYS)


def _spans(table: Tables) -> list[tuple[int, int]]:
    return list(pairwise([*(int(n) for n in table.batch_first), table.asks.size]))


def _on_calendar(
    shop: OpenShop,
    table: Tables,
    laid: Laid,
    seed: int,
    replications: int,
    watched: tuple[str, ...],
    run: Run,
) -> Simulated:
    at_once = max(1, min(replications, CELLS_MAX // max(table.asks.size, 1)))
    finishes, watches = [], []
    for luck in lucks(table, seed, shop.shop_share, replications, at_once, len(shop.people)):
        watch = Watch(table, frozenset(watched), luck.shop.size)
        finishes.append(run(shop, table, laid, luck, watch))
        watches.append(watch)
    finish = np.concatenate(finishes, axis=1)
    orders, ready = _orders(table, finish)
    found = laid.pick_ups.searchsorted(ready)
    if (found >= laid.pick_ups.size).any():
        raise NeverOpen(f"something is not picked up within {laid.days} days")
    return Simulated(
        orders=orders,
        ready_min=-(-ready // 60),
        ships_on=recalibrated(laid.pick_up_days[found], shop.said),
        spent=tuple((order, _spent(table, order, finish, laid, watches)) for order in watched),
    )


def _run_compiled(shop: OpenShop, table: Tables, laid: Laid, luck: Luck, watch: Watch) -> Ints:
    """Run one block of replications one after the other, compiled; the numbers are the same."""
    # The compiler takes a while to load, and only who simulates needs it.
    from coatledger.computations.simulate.kernel import run_all

    finish = np.full((len(table.batches), luck.shop.size), -1, dtype=np.int64)
    stands = fixed(shop, table, laid, luck, watch, spells(shop, laid, luck))
    run_all(stands, moving(shop, table), finish, watch.spent)
    return _ended(finish, laid)


def _run(shop: OpenShop, table: Tables, laid: Laid, luck: Luck, watch: Watch) -> Ints:
    """Run one block of replications to its end; return when each batch was finished."""
    state = State(shop, table, laid, luck, spells(shop, laid, luck))
    begin(state, watch, tuple(p.id for p in shop.people), tuple(g.id for g in shop.guns))
    steps = 0
    while step(state, watch):
        steps += 1
        assert steps < _STEPS_MAX, "a simulated shop does not come to an end"
    return _ended(state.finish.reshape(-1, state.count), laid)


def _ended(finish: Ints, laid: Laid) -> Ints:
    if ((finish < 0) | (finish >= NEVER)).any():
        raise NeverOpen(f"the work does not end within {laid.days} days")
    return finish


def _orders(table: Tables, finish: Ints) -> tuple[tuple[str, ...], Ints]:
    """An order is ready with its last batch."""
    orders = tuple(dict.fromkeys(batch.order for batch in table.batches))
    row = {order: n for n, order in enumerate(orders)}
    ready = np.zeros((len(orders), finish.shape[1]), dtype=np.int64)
    for batch, ends in zip(table.batches, finish, strict=True):
        np.maximum(ready[row[batch.order]], ends, out=ready[row[batch.order]])
    return orders, ready


def _spent(table: Tables, order: str, finish: Ints, laid: Laid, watches: list[Watch]) -> Spent:
    """Take the causes of the batch that finished last in each replication, on average."""
    rows = [n for n, batch in enumerate(table.batches) if batch.order == order]
    mine = [int(watches[0].row[n]) for n in rows]
    spent = np.concatenate([watch.spent[:, mine] for watch in watches], axis=2)
    last = finish[rows].argmax(axis=0)
    ready = finish[rows].max(axis=0)
    kinds = np.take_along_axis(spent, last[None, None, :], axis=1)[:, 0].mean(axis=1) / 60.0
    waits = (laid.pick_ups[laid.pick_ups.searchsorted(ready)] - ready).mean() / 60.0
    queue = ready.mean() / 60.0 - kinds.sum()
    hands, drying, cure, again = (float(minutes) for minutes in kinds)
    return Spent(float(queue), hands, drying, cure, again, float(waits))
