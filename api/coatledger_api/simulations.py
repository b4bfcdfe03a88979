"""Simulations in threads of their own: so many at once, a few waiting, and no more.

A simulation takes a tenth of a second to seconds of a processor. Whoever comes when too many wait
is told to come back, so that the ledger goes on recording and reading meanwhile.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Lock
from typing import TypeVar

from coatledger.ledger.store import Reader, Store

from coatledger_api.problems import ProblemError

A = TypeVar("A")


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
