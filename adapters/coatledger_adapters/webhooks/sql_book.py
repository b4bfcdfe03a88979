"""One shop's webhooks in its database, beside the ledger.

Messages get their numbers, and leases are taken, under the ledger's own lock, which every write
holds: so no two processes take the same message, on either engine, and nothing has to be skipped.
"""

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from typing import Any
from uuid import UUID

from coatledger.ledger.store import Writer
from coatledger.recording.notices import KINDS, Message
from sqlalchemy.engine.interfaces import DBAPICursor

from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.webhooks.book import (
    RESEND_MAX,
    SAYS_MAX,
    WEBHOOKS_MAX,
    Delivery,
    Due,
    Resent,
    Told,
    Tried,
    Webhook,
)
from coatledger_adapters.webhooks.words import BookWords, words_for


class SqlWebhooks:
    """The book in the database of a store."""

    def __init__(self, store: SqlStore) -> None:
        self._store = store
        self._shop = store.shop
        self._words: BookWords = words_for(store.words, is_sqlite=store.is_sqlite)

    # ---- within a write of the ledger

    def wanted(self, ledger: Writer) -> frozenset[str]:
        """Return the kinds of notice that anybody wants, as the head said when it was locked."""
        assert isinstance(ledger, SqlReader)
        return frozenset(ledger.wanted.split())

    def told_about(self, ledger: Writer, event: UUID) -> Sequence[Message]:
        """Return every message about a fact, in the order they were told."""
        with self._cursor_of(ledger) as cursor:
            cursor.execute(self._words.told_about, (self._shop, event.bytes))
            return [_message(row) for row in cursor.fetchall()]

    def put(self, ledger: Writer, messages: Sequence[Message], at_us: int) -> int:
        """Keep messages for whoever wants them; return how many were not kept before."""
        if not messages:
            return 0
        with self._cursor_of(ledger) as cursor:
            return self._put(cursor, messages, at_us)

    def _put(self, cursor: DBAPICursor, messages: Sequence[Message], at_us: int) -> int:
        cursor.execute(self._words.webhooks, (self._shop,))
        receivers = [_webhook(row) for row in cursor.fetchall()]
        cursor.execute(self._words.last_number, (self._shop, 1))
        last = next((number for (number,) in cursor.fetchall()), 0)
        new = 0
        for message in messages:
            number = last + 1
            cursor.execute(self._words.add_notice, (self._shop, number, at_us, *_kept(message)))
            if not cursor.fetchall():
                continue
            last, new = number, new + 1
            if message.ends is not None:
                # What is taken back and not there yet need not arrive, least of all afterwards.
                whose = (self._shop, self._shop, message.ends)
                cursor.execute(self._words.overtake, ("overtaken", *whose, "delivered"))
            for one in receivers:
                if one.state != "gone" and message.wanted_as in one.kinds:
                    waiting = (self._shop, one.webhook_id, number, "waiting", 0, at_us)
                    cursor.execute(self._words.add_delivery, (*waiting, None, None, None))
        return new

    # ---- by itself

    def tell(self, messages: Sequence[Message], at_us: int) -> int:
        """Keep messages in a transaction of its own."""
        with self._writing() as cursor:
            return self._put(cursor, messages, at_us)

    def told(self, kinds: Sequence[str], after: int, limit: int) -> tuple[Told, ...]:
        """Return messages of these kinds as they were told, with numbers above `after`."""
        with self._reading() as cursor:
            found: list[Told] = []
            for kind in dict.fromkeys(kinds):
                cursor.execute(self._words.told, (self._shop, kind, after, limit))
                rows = cursor.fetchall()
                found += [Told(number, at_us, bytes(body)) for number, at_us, body in rows]
        return tuple(sorted(found)[:limit])

    def all(self) -> tuple[Webhook, ...]:
        """Return every webhook, oldest first."""
        with self._reading() as cursor:
            return self._all(cursor)

    def find(self, webhook_id: str) -> Webhook | None:
        """Return the webhook of this id, or None."""
        return next((one for one in self.all() if one.webhook_id == webhook_id), None)

    def add(self, webhook: Webhook) -> Webhook | None:
        """Keep a new webhook, or return the one that is kept under its id; None when there are
        too many."""
        with self._writing() as cursor:
            kept = {one.webhook_id: one for one in self._all(cursor)}
            if webhook.webhook_id in kept:
                return kept[webhook.webhook_id]
            if len(kept) >= WEBHOOKS_MAX:
                return None
            cursor.execute(self._words.add_webhook, (self._shop, *_row(webhook)))
            self._keep_wanted(cursor)
            return webhook

    def change(self, webhook: Webhook) -> None:
        """Keep what a webhook now is, but for its record of success and failure."""
        changed = (
            webhook.label, webhook.url, " ".join(sorted(webhook.kinds)), webhook.state,
            webhook.secret, webhook.older_secret, webhook.older_until_us,
        )  # fmt: skip
        with self._writing() as cursor:
            cursor.execute(self._words.change, (*changed, self._shop, webhook.webhook_id))
            self._keep_wanted(cursor)

    def delete(self, webhook_id: str) -> None:
        """Forget a webhook and what waits for it."""
        with self._writing() as cursor:
            cursor.execute(self._words.delete_deliveries, (self._shop, webhook_id))
            cursor.execute(self._words.delete, (self._shop, webhook_id))
            self._keep_wanted(cursor)

    # ---- sending

    def due(self) -> tuple[tuple[str, int], ...]:
        """Return each webhook that is on and has something waiting, and since or until when."""
        with self._reading() as cursor:
            cursor.execute(self._words.due, (self._shop, "on", "waiting"))
            return tuple((str(webhook), int(due_us)) for webhook, due_us in cursor.fetchall())

    def lease(self, webhook_id: str, now_us: int, until_us: int) -> Due | None:
        """Take the first message that is due; nobody else gets it until the lease is over."""
        with self._leasing() as cursor:
            found = [w for w in self._all(cursor) if w.webhook_id == webhook_id]
            if not found or found[0].state != "on":
                return None
            cursor.execute(self._words.first_due, (self._shop, webhook_id, "waiting", now_us, 1))
            rows = cursor.fetchall()
            if not rows:
                return None
            ((number, tries, message_id, body),) = rows
            leased = (tries + 1, until_us, self._shop, webhook_id, number)
            cursor.execute(self._words.lease, leased)
            return Due(found[0], number, tries + 1, message_id, bytes(body))

    def mark(self, due: Due, tried: Tried) -> None:
        """Say what became of a leased message, unless another took it up since."""
        says = None if tried.says is None else tried.says[:SAYS_MAX]
        here = (self._shop, due.webhook.webhook_id)
        outcome = (tried.state, tried.due_us, tried.at_us, tried.status, says)
        with self._writing() as cursor:
            cursor.execute(self._words.mark, (*outcome, *here, due.number, "waiting", due.tries))
            if tried.state == "delivered":
                cursor.execute(self._words.succeeded, (tried.at_us, *here))
            else:
                cursor.execute(self._words.failed, (tried.at_us, says, *here))
            if tried.is_gone:
                cursor.execute(self._words.end, ("gone", *here))
                self._keep_wanted(cursor)

    # ---- looking after it

    def deliveries(
        self, webhook_id: str, states: Sequence[str], before: int, limit: int
    ) -> tuple[Delivery, ...]:
        """List deliveries, newest first, with numbers below `before`."""
        with self._reading() as cursor:
            found: list[Delivery] = []
            for state in dict.fromkeys(states):
                asked = (self._shop, webhook_id, state, before, limit)
                cursor.execute(self._words.deliveries, asked)
                found += [Delivery._make(row) for row in cursor.fetchall()]
        return tuple(sorted(found, key=lambda one: -one.number)[:limit])

    def waiting_and_dead(self, webhook_id: str) -> tuple[int, int]:
        """Count what waits for a webhook, and what was given up or set aside."""
        with self._reading() as cursor:
            cursor.execute(self._words.counts, (self._shop, webhook_id))
            counts = {str(state): int(count) for state, count in cursor.fetchall()}
        return counts.get("waiting", 0), counts.get("dead", 0) + counts.get("set_aside", 0)

    def resend(self, webhook: Webhook, after: int, since_us: int, now_us: int) -> Resent:
        """Let what was told be sent again, under its old ids; what was taken back stays away."""
        with self._writing() as cursor:
            found: list[tuple[int, int]] = []
            for kind in sorted(webhook.kinds):
                asked = (self._shop, kind, after, since_us, RESEND_MAX + 1)
                cursor.execute(self._words.since, asked)
                found += [(int(position), int(number)) for number, position in cursor.fetchall()]
            chosen = _whole_positions(sorted(found))
            for _, number in chosen:
                waiting = (self._shop, webhook.webhook_id, number, "waiting", 0, now_us)
                cursor.execute(self._words.send_again, (*waiting, None, None, None))
        last = chosen[-1][0] if chosen else after
        return Resent(len(chosen), last, len(found) > len(chosen))

    # ---- transactions

    def _cursor_of(self, ledger: Writer) -> AbstractContextManager[DBAPICursor]:
        assert isinstance(ledger, SqlReader)
        return nullcontext(ledger.cursor)

    def _reading(self) -> AbstractContextManager[DBAPICursor]:
        return _cursor(self._store.beside())

    def _writing(self) -> AbstractContextManager[DBAPICursor]:
        return _cursor(self._store.beside(writing=True))

    def _leasing(self) -> AbstractContextManager[DBAPICursor]:
        # Unlike the others, this refuses a ledger that was moved away or is a newer program's.
        return _cursor(self._store.writing())

    def _all(self, cursor: DBAPICursor) -> tuple[Webhook, ...]:
        cursor.execute(self._words.webhooks, (self._shop,))
        return tuple(_webhook(row) for row in cursor.fetchall())

    def _keep_wanted(self, cursor: DBAPICursor) -> None:
        """Say in the head what anybody wants, so that every write knows it for nothing."""
        wanted = {kind for one in self._all(cursor) if one.state != "gone" for kind in one.kinds}
        words = " ".join(kind for kind in KINDS if kind in wanted)
        cursor.execute(self._words.keep_wanted, (words, self._shop))


def _whole_positions(found: Sequence[tuple[int, int]]) -> Sequence[tuple[int, int]]:
    """Keep as many as go out at a time, and of no position a part: it is asked for by position."""
    if len(found) <= RESEND_MAX:
        return found
    cut, _ = found[RESEND_MAX]
    whole = [one for one in found[:RESEND_MAX] if one[0] < cut]
    return whole or [one for one in found if one[0] == cut]


@contextmanager
def _cursor(transaction: AbstractContextManager[object]) -> Iterator[DBAPICursor]:
    with transaction as ledger:
        assert isinstance(ledger, SqlReader)
        yield ledger.cursor


def _row(webhook: Webhook) -> tuple[object, ...]:
    """In the order of the table's columns, after the shop."""
    return (
        webhook.webhook_id, webhook.label, webhook.url, " ".join(sorted(webhook.kinds)),
        webhook.state, webhook.secret, webhook.created_us, webhook.older_secret,
        webhook.older_until_us, webhook.success_us, webhook.failure_us, webhook.says,
    )  # fmt: skip


def _webhook(row: Any) -> Webhook:
    webhook_id, label, url, kinds, state, secret, created, older, *rest = row
    older_secret = None if older is None else bytes(older)
    return Webhook(
        webhook_id, label, url, frozenset(kinds.split()), state, bytes(secret), created,
        older_secret, *rest,
    )  # fmt: skip


def _kept(message: Message) -> tuple[object, ...]:
    """In the order of the table's columns, after shop, number and time."""
    about = None if message.about is None else message.about.bytes
    return (
        message.message_id, message.kind, message.wanted_as, message.position, about, message.ends,
        message.body,
    )  # fmt: skip


def _message(row: Any) -> Message:
    message_id, kind, wanted_as, position, about, ends, body = row
    of = None if about is None else UUID(bytes=bytes(about))
    return Message(message_id, kind, wanted_as, position, of, ends, bytes(body))
