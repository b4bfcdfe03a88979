"""Where what is asked for stands among the work there is: behind it, or before what can wait.

Nobody who was given a day pays for it. What is asked for stands behind every order that has a day,
unless it can leave sooner than the last of them without taking from any of them the chance that
they were promised; then it stands where its own day puts it.
"""

from collections.abc import Mapping
from datetime import date, timedelta

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import Ahead, of_orders, run
from coatledger.computations.calendar import local_date
from coatledger.computations.simulate.forward import Simulated, quantile_day
from coatledger.computations.simulate.shop import Batch, Likely, OpenShop
from coatledger.open_shop.asked_for import Wanted, batch_of
from coatledger.open_shop.known import STOCK_DUE
from coatledger.open_shop.shop_now import in_jobs, that_fit

ORDER = "asked-for"
NO_WORK = ("work in the schedule of what is asked for",)


class Asking(Struct, frozen=True, kw_only=True):
    """What is asked for, and with what luck it is looked at. It is begun `begins_in_min` minutes
    from now at the soonest: that is how a day is found that is true until then."""

    wanted: tuple[Wanted, ...]
    together: bool
    wanted_by: date | None
    seed: int
    replications: int
    level: float
    begins_in_min: float = 0.0

    @property
    def keys(self) -> tuple[str, ...]:
        """Name what ships at once: all of it, or each line."""
        if self.together:
            return (ORDER,)
        return tuple(f"{ORDER}:{n}" for n in range(1, len(self.wanted) + 1))


def place(found: Ahead, asking: Asking) -> Simulated | tuple[str, ...]:
    """Simulate the shop with what is asked for at its place, or say why it never can be done.

    *Reference:* the rule above, judged with the same luck as without it. *Valid:* as `quote`.
    """
    batches = stand_behind(found, asking)
    if {batch.order for batch in batches} != set(asking.keys):
        return NO_WORK
    behind = _with(found, batches, asking)
    if not isinstance(behind, Simulated):
        return behind
    last, day = batches[0].due, _day(behind, asking)
    wish = asking.wanted_by
    sooner = wish if wish is not None and wish < day else day
    if sooner >= last:
        return behind
    before = _with(found, tuple(replace(batch, due=sooner) for batch in batches), asking)
    if not isinstance(before, Simulated) or _day(before, asking) > sooner:
        return behind
    return behind if _harms(found.shop, behind, before, asking.level) else before


def stand_behind(found: Ahead, asking: Asking) -> tuple[Batch, ...]:
    """Return what is asked for as batches that stand behind everything that has a date."""
    shop, keys = found.shop, asking.keys
    today = local_date(shop.now, shop.hours.zone)
    sure = (batch for batch in shop.batches if batch.chance >= 1.0)
    dated = max((batch.due for batch in sure if batch.due < STOCK_DUE), default=None)
    due = today if dated is None else max(dated + timedelta(days=1), today)
    batches = (
        batch_of(found.facts, one, f"{ORDER}:{n}", keys[0 if asking.together else n - 1],
                 shop.now, due)
        for n, one in enumerate(asking.wanted, 1)
    )  # fmt: skip
    fitting = that_fit(in_jobs(batches), found.facts.described.rack_places)
    return tuple(_later(batch, asking.begins_in_min) for batch in fitting)


def days_given(shop: OpenShop) -> Mapping[str, date]:
    """Return by when each order is due that is sure to come and is not for stock."""
    due: dict[str, date] = {}
    for batch in shop.batches:
        if batch.due < STOCK_DUE and batch.chance >= 1.0:
            due[batch.order] = min(batch.due, due.get(batch.order, batch.due))
    return due


def _later(batch: Batch, much_min: float) -> Batch:
    if not much_min:
        return batch
    lead = batch.ready_in
    later = Likely(lead.p10 + much_min, lead.p50 + much_min, lead.p90 + much_min)
    return replace(batch, ready_in=later)


def _with(found: Ahead, batches: tuple[Batch, ...], asking: Asking) -> Simulated | tuple[str, ...]:
    whole = replace(found.shop, batches=(*found.shop.batches, *batches))
    return run(whole, asking.seed, asking.replications, asking.keys)


def _day(found: Simulated, asking: Asking) -> date:
    ships = of_orders(found, asking.keys)
    assert ships is not None
    return quantile_day(ships, asking.level)


def _harms(shop: OpenShop, behind: Simulated, before: Simulated, level: float) -> bool:
    """Whether an order that has a day loses what it had of it: down to the level it may fall."""
    due = days_given(shop)
    rows = [behind.row(order) for order in due]
    days = np.array([day.toordinal() for day in due.values()], dtype=np.int64)[:, None]
    had = np.mean(behind.ships_on[rows] <= days, axis=1)
    has = np.mean(before.ships_on[[before.row(order) for order in due]] <= days, axis=1)
    return bool((has < np.minimum(had, level)).any())
