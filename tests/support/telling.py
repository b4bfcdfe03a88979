"""Webhooks and messages to try with, and a shop whose writes are noted as the service does."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from bench import Bench
from coatledger.recording.notices import KINDS, Message
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.webhooks.book import Tried, Webhook, WebhookBook
from coatledger_adapters.webhooks.outbox import Outbox
from coatledger_adapters.webhooks.sql_book import SqlWebhooks


def webhook(name: str = "shop0001", *kinds: str, **fields: Any) -> Webhook:
    wanted = frozenset(kinds or KINDS)
    whole = Webhook(name, f"call it {name}", "https://shop.example/", wanted, "on", b"sealed", 1)
    return whole._replace(**fields)


def message(number: int, kind: str = "shipped", **fields: Any) -> Message:
    whole = Message(f"msg_{number}", kind, kind, number, UUID(int=number), None, b"{}")
    return whole._replace(**fields)


def delivered(at_us: int) -> Tried:
    return Tried("delivered", at_us, at_us, 204, None)


def states(book: WebhookBook, name: str = "shop0001") -> list[tuple[int, str, int]]:
    every = ("waiting", "delivered", "dead", "overtaken", "set_aside")
    found = book.deliveries(name, every, 10**9, 100)
    return [(one.number, one.state, one.tries) for one in reversed(found)]


class Telling:
    """A shop whose writes are noted as the service notes them."""

    def __init__(self, store: SqlStore) -> None:
        self.book = SqlWebhooks(store)
        self.rung = 0
        self.outbox = Outbox(self.book, store.shop, self.ring)
        self.bench = Bench("9 20:00", store)
        self.store = store

    def ring(self) -> None:
        self.rung += 1

    def record(self, *facts: Any) -> int:
        before = self.size
        self.bench.post(*facts)
        with self.store.writing() as ledger:
            return self.outbox.note(ledger, ledger.rows(before, 100))

    @property
    def size(self) -> int:
        with self.store.reading() as reader:
            return reader.head().size
