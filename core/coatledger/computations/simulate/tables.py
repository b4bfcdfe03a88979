"""A shop's batches and operations as columns of numbers: what a vectorised simulation looks up.

Batches stand in the order in which they are served (due date, age, id), so that the first bit set
in a row of ready ones is the job to be done next.
"""

from collections.abc import Iterable
from datetime import date
from itertools import accumulate
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from coatledger.computations.calendar import microseconds
from coatledger.computations.simulate.shop import Batch, Likely, OpenShop, Operation

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
# The standard normal quantile of 90 %, which turns a 90 % point into a spread.
Z90 = 1.2815515655446004
MINUTE_S = 60.0
# What an operation asks for: hands, a product in a gun (1, 2, ...), or nobody.
HANDS, NOBODY = 0, -1
NO_BATCH_DUE = 2**40
# A standard normal value is one of so many equally likely ones, at the middle of its share.
NORMALS = 4_096


class Tables(NamedTuple):
    """Rows of `batch_...` are batches as served; all others are operations, batch after batch.

    A duration is described by `y50`, `low`, `high`: log(1 + minutes) at its median and its spread
    below and above. `next_hands` is the next operation that needs hands, or -1 after the last.
    """

    batches: tuple[Batch, ...]
    products: tuple[str, ...]
    batch_first: Ints
    batch_due: Ints
    batch_lead: Floats
    local: Ints
    asks: Ints
    base_s: Floats
    setup_s: Floats
    piece_s: Floats
    spread: Ints
    spreads: tuple[float, ...]
    waits: npt.NDArray[np.bool_]
    y50: Floats
    low: Floats
    high: Floats
    place: Ints
    left: Ints
    inspection: Ints
    rework: Floats
    scrap: Floats
    back: Ints
    rounds: Ints
    rounds_done: Ints
    next_hands: Ints
    idle_next: npt.NDArray[np.bool_]
    address: Ints


def tables(shop: OpenShop) -> Tables:
    """Lay out a shop that is possible."""
    batches = tuple(sorted(shop.batches, key=_served))
    steps = tuple(step for batch in batches for step in batch.operations)
    products = tuple(sorted({step.product for step in steps if step.product}))
    spreads = tuple(sorted({step.spread for step in steps}))
    left = np.array([n for batch in batches for n in batch.left_now], dtype=np.int64)
    setup, piece = _column(s.setup_min for s in steps), _column(s.piece_min for s in steps)
    likely = np.array([curve(s.wait) if s.wait else (0.0, 0.0, 0.0) for s in steps]).reshape(-1, 3)
    asks = np.array([_asks(step, products) for step in steps], dtype=np.int64)
    inspects = np.array([step.inspects for step in steps], dtype=np.bool_)
    lengths = [len(batch.operations) for batch in batches]
    local = np.array([n for length in lengths for n in range(length)], dtype=np.int64)
    idle = asks == NOBODY
    return Tables(
        batches=batches,
        products=products,
        batch_first=np.array([0, *accumulate(lengths)], dtype=np.int64)[:-1],
        batch_due=np.array([*_ranks(b.due for b in batches), NO_BATCH_DUE], dtype=np.int64),
        batch_lead=np.array([curve(b.joinery_lead) for b in batches]).reshape(-1, 3),
        local=local,
        asks=asks,
        base_s=(setup + piece * left) * MINUTE_S,
        setup_s=setup * MINUTE_S,
        piece_s=piece * MINUTE_S,
        spread=np.array([spreads.index(s.spread) * NORMALS for s in steps], dtype=np.int64),
        spreads=spreads,
        waits=np.array([step.wait is not None for step in steps], dtype=np.bool_),
        y50=likely[:, 0],
        low=likely[:, 1],
        high=likely[:, 2],
        place=np.array([("", "rack", "curing").index(s.place) for s in steps], dtype=np.int64),
        left=left,
        inspection=np.where(inspects, np.cumsum(inspects) - 1, -1),
        rework=_column(s.rework_chance for s in steps),
        scrap=_column(s.scrap_chance for s in steps),
        back=np.array([s.back for s in steps], dtype=np.int64),
        rounds=np.array([s.rounds for s in steps], dtype=np.int64),
        rounds_done=np.array(
            [n for b in batches for n in b.rounds_done or (0,) * len(b.operations)], dtype=np.int64
        ),
        next_hands=_next_hands(asks, lengths),
        idle_next=np.append(idle[1:] & (local[1:] > 0), [False] * (idle.size > 0)),
        address=(local + 1) << 32,
    )


def curve(span: Likely) -> tuple[float, float, float]:
    """Return a duration's log(1 + minutes) at the median, and its spread below and above.

    *Reference:* a log-normal of 1 + minutes on each side of the median, through the three points.
    """
    y10, y50, y90 = (float(y) for y in np.log1p((span.p10, span.p50, span.p90)))
    return y50, (y50 - y10) / Z90, (y90 - y50) / Z90


def _served(batch: Batch) -> tuple[date, int, str]:
    return batch.due, microseconds(batch.ordered_at), batch.id


def _asks(step: Operation, products: tuple[str, ...]) -> int:
    if step.needs == "nobody":
        return NOBODY
    return 1 + products.index(step.product) if step.needs == "spray" else HANDS


def _ranks(days: Iterable[date]) -> list[int]:
    return [day.toordinal() for day in days]


def _column(values: Iterable[float]) -> Floats:
    return np.array(tuple(values), dtype=np.float64)


def _next_hands(asks: Ints, lengths: list[int]) -> Ints:
    """For each operation, the next of its batch that needs hands; -1 when there is none."""
    found = np.full(asks.size, -1, dtype=np.int64)
    stop = asks.size
    for length in reversed(lengths):
        later = -1
        for k in range(stop - 1, stop - length - 1, -1):
            found[k] = later
            later = k if asks[k] != NOBODY else later
        stop -= length
    return found
