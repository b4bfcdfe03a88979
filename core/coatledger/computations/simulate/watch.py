"""What takes the time of some batches in a simulation: hands, drying, curing, doing it again."""

import numpy as np
import numpy.typing as npt

from coatledger.computations.simulate.calendar import Seconds
from coatledger.computations.simulate.tables import Ints, Tables

IN_HAND, DRYING, CURING, AGAIN = range(4)
_CURING_PLACE = 2


class Watch:
    """Adds up, for watched batches, the seconds of each kind in each replication."""

    def __init__(self, table: Tables, orders: frozenset[str], count: int) -> None:
        watched = [n for n, batch in enumerate(table.batches) if batch.order in orders]
        self.row = np.full(len(table.batches), -1, dtype=np.int64)
        self.row[watched] = np.arange(len(watched))
        self.batches = np.array(watched, dtype=np.int64)
        # Time that nobody works in, after all hands, is for the film to get hard.
        self.curing = (table.place == _CURING_PLACE) | table.idle_next
        self.spent: npt.NDArray[np.int64] = np.zeros((4, len(watched), count), dtype=np.int64)
        self.again: npt.NDArray[np.bool_] = np.zeros((len(watched), count), dtype=np.bool_)

    def note(
        self, batch: Ints, column: Ints, now: Seconds, end: Seconds, after: Seconds, k: Ints
    ) -> None:
        """Note a job and the wait after it, from its beginning to the moment it is ready."""
        if not self.batches.size:
            return
        row = self.row[batch]
        seen = np.flatnonzero(row >= 0)
        if not seen.size:
            return
        row, r = row[seen], column[seen]
        again = self.again[row, r]
        kind = np.where(self.curing[k[seen]], CURING, DRYING)
        self.spent[np.where(again, AGAIN, IN_HAND), row, r] += (end - now)[seen]
        self.spent[np.where(again, AGAIN, kind), row, r] += after[seen]

    def sent_back(self, batch: Ints, column: Ints, wait: Seconds) -> None:
        """Note that from here on a batch does what it has done before."""
        row = self.row[batch]
        seen = row >= 0
        self.again[row[seen], column[seen]] = True
        self.spent[AGAIN, row[seen], column[seen]] += wait[seen]
