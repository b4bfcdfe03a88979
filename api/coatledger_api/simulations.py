"""Simulations in threads of their own: so many at once, a few waiting, and no more.

A simulation takes a tenth of a second to seconds of a processor. Whoever comes when too many wait
is told to come back, so that the ledger goes on recording and reading meanwhile.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, time
from threading import Lock
from typing import TypeVar

from coatledger.computations.calendar import Hours, Opening
from coatledger.computations.simulate import simulate
from coatledger.computations.simulate_shop import Batch, Hand, OpenShop, Operation, Sprayer
from coatledger.ledger.store import Reader, Store

from coatledger_api.problems import ProblemError

A = TypeVar("A")
_THEN = datetime(2026, 3, 2, 8, tzinfo=UTC)
# As small as a shop can be that has one of everything the engine knows.
_SMALL = OpenShop(
    now=_THEN,
    hours=Hours("UTC", (Opening(1, time(8), time(17)),)),
    people=(Hand("a"),),
    guns=(Sprayer("g"),),
    batches=(
        Batch(
            id="b", order="o", pieces=1, ordered_at=_THEN, due=_THEN.date(),
            operations=(
                Operation(name="coat", needs="spray", product="clear", piece_min=1.0),
                Operation(name="look", needs="person", piece_min=1.0, rework_chance=0.1, back=1,
                          rounds=1),
            ),
        ),
    ),
    pick_up_weekdays=(1,),
    cut_off=time(17),
)  # fmt: skip


class Simulations:
    """The place where one service simulates; used in its loop. `selling` is held by who computes a
    date to take capacity by: of two at once, one would have to compute again."""

    def __init__(self, store: Store, at_once: int, waiting_max: int, retry_after_s: int) -> None:
        self._store = store
        self._most = at_once + waiting_max
        self._retry_after_s = retry_after_s
        self._under_way = 0
        self._threads = ThreadPoolExecutor(at_once, "coatledger-simulation")
        self.selling = Lock()

    @property
    def under_way(self) -> int:
        """How many are simulated or wait."""
        return self._under_way

    def warm(self) -> None:
        """Let the engine be loaded and, after an update, compiled, before somebody waits for it."""
        self._threads.submit(simulate, _SMALL, 1, 2)

    async def run(self, work: Callable[[], A]) -> A:
        """Do work that simulates, or refuse it when too much waits."""
        if self._under_way >= self._most:
            after = {"Retry-After": str(self._retry_after_s)}
            raise ProblemError("busy", "too many simulations wait", headers=after)
        self._under_way += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._threads, work)
        finally:
            self._under_way -= 1

    async def read(self, question: Callable[[Reader], A]) -> A:
        """Ask the ledger something that is answered by simulating, on one consistent state."""

        def ask() -> A:
            with self._store.reading() as reader:
                return question(reader)

        return await self.run(ask)

    def close(self) -> None:
        """Begin nothing more."""
        self._threads.shutdown(wait=False, cancel_futures=True)
