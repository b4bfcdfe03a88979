"""An order that stands in the ledger already: when it, or each of its lines, would ship."""

from datetime import date

import numpy as np
from msgspec.structs import replace

from coatledger.answers.promises.ahead import (
    REPLICATIONS,
    Ahead,
    Days,
    World,
    ahead,
    chance_by,
    keys_of,
    leaves_next,
    of_orders,
    quantiles_of,
    run,
)
from coatledger.answers.promises.correction import correction_of
from coatledger.answers.promises.quote import LEVEL_LEAST, Quote, line_quote
from coatledger.computations.simulate.forward import Simulated, quantile_day
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import lacking, wanted_of
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.order import Order


def quote_of_order(
    reader: Reader, asked: Asked, word: str, *, world: World, seed: int = 1,
    replications: int = REPLICATIONS,
) -> Quote:  # fmt: skip
    """Quote an order that was taken before: it stands where its own day puts it.

    *Reference:* `computations.simulate`. *Valid:* as `quote`, and an order that is open.
    """
    told = Quote(position=asked.position(reader), as_of=iso(asked.now_us))
    found = ahead(reader, asked, world)
    if found is None:
        return replace(told, missing=("shop_described",))
    order = found.facts.view.order(word)
    lacks = [*found.lacks]
    lacks += [text for line in order.lines for text in lacking(found.facts, wanted_of(line))]
    if lacks:
        return replace(told, missing=tuple(dict.fromkeys(lacks)))
    simulated = run(found.shop, seed, replications)
    if not isinstance(simulated, Simulated):
        return replace(told, missing=simulated)
    described = found.facts.described
    level = max(described.service_level_pct / 100.0, LEVEL_LEAST)
    whole = days_of(found, simulated, order, None, replications)
    ships_by = quantile_day(whole, level)
    wish = None if order.wanted_by is None else date.fromisoformat(order.wanted_by)
    alone = () if order.together else order.lines
    return replace(
        told, seed=seed, replications=replications, level_pct=described.service_level_pct,
        ships_by=ships_by, chance=chance_by(whole, ships_by), quantiles=quantiles_of(whole),
        correction=correction_of(whole, level, found.shop.said),
        wanted_by=wish, wanted_chance=None if wish is None else chance_by(whole, wish),
        lines=tuple(
            line_quote(line.line, days_of(found, simulated, order, line.line, replications), level)
            for line in alone
        ),
        assumed=tuple(found.facts.assumed),
    )  # fmt: skip


def days_of(
    found: Ahead, simulated: Simulated, order: Order, line: str | None, replications: int
) -> Days:
    """Return the day on which an order or line ships in each replication; what is packed and only
    waits leaves at the next pick-up."""
    ships = of_orders(simulated, keys_of(order, line))
    if ships is not None:
        return ships
    return np.full(replications, leaves_next(found.shop).toordinal(), dtype=np.int64)
