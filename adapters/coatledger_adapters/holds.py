"""Holds of capacity: what one customer is about to take, so that nobody else is sold it meanwhile.

A hold is no event. It counts until it is released, promised or over by the clock. What is asked for
and what was quoted are bytes to this book. Placing is atomic: it succeeds only when no hold was
placed and no order taken since the one who places it looked, on whatever machine.
"""

from collections.abc import Sequence
from threading import Lock
from typing import Any, NamedTuple, Protocol

from coatledger.ledger.store import Reader, Store
from sqlalchemy import bindparam, delete, func, insert, select, update

from coatledger_adapters.queries import word
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import HOLD

# What takes capacity: a hold computed before one of these was recorded is computed again.
TAKES_CAPACITY = frozenset(
    ("order_taken", "order_changed", "promise_made", "promise_revised", "piece_allotted")
)
LOOKED_THROUGH = 1_000
# A hold that is over is still known for a month, so that a late payment finds its date.
KEPT_US = 30 * 86_400_000_000
# How long a hold that is being promised counts at least, so that it does not end in between.
TAKING_US = 60_000_000


class Held(NamedTuple):
    """One hold. `taken_for` is the order it becomes or became; `number` the order of placing."""

    hold: str
    placed_us: int
    until_us: int
    asked_sha256: str
    asked: bytes
    quote: bytes
    number: int = 0
    taken_for: str | None = None
    ended_us: int | None = None

    def is_live(self, now_us: int) -> bool:
        """Whether it counts."""
        return self.ended_us is None and self.until_us > now_us


class Standing(NamedTuple):
    """The holds that count, in the order they were placed, and the newest number ever given."""

    newest: int
    holds: tuple[Held, ...]


class HoldBook(Protocol):
    """Where one shop's holds are kept."""

    def find(self, hold: str) -> Held | None:
        """Return a hold, whether or not it still counts, or None."""

    def standing(self, now_us: int) -> Standing:
        """Return the holds that count now. Look here before the ledger, never after it: what is
        promised in between is then counted twice and not forgotten."""

    def place(self, held: Held, newest: int, position: int) -> Held | None:
        """Place a hold that was computed from this standing and this position of the ledger; None
        when somebody else was sooner. One of the same word that is over makes room for it."""

    def take(self, hold: str, order: str, now_us: int) -> bool:
        """Keep a hold for an order that is being promised; whether it is now that order's."""

    def let_go(self, hold: str, order: str) -> None:
        """Give a hold back that was not promised after all."""

    def end(self, hold: str, now_us: int, order: str | None = None) -> None:
        """End an order's hold now, or without an order one that is nobody's. Any other is left as
        it is, and doing it again changes nothing."""


class MemoryHolds:
    """A book in memory, for tests and trials."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._holds: dict[str, Held] = {}
        self._newest = 0
        self._lock = Lock()

    def find(self, hold: str) -> Held | None:
        """Return a hold, whether or not it still counts, or None."""
        with self._lock:
            return self._holds.get(hold)

    def standing(self, now_us: int) -> Standing:
        """Return the holds that count now."""
        with self._lock:
            live = [held for held in self._holds.values() if held.is_live(now_us)]
            return Standing(self._newest, tuple(sorted(live, key=lambda held: held.number)))

    def place(self, held: Held, newest: int, position: int) -> Held | None:
        """Place a hold, or return None when somebody else was sooner."""
        with self._store.reading() as reader, self._lock:
            there = self._holds.get(held.hold)
            if there is not None and there.is_live(held.placed_us):
                return None
            if newest != self._newest or is_overtaken(reader, position):
                return None
            self._newest += 1
            self._holds[held.hold] = placed = held._replace(number=self._newest)
            return placed

    def take(self, hold: str, order: str, now_us: int) -> bool:
        """Keep a hold for an order that is being promised."""
        with self._lock:
            held = self._holds.get(hold)
            if held is None or not held.is_live(now_us) or held.taken_for not in (None, order):
                return False
            until_us = max(held.until_us, now_us + TAKING_US)
            self._holds[hold] = held._replace(taken_for=order, until_us=until_us)
            return True

    def let_go(self, hold: str, order: str) -> None:
        """Give a hold back that was not promised after all."""
        with self._lock:
            held = self._holds.get(hold)
            if held is not None and held.taken_for == order and held.ended_us is None:
                self._holds[hold] = held._replace(taken_for=None)

    def end(self, hold: str, now_us: int, order: str | None = None) -> None:
        """End an order's hold now, or one that is nobody's."""
        with self._lock:
            held = self._holds.get(hold)
            if held is not None and held.ended_us is None and held.taken_for == order:
                self._holds[hold] = held._replace(ended_us=now_us)


class SqlHolds:
    """A book in the database of a store."""

    def __init__(self, store: SqlStore) -> None:
        self._store = store
        here = HOLD.c.shop == word("shop")
        this = here & (HOLD.c.hold == word("hold"))
        columns = [HOLD.c[name] for name in _COLUMNS]
        counts = HOLD.c.ended_at.is_(None) & (HOLD.c.until_at > bindparam("now"))
        mine = HOLD.c.taken_for == word("order")
        free = HOLD.c.taken_for.is_(None)
        self._one = store.words(select(*columns).where(this))
        self._live = store.words(select(*columns).where(here & counts).order_by(HOLD.c.number))
        self._newest = store.words(select(func.max(HOLD.c.number)).where(here))
        self._insert = store.words(insert(HOLD))
        self._make_room = store.words(delete(HOLD).where(this))
        self._purge = store.words(
            delete(HOLD).where(here & (HOLD.c.until_at < bindparam("before")))
        )
        taking = update(HOLD).values(until_at=bindparam("until"), taken_for=word("new"))
        self._take = store.words(taking.where(this & counts & (free | mine)))
        let = update(HOLD).values(taken_for=None)
        self._let_go = store.words(let.where(this & mine & HOLD.c.ended_at.is_(None)))
        ended = update(HOLD).values(ended_at=bindparam("at"))
        lasting = this & HOLD.c.ended_at.is_(None)
        self._end_free = store.words(ended.where(lasting & free))
        self._end_taken = store.words(ended.where(lasting & mine))

    def find(self, hold: str) -> Held | None:
        """Return a hold, whether or not it still counts, or None."""
        with self._store.beside() as ledger:
            return self._found(ledger, hold)

    def standing(self, now_us: int) -> Standing:
        """Return the holds that count now."""
        with self._store.beside() as ledger:
            newest = self._newest_of(ledger)
            ledger.cursor.execute(self._live, (self._store.shop, now_us))
            return Standing(newest, tuple(_held(row) for row in ledger.cursor.fetchall()))

    def place(self, held: Held, newest: int, position: int) -> Held | None:
        """Place a hold, or return None when somebody else was sooner."""
        shop = self._store.shop
        with self._store.beside(writing=True) as ledger:
            there = self._found(ledger, held.hold)
            if there is not None and there.is_live(held.placed_us):
                return None
            if newest != self._newest_of(ledger) or is_overtaken(ledger, position):
                return None
            placed = held._replace(number=newest + 1)
            ledger.cursor.execute(self._make_room, (shop, held.hold))
            ledger.cursor.execute(self._insert, (shop, *_row(placed)))
            ledger.cursor.execute(self._purge, (shop, held.placed_us - KEPT_US))
        return placed

    def take(self, hold: str, order: str, now_us: int) -> bool:
        """Keep a hold for an order that is being promised."""
        shop = self._store.shop
        with self._store.beside(writing=True) as ledger:
            there = self._found(ledger, hold)
            if there is None:
                return False
            until_us = max(there.until_us, now_us + TAKING_US)
            ledger.cursor.execute(self._take, (until_us, order, shop, hold, now_us, order))
            return ledger.cursor.rowcount == 1

    def let_go(self, hold: str, order: str) -> None:
        """Give a hold back that was not promised after all."""
        with self._store.beside(writing=True) as ledger:
            ledger.cursor.execute(self._let_go, (None, self._store.shop, hold, order))

    def end(self, hold: str, now_us: int, order: str | None = None) -> None:
        """End an order's hold now, or one that is nobody's."""
        values = (now_us, self._store.shop, hold)
        with self._store.beside(writing=True) as ledger:
            if order is None:
                ledger.cursor.execute(self._end_free, values)
            else:
                ledger.cursor.execute(self._end_taken, (*values, order))

    def _found(self, ledger: SqlReader, hold: str) -> Held | None:
        ledger.cursor.execute(self._one, (self._store.shop, hold))
        row = ledger.cursor.fetchone()
        return None if row is None else _held(row)

    def _newest_of(self, ledger: SqlReader) -> int:
        ledger.cursor.execute(self._newest, (self._store.shop,))
        (newest,) = ledger.cursor.fetchone() or (None,)
        return int(newest or 0)


def holds_of(store: Store) -> HoldBook:
    """Return the book that goes with a store."""
    return SqlHolds(store) if isinstance(store, SqlStore) else MemoryHolds(store)


def is_overtaken(reader: Reader, position: int) -> bool:
    """Whether something that takes capacity was recorded after a position."""
    rows: Sequence[Any] = reader.rows(position, LOOKED_THROUGH)
    return len(rows) == LOOKED_THROUGH or any(row.type in TAKES_CAPACITY for row in rows)


_COLUMNS = (
    "hold", "placed_at", "until_at", "asked_sha256", "asked", "quote", "number", "taken_for",
    "ended_at",
)  # fmt: skip


def _held(row: Any) -> Held:
    hold, placed, until, sha256, asked, quote, *rest = row
    return Held(hold, placed, until, sha256, bytes(asked), bytes(quote), *rest)


def _row(held: Held) -> tuple[object, ...]:
    """Return a hold's values in the order of the table's columns."""
    return tuple(held)
