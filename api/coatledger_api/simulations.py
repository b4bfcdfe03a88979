"""Simulations in threads of their own: so many at once, a few waiting, and no more.

A simulation takes a tenth of a second to seconds of a processor. Whoever comes when too many wait
is told to come back, so that the ledger goes on recording and reading meanwhile.
"""

import asyncio
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from subprocess import Popen
from threading import Lock
from typing import TypeVar

from coatledger.ledger.store import Reader, Store

from coatledger_api import compiling
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
        self._compiling: Popen[bytes] | None = None
        self._loaded: Future[None] | None = None
        self._closed = False
        self.selling = Lock()

    @property
    def under_way(self) -> int:
        """How many are simulated or wait."""
        return self._under_way

    def warm(self, *, apart: bool) -> None:
        """Let the engine be loaded and, after an update, compiled, before somebody waits for it:
        `apart`, in a process of its own. What is simulated meanwhile waits."""
        self._loaded = self._threads.submit(self._load, apart=apart)

    def _load(self, *, apart: bool) -> None:
        if apart:
            with suppress(OSError):  # no process to be had: then it is compiled here
                self._compiling = compiling.begun_apart()
        if self._compiling is not None:
            if self._closed:
                self._compiling.terminate()
            self._compiling.wait()
        if not self._closed:
            compiling.load()

    async def run(self, work: Callable[[], A]) -> A:
        """Do work that simulates, or refuse it when too much waits."""
        if self._under_way >= self._most:
            after = {"Retry-After": str(self._retry_after_s)}
            raise ProblemError("busy", "too many simulations wait", headers=after)
        self._under_way += 1
        try:
            if self._loaded is not None and not self._loaded.done():
                await asyncio.wait((asyncio.wrap_future(self._loaded),))
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
        self._closed = True
        if self._compiling is not None:
            self._compiling.terminate()
        self._threads.shutdown(wait=False, cancel_futures=True)
