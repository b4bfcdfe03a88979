"""A shop as a few arrays, as compiled code wants it: what stands fast, and what changes.

Rows are records, so that a compiled function is handed few things and still names what it reads.
"""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from coatledger.computations.simulate.away import Spells
from coatledger.computations.simulate.calendar import Laid, work_at
from coatledger.computations.simulate.draws import Luck, Words, starts
from coatledger.computations.simulate.shop import OpenShop
from coatledger.computations.simulate.tables import Floats, Ints, Tables
from coatledger.computations.simulate.watch import Watch

Records = npt.NDArray[np.void]


class Fixed(NamedTuple):
    """What stands fast: operations, batches and where they begin, guns as they are now, the
    calendar, the luck, who is `away` when in which replication. `shop` holds what is said once."""

    ops: Records
    batches: Records
    guns: Records
    shop: Records
    work_ends: Ints
    work_back: Ints
    begin_keys: Ints
    begins: Records
    words: Words
    shop_z: Floats
    normals: Floats
    factors: Floats
    judge_keys: Floats
    judge_codes: Ints
    starts: Records
    away: Spells


class Moving(NamedTuple):
    """What changes in one replication; the same arrays serve the next. `coming` is a heap of what
    is on its way, the soonest first; `size` is how much that is."""

    ops: Records
    batches: Records
    people: Records
    guns: Records
    bits: Words
    rows: npt.NDArray[np.bool_]
    free: Ints
    size: Ints
    coming: Records


def fixed(
    shop: OpenShop, table: Tables, laid: Laid, luck: Luck, watch: Watch, away: Spells
) -> Fixed:
    """Lay out everything that stands fast for one block of replications."""
    drawn = [starts(table, luck, number) for number in range(len(table.batches))]
    begun = np.array([ready for ready, _ in drawn]), np.array([left for _, left in drawn])
    holds = [table.products.index(g.holds) + 1 if g.holds in table.products else 0
             for g in shop.guns]  # fmt: skip
    rack = shop.rack_places - sum(b.places_taken("rack") for b in table.batches)
    curing = shop.curing_places - sum(b.places_taken("curing") for b in table.batches)
    once = {
        "own": luck.own, "changeover": round(shop.changeover_min * 60.0),
        "booth": shop.booth_places, "work_now": work_at(laid, 0), "rack": rack, "curing": curing,
    }  # fmt: skip
    return Fixed(
        ops=_operations(table, luck, watch),
        batches=_batches(shop, table, watch),
        guns=_records(holds=_ints(holds)),
        shop=_records(**{name: np.array([value]) for name, value in once.items()}),
        work_ends=laid.work_ends,
        work_back=laid.work_back,
        begin_keys=laid.begin_keys,
        begins=_records(opens=laid.begin_opens, shift=laid.begin_shift),
        words=luck.words.reshape(len(table.batches), -1),
        shop_z=luck.shop,
        normals=luck.normals,
        factors=luck.factors,
        judge_keys=luck.judge_keys,
        judge_codes=luck.judge_codes,
        starts=_records(ready=begun[0], left=begun[1]),
        away=away,
    )


def moving(shop: OpenShop, table: Tables) -> Moving:
    """Make the arrays that change; each replication sets them anew."""
    batches, rows = len(table.batches), 1 + len(table.products)
    none = {name: np.zeros(batches, dtype=np.int64) for name in ("at", "again", "row_again")}
    work = {name: np.zeros(table.asks.size, dtype=np.int64) for name in ("left", "rounds")}
    hands = {name: np.zeros(len(shop.people), dtype=np.int64) for name in ("begins", "work")}
    guns = {name: np.zeros(len(shop.guns), dtype=np.int64) for name in ("until", "holds")}
    # A batch has at most itself and the places of its last wait on its way.
    heap = {name: np.zeros(2 * batches + 1, dtype=np.int64)
            for name in ("time", "batch", "kind", "pieces")}  # fmt: skip
    return Moving(
        ops=_records(**work),
        batches=_records(**none),
        people=_records(**hands),
        guns=_records(**guns),
        bits=np.zeros((rows, -(-batches // 64)), dtype=np.uint64),
        rows=np.zeros(rows, dtype=np.bool_),
        free=np.zeros(3, dtype=np.int64),
        size=np.zeros(1, dtype=np.int64),
        coming=_records(**heap),
    )


def _operations(table: Tables, luck: Luck, watch: Watch) -> Records:
    judge = np.zeros(table.asks.size, dtype=np.int64)
    looks = table.inspection >= 0
    judge[looks] = luck.judge_class[table.inspection[looks]]
    return _records(
        asks=table.asks, place=table.place, left=table.left, next=table.next_hands,
        idle_next=table.idle_next, address=table.address, setup=table.setup_s,
        piece=table.piece_s, spread=table.spread, waits=table.waits, y50=table.y50, low=table.low,
        high=table.high, looks=looks, judge=judge, back=table.back, rounds=table.rounds,
        done=table.rounds_done, curing=watch.curing,
    )  # fmt: skip


def _batches(shop: OpenShop, table: Tables, watch: Watch) -> Records:
    """`hand` and `gun` are -1 for a batch that nobody works on; `held` is its kind of place."""
    hands = {person.id: n for n, person in enumerate(shop.people)}
    guns = {gun.id: n for n, gun in enumerate(shop.guns)}
    jobs = [batch.in_hand for batch in table.batches]
    kinds = ("", "rack", "curing")
    return _records(
        first=table.batch_first,
        y50=table.batch_lead[:, 0], low=table.batch_lead[:, 1], high=table.batch_lead[:, 2],
        at=table.batch_first + _ints(batch.position for batch in table.batches),
        hand=_ints(hands[job.person] if job else -1 for job in jobs),
        gun=_ints(guns[job.gun] if job and job.gun else -1 for job in jobs),
        held=_ints(kinds.index(b.place_held) for b in table.batches),
        pieces=_ints(b.places_taken(b.place_held) if b.place_held else 0 for b in table.batches),
        due=table.batch_due[:-1],
        row=watch.row,
    )  # fmt: skip


def _records(**columns: npt.NDArray[np.generic]) -> Records:
    """Lay columns of one shape side by side: whole numbers and truths as int64, others as float."""
    shape = next(iter(columns.values())).shape
    kinds = [(name, np.float64 if c.dtype == np.float64 else np.int64)
             for name, c in columns.items()]  # fmt: skip
    found = np.zeros(shape, dtype=np.dtype(kinds, align=True))
    for name, column in columns.items():
        found[name] = column
    return found


def _ints(values: Iterable[int]) -> Ints:
    return np.array(tuple(values), dtype=np.int64)
