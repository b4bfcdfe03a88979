"""What one running service holds: its ledger, keys, signed heads, clock, writer and readers."""

import asyncio
import secrets
import time
from collections.abc import Callable, Coroutine, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from random import Random
from typing import Any, TypeVar

from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader, Store
from coatledger_adapters.checkpoints import CheckpointBook
from coatledger_adapters.holds import holds_of
from coatledger_adapters.keys import KeyBook
from coatledger_adapters.promise_watch import watch_of
from coatledger_adapters.webhooks.book import WebhookBook
from coatledger_adapters.webhooks.outbox import Outbox
from coatledger_adapters.webhooks.sending import Sender
from coatledger_adapters.webhooks.targets import allowed_hosts

from coatledger_api.charts.draw import Painter
from coatledger_api.courier import Courier
from coatledger_api.head_timer import sign_in_rhythm
from coatledger_api.kept import Kept
from coatledger_api.keys import Keyring
from coatledger_api.learning import Learning
from coatledger_api.limits import Limits
from coatledger_api.metrics import Metrics
from coatledger_api.settings import Settings
from coatledger_api.simulations import Simulations
from coatledger_api.watching import Watcher
from coatledger_api.writer import Writer

A = TypeVar("A")
# One simulation a minute for each question of a web shop's pages: the minute is part of it.
FRONT_KEPT_S = 60.0


class Bell:
    """Wakes whoever waits for something new. It may be missed: the table is what is true."""

    def __init__(self) -> None:
        self._rung = asyncio.Event()

    def ring(self) -> None:
        """Wake everybody who waits now."""
        self._rung.set()
        self._rung = asyncio.Event()

    def next(self) -> asyncio.Event:
        """Return the event that the next ring sets; take it before looking at the table."""
        return self._rung


class Service:
    """One shop's service. Nothing here knows HTTP."""

    def __init__(
        self, store: Store, keys: KeyBook, secret: bytes, clock: Callable[[], datetime],
        settings: Settings, contract: Callable[[], bytes], heads: CheckpointBook,
        webhooks: WebhookBook, sender: Sender | None = None,
    ) -> None:  # fmt: skip
        self.store = store
        self.heads = heads
        self.clock = clock
        self.settings = settings
        self.contract = contract
        self.keyring = Keyring(keys, secret, clock, settings.key_cache_s)
        self.limits = Limits(settings, time.monotonic)
        self.bell = Bell()
        self.learning = Learning()
        self.holds = holds_of(store)
        self.watched = watch_of(store)
        self.simulations = Simulations(
            store, settings.simulations_max, settings.simulations_waiting_max,
            settings.retry_after_s,
        )  # fmt: skip
        self.writes_alone: bool = getattr(store, "is_sqlite", False)
        self.kept: Kept[Any] = Kept(clock, settings.answers_kept_s)
        self.front: Kept[Any] = Kept(clock, FRONT_KEPT_S)
        self.painter = Painter()
        self.closing = asyncio.Event()
        self.streams = 0
        sender = sender or Sender(allowed_hosts(settings.webhook_hosts), settings.webhook_timeout_s)
        self.courier = Courier(
            webhooks, sender, secret, store.shop, clock, Random().random,
            poll_s=settings.webhook_poll_s,
        )  # fmt: skip
        self.outbox = Outbox(webhooks, store.shop, self.courier.ring)
        self.followers: list[Callable[[asyncio.Event], Coroutine[Any, Any, None]]] = []
        self._rhythms: list[asyncio.Task[None]] = []
        self.writer = Writer(
            store,
            clock,
            lambda: secrets.token_bytes(16),
            waiting_max=settings.waiting_max,
            commit_facts_max=settings.commit_facts_max,
            retry_after_s=settings.retry_after_s,
            on_new=self._tell_new,
            outbox=self.outbox,
        )
        self.metrics: Metrics | None = None
        self.at_end: list[Callable[[], None]] = []
        self._readers = ThreadPoolExecutor(settings.reader_threads, "coatledger-reader")

    @property
    def watchers(self) -> Sequence[Watcher]:
        """Who watches requests and commits."""
        return self.writer.watchers

    @watchers.setter
    def watchers(self, watchers: Sequence[Watcher]) -> None:
        self.writer.watchers = watchers

    def start(self) -> None:
        """Begin; called once the event loop runs."""
        self.writer.start()
        for follow in (self.courier.run, *self.followers):
            self._rhythms.append(asyncio.ensure_future(follow(self.closing)))
        if self.settings.sign_every_s:
            sign = sign_in_rhythm(self.settings.sign_every_s, self._sign, self.closing)
            self._rhythms.append(asyncio.ensure_future(sign))

    def close_streams(self) -> None:
        """Let open streams end, so that a server that waits for its connections can go down."""
        self.closing.set()
        self.bell.ring()

    async def stop(self) -> None:
        """Write what waits, then end."""
        self.close_streams()
        await asyncio.gather(*self._rhythms)
        await asyncio.get_running_loop().run_in_executor(self._readers, self.writer.stop)
        self._readers.shutdown(wait=False)
        self.simulations.close()
        self.painter.close()
        for end in self.at_end:
            end()

    def _tell_new(self) -> None:
        """Something was recorded, and is about to be acknowledged."""
        self.kept.forget()
        self.bell.ring()

    def _sign(self) -> None:
        self.heads.sign(micros(self.clock()))

    async def read(self, question: Callable[[Reader], A]) -> A:
        """Ask the ledger, in a thread, on one consistent state."""

        def ask() -> A:
            with self.store.reading() as reader:
                return question(reader)

        return await self.in_thread(ask)

    async def in_thread(self, work: Callable[[], A]) -> A:
        """Do work that would hold up the loop."""
        return await asyncio.get_running_loop().run_in_executor(self._readers, work)
