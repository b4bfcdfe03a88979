"""Where every replication of a simulated shop stands: who is free, what is ready, what is drying.

What is ready is a set bit, in one row of bits for hands and one for each product; what is on its
way is a slot with the time at which it will be ready. Values by batch or operation and replication
lie in one row, `batch * count + column`, which is quickest to look up.
"""

import numpy as np
import numpy.typing as npt

from coatledger.computations.simulate.away import Spells, no_spells, present
from coatledger.computations.simulate.calendar import NEVER, Laid, Seconds
from coatledger.computations.simulate.draws import Luck
from coatledger.computations.simulate.shop import OpenShop
from coatledger.computations.simulate.tables import Ints, Tables

ONE = np.uint64(1)
RACK, CURING = 1, 2
_PLACE = 65_536
_SLOTS = 16


class State:
    """All replications of one shop, in step. Arrays change in place; a run owns its state."""

    def __init__(
        self, shop: OpenShop, table: Tables, laid: Laid, luck: Luck, away: Spells | None = None
    ) -> None:
        count, batches = luck.shop.size, len(table.batches)
        self.table, self.laid, self.luck, self.count = table, laid, luck, count
        self.batches, self.r = batches, np.arange(count)
        self.changeover_s = round(shop.changeover_min * 60.0)
        self.booth = shop.booth_places
        self.away = no_spells(len(shop.people), count) if away is None else away
        zero = np.zeros(count, dtype=np.int64)
        first = [present(laid, self.away, self.r, n, zero) for n in range(len(shop.people))]
        self.begins = np.array([begins for begins, _ in first]).reshape(-1, count)
        self.work = np.array([work for _, work in first]).reshape(-1, count)
        self.gun_until = np.zeros((len(shop.guns), count), dtype=np.int64)
        holds = [table.products.index(g.holds) + 1 if g.holds in table.products else 0
                 for g in shop.guns]  # fmt: skip
        self.gun_holds = np.array(holds, dtype=np.int64).reshape(-1, 1) + self.gun_until
        self.words = -(-batches // 64)
        self.bits = np.zeros((1 + len(table.products), count, self.words), dtype=np.uint64)
        self.flat_bits = self.bits.reshape(-1)
        self.at = np.zeros(batches * count, dtype=np.int64)
        self.again = np.zeros(batches * count, dtype=np.int64)
        self.finish = np.full(batches * count, -1, dtype=np.int64)
        self.looks = table.inspection >= 0
        self.rounds = np.repeat(table.rounds_done[self.looks].astype(np.int16), count)
        self.left = np.repeat(table.left.astype(np.int16), count)
        self.slot_time = np.full((count, _SLOTS), NEVER, dtype=np.int32)
        self.slot_batch = np.full((count, _SLOTS), -1, dtype=np.int32)
        self.slot_place = np.zeros((count, _SLOTS), dtype=np.int32)
        pieces = sum(batch.pieces for batch in table.batches)
        places = min(shop.rack_places, shop.curing_places)
        self.limited = bool(table.place.any()) and pieces > places
        self.free = np.zeros((3, count), dtype=np.int64)
        self.free[RACK] = shop.rack_places - sum(b.places_taken("rack") for b in table.batches)
        self.free[CURING] = shop.curing_places - sum(
            b.places_taken("curing") for b in table.batches
        )
        self.need: npt.NDArray[np.int16] = np.zeros(
            (3, count, batches if self.limited else 0), dtype=np.int16
        )

    def put_ready(self, batch: Ints, column: Ints) -> None:
        """Set the bits of batches that are ready, each in the row of what it asks for."""
        place = self.table.asks.take(self.at.take(batch * self.count + column))
        place *= self.count
        place += column
        place *= self.words
        place += batch >> 6
        # A bit that is set is never set again, so that adding is the same as setting.
        np.add.at(self.flat_bits, place, ONE << (batch & 63).view(np.uint64))

    def take_ready(self, batch: Ints, column: Ints, asks: Ints) -> None:
        """Clear the bit of one batch in each of these columns."""
        place = (asks * self.count + column) * self.words + (batch >> 6)
        self.flat_bits[place] -= ONE << (batch & 63).view(np.uint64)

    def to_operation(self, batch: Ints, column: Ints, k: Ints) -> None:
        """Note which operation a batch will be ready for, and the places it will need then."""
        self.at[batch * self.count + column] = k
        if self.limited:
            kind, left = self.table.place.take(k), self.left.take(k * self.count + column)
            self.need[RACK, column, batch] = np.where(kind == RACK, left, 0)
            self.need[CURING, column, batch] = np.where(kind == CURING, left, 0)

    def put_slot(self, column: Ints, time: Seconds, batch: Ints, place: Ints | int) -> None:
        """Note that a batch (-1 for none) is ready at a time, and which places are free then."""
        found = self.slot_time.argmax(axis=1)[column] + column * self.slot_time.shape[1]
        if (self.slot_time.take(found) != NEVER).any():
            self._grow()
            found = self.slot_time.argmax(axis=1)[column] + column * self.slot_time.shape[1]
        self.slot_time.reshape(-1)[found] = np.minimum(time, NEVER - 1)
        self.slot_batch.reshape(-1)[found] = batch
        if self.limited:
            self.slot_place.reshape(-1)[found] = place

    def expire(self, now: Seconds) -> None:
        """Let everything take effect whose time has come in its replication."""
        due = (self.slot_time <= now.astype(np.int32)[:, None]).reshape(-1).nonzero()[0]
        if not due.size:
            return
        column = due // self.slot_time.shape[1]
        batch = self.slot_batch.take(due).astype(np.int64)
        self.slot_time.reshape(-1)[due] = NEVER
        if self.limited:
            place = self.slot_place.take(due).astype(np.int64)
            freed = (place // _PLACE) * self.count + column
            np.add.at(self.free.reshape(-1), freed, place % _PLACE)
        ready = batch >= 0
        if not ready.all():
            batch, column = batch[ready], column[ready]
        self.put_ready(batch, column)

    def next_change(self, column: Ints, now: Seconds) -> Seconds:
        """Return when next anything is ready or a gun is free; `NEVER` when nothing is coming."""
        found: Seconds = self.slot_time.take(column, axis=0).min(axis=1).astype(np.int64)
        for until in self.gun_until:
            mine = until.take(column)
            np.minimum(found, np.where(mine > now, mine, NEVER), out=found)
        return found

    def _grow(self) -> None:
        count, slots = self.slot_time.shape
        never = np.full((count, slots), NEVER, dtype=np.int32)
        self.slot_time = np.hstack((self.slot_time, never))
        self.slot_batch = np.hstack((self.slot_batch, np.full((count, slots), -1, np.int32)))
        self.slot_place = np.hstack((self.slot_place, np.zeros((count, slots), np.int32)))


def place_code(kind: Ints, pieces: Ints) -> Ints:
    """Write a kind of place and a number of pieces as one number."""
    return kind * _PLACE + np.where(kind > 0, pieces, 0)
