"""Takes messages to whoever wants them: at least once each, under one id, until there is an answer.

A message is leased before it is sent and marked after: whoever is killed in between sends it again,
and the receiver knows it by its id. To one receiver messages go one at a time and in order, as far
as tries allow: one that has to be tried again does not hold up those behind it.
"""

import asyncio
import contextlib
import logging
import secrets
from collections.abc import Callable
from datetime import datetime
from typing import Final

from coatledger.computations.retries import wait_s
from coatledger.ledger.record import micros
from coatledger.recording.notices import NoticeData, encode
from coatledger_adapters.sql_reader import StaleFoldsError
from coatledger_adapters.webhooks.book import Due, Tried, Webhook, WebhookBook
from coatledger_adapters.webhooks.secrets import SealError, headers_for, unseal
from coatledger_adapters.webhooks.sending import Outcome, Sender

LOG = logging.getLogger(__name__)
AT_ONCE: Final = 8
GRACE_S: Final = 1.0
# A lease outlasts the longest try, and the wait for the ledger's lock after it.
LEASE_TRIES: Final = 1.5
LEASE_BEYOND_S: Final = 1.0
SECOND_US: Final = 1_000_000
GONE: Final = 410
MEDIA_TYPE: Final = "application/cloudevents+json"


class Courier:
    """Sends what waits in a book. `chance` draws from 0 up to 1; `delays_s` are the waits between
    tries where they are not the usual ones."""

    def __init__(
        self, book: WebhookBook, sender: Sender, own_secret: bytes, shop: str,
        clock: Callable[[], datetime], chance: Callable[[], float], *, poll_s: float,
        delays_s: tuple[float, ...] | None = None,
    ) -> None:  # fmt: skip
        self._book = book
        self.sender = sender
        self._own_secret = own_secret
        self._shop = shop
        self._clock = clock
        self._chance = chance
        self._poll_s = poll_s
        self._delays_s = delays_s
        self._at_once = asyncio.Semaphore(AT_ONCE)
        self._sending: dict[str, asyncio.Task[None]] = {}
        self._rung = asyncio.Event()
        self._closing = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None

    def ring(self) -> None:
        """Say, from any thread, that something waits. It may be missed: the table is true."""
        if self._loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop has ended
                self._loop.call_soon_threadsafe(self._rung.set)

    async def run(self, closing: asyncio.Event) -> None:
        """Send until the service closes; then end what is under way, within a moment."""
        self._loop = asyncio.get_running_loop()
        self._closing = closing
        stop = asyncio.ensure_future(closing.wait())
        try:
            while not closing.is_set():
                self._rung.clear()
                after_s = await self._look()
                ring = asyncio.ensure_future(self._rung.wait())
                await asyncio.wait((stop, ring), timeout=after_s, return_when="FIRST_COMPLETED")
                ring.cancel()
        finally:
            stop.cancel()
            await self._end()

    async def ping(self, webhook: Webhook) -> Outcome:
        """Send a message that says nothing, now and once."""
        message_id = "msg_" + secrets.token_hex(16)
        body = encode(self._shop, message_id, self._clock(), NoticeData(kind="ping"))
        return await self._post(webhook, message_id, body)

    async def _look(self) -> float:
        """Begin with every receiver for whom something is due; return when to look again."""
        try:
            waiting = await asyncio.to_thread(self._book.due)
        except Exception:
            LOG.exception("what waits for webhooks cannot be read")
            return self._poll_s
        now_us, after_s = self._now_us(), self._poll_s
        for webhook_id, due_us in waiting:
            if due_us > now_us:
                after_s = min(after_s, (due_us - now_us) / SECOND_US)
            elif webhook_id not in self._sending:
                self._sending[webhook_id] = asyncio.create_task(self._serve(webhook_id))
        return after_s

    async def _serve(self, webhook_id: str) -> None:
        """Send to one receiver until nothing is due, or it did not take something."""
        try:
            async with self._at_once:
                while not self._closing.is_set() and await self._next(webhook_id):
                    pass
        except StaleFoldsError as stale:
            LOG.warning("no message is sent from here: %s", stale)
        except Exception:
            LOG.exception("sending to webhook %s failed", webhook_id)
        finally:
            del self._sending[webhook_id]

    async def _next(self, webhook_id: str) -> bool:
        now_us = self._now_us()
        lease_s = LEASE_TRIES * self.sender.timeout_s + LEASE_BEYOND_S
        until_us = now_us + round(lease_s * SECOND_US)
        due = await asyncio.to_thread(self._book.lease, webhook_id, now_us, until_us)
        if due is None:
            return False
        outcome = await self._post(due.webhook, due.message_id, due.body)
        tried = self._tried(due, outcome)
        await asyncio.to_thread(self._book.mark, due, tried)
        if tried.state == "dead":
            why = "its receiver is gone" if tried.is_gone else "tries are over"
            LOG.warning("webhook %s: %s was not delivered: %s", webhook_id, due.message_id, why)
        return outcome.is_delivered

    async def _post(self, webhook: Webhook, message_id: str, body: bytes) -> Outcome:
        now_us = self._now_us()
        try:
            signing = [unseal(self._own_secret, sealed) for sealed in live_secrets(webhook, now_us)]
        except SealError:
            return Outcome(None, "its secret was sealed by another service: make a new one")
        signed = headers_for(signing, message_id, now_us // SECOND_US, body)
        headers = {"Content-Type": MEDIA_TYPE, "User-Agent": "coatledger", **signed}
        return await self.sender.post(webhook.url, headers, body)

    def _tried(self, due: Due, outcome: Outcome) -> Tried:
        now_us = self._now_us()
        if outcome.is_delivered:
            return Tried("delivered", now_us, now_us, outcome.status, None)
        delays = {} if self._delays_s is None else {"delays_s": self._delays_s}
        after_s = wait_s(due.tries, self._chance(), outcome.retry_after_s, **delays)
        is_gone = outcome.status == GONE
        if is_gone or after_s is None:
            return Tried("dead", now_us, now_us, outcome.status, outcome.says, is_gone)
        due_us = now_us + round(after_s * SECOND_US)
        return Tried("waiting", now_us, due_us, outcome.status, outcome.says)

    def _now_us(self) -> int:
        return micros(self._clock())

    async def _end(self) -> None:
        """Wait a moment for answers; what is cut off goes again when its lease is over."""
        tasks = tuple(self._sending.values())
        if not tasks:
            return
        _, late = await asyncio.wait(tasks, timeout=GRACE_S)
        for task in late:
            task.cancel()
        await asyncio.gather(*late, return_exceptions=True)


def live_secrets(webhook: Webhook, now_us: int) -> tuple[bytes, ...]:
    """Return the sealed secrets that sign now, the newer one first."""
    older, until_us = webhook.older_secret, webhook.older_until_us
    if older is None or until_us is None or until_us <= now_us:
        return (webhook.secret,)
    return webhook.secret, older
