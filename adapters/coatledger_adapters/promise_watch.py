"""Where the watch of promises keeps how far it has read, and each open promise as it saw it last.

One process follows at a time: it takes a lease under the ledger's own lock, and whoever dies with
one is followed by another when it is over. What it saw is kept before it is told, and how far it
has read only after: whoever takes over tells again what was not told, by the same words.
"""

from collections.abc import Mapping
from threading import Lock
from typing import NamedTuple, Protocol

from coatledger.ledger.store import Store
from sqlalchemy import bindparam, delete, insert, select, update
from sqlalchemy.engine.interfaces import DBAPICursor

from coatledger_adapters.queries import word
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import FOLLOWER, PROMISE_WATCH

NAME = "promise_watch"


class Mark(NamedTuple):
    """Where the watch began, how far it has read, when, and who follows until when."""

    begun: int
    position: int
    at_us: int
    lease_until: int = 0
    lease_by: str = ""

    def is_free(self, by: str, now_us: int) -> bool:
        """Whether this process may follow now."""
        return self.lease_by == by or self.lease_until <= now_us


class WatchBook(Protocol):
    """Where one shop's watch is kept."""

    def begin(self, position: int, at_us: int) -> Mark:
        """Begin at a position of the ledger, unless it was begun before; return where it is."""

    def mark(self) -> Mark | None:
        """Return where it is, or None before it began."""

    def lease(self, by: str, now_us: int, until_us: int) -> Mark | None:
        """Follow until then; None while another process does."""

    def states(self) -> Mapping[str, bytes]:
        """Return every promise as it was seen last, by name."""

    def keep(self, by: str, states: Mapping[str, bytes | None]) -> bool:
        """Keep what was seen of some promises, None to forget one; False when the lease is lost."""

    def read_to(self, by: str, position: int, at_us: int) -> bool:
        """Say how far was read and told, and give the lease back; False when it is lost."""


class MemoryWatch:
    """A book in memory, for tests and trials."""

    def __init__(self) -> None:
        self._mark: Mark | None = None
        self._states: dict[str, bytes] = {}
        self._lock = Lock()

    def begin(self, position: int, at_us: int) -> Mark:
        """Begin at a position, unless it was begun before."""
        with self._lock:
            self._mark = self._mark or Mark(position, position, at_us)
            return self._mark

    def mark(self) -> Mark | None:
        """Return where it is, or None before it began."""
        with self._lock:
            return self._mark

    def lease(self, by: str, now_us: int, until_us: int) -> Mark | None:
        """Follow until then; None while another process does."""
        with self._lock:
            if self._mark is None or not self._mark.is_free(by, now_us):
                return None
            self._mark = self._mark._replace(lease_until=until_us, lease_by=by)
            return self._mark

    def states(self) -> Mapping[str, bytes]:
        """Return every promise as it was seen last."""
        with self._lock:
            return dict(self._states)

    def keep(self, by: str, states: Mapping[str, bytes | None]) -> bool:
        """Keep what was seen of some promises."""
        with self._lock:
            if self._mark is None or self._mark.lease_by != by:
                return False
            for name, state in states.items():
                self._states.pop(name, None)
                if state is not None:
                    self._states[name] = state
            return True

    def read_to(self, by: str, position: int, at_us: int) -> bool:
        """Say how far was read and told."""
        with self._lock:
            if self._mark is None or self._mark.lease_by != by:
                return False
            self._mark = Mark(self._mark.begun, position, at_us)
            return True


class SqlWatch:
    """A book in the database of a store."""

    def __init__(self, store: SqlStore) -> None:
        self._store = store
        mine = (FOLLOWER.c.shop == word("shop")) & (FOLLOWER.c.name == word("name"))
        one = PROMISE_WATCH.c.promise == word("promise")
        here = PROMISE_WATCH.c.shop == word("shop")
        columns = [FOLLOWER.c[name] for name in _COLUMNS]
        self._one = store.words(select(*columns).where(mine))
        self._insert = store.words(insert(FOLLOWER))
        leased = {"lease_until": bindparam("until"), "lease_by": word("by")}
        self._lease = store.words(update(FOLLOWER).values(leased).where(mine))
        read = {"position": bindparam("to"), "at": bindparam("when"), **leased}
        self._read_to = store.words(update(FOLLOWER).values(read).where(mine))
        states = select(PROMISE_WATCH.c.promise, PROMISE_WATCH.c.state)
        self._states = store.words(states.where(here))
        self._forget = store.words(delete(PROMISE_WATCH).where(here & one))
        self._keep = store.words(insert(PROMISE_WATCH))

    def begin(self, position: int, at_us: int) -> Mark:
        """Begin at a position, unless it was begun before."""
        with self._store.beside(writing=True) as ledger:
            found = self._found(ledger)
            if found is None:
                found = Mark(position, position, at_us)
                ledger.cursor.execute(self._insert, (self._store.shop, NAME, *found))
            return found

    def mark(self) -> Mark | None:
        """Return where it is, or None before it began."""
        with self._store.beside() as ledger:
            return self._found(ledger)

    def lease(self, by: str, now_us: int, until_us: int) -> Mark | None:
        """Follow until then; None while another process does. A ledger that was moved away, or is a
        newer program's, is refused."""
        with self._store.writing() as ledger:
            assert isinstance(ledger, SqlReader)
            found = self._found(ledger)
            if found is None or not found.is_free(by, now_us):
                return None
            ledger.cursor.execute(self._lease, (until_us, by, self._store.shop, NAME))
            return found._replace(lease_until=until_us, lease_by=by)

    def states(self) -> Mapping[str, bytes]:
        """Return every promise as it was seen last."""
        with self._store.beside() as ledger:
            ledger.cursor.execute(self._states, (self._store.shop,))
            return {str(name): bytes(state) for name, state in ledger.cursor.fetchall()}

    def keep(self, by: str, states: Mapping[str, bytes | None]) -> bool:
        """Keep what was seen of some promises."""
        with self._store.beside(writing=True) as ledger:
            if not self._is_mine(ledger, by):
                return False
            for name, state in states.items():
                ledger.cursor.execute(self._forget, (self._store.shop, name))
                if state is not None:
                    ledger.cursor.execute(self._keep, (self._store.shop, name, state))
            return True

    def read_to(self, by: str, position: int, at_us: int) -> bool:
        """Say how far was read and told, and give the lease back."""
        with self._store.beside(writing=True) as ledger:
            if not self._is_mine(ledger, by):
                return False
            told = (position, at_us, 0, "", self._store.shop, NAME)
            ledger.cursor.execute(self._read_to, told)
            return True

    def _is_mine(self, ledger: SqlReader, by: str) -> bool:
        found = self._found(ledger)
        return found is not None and found.lease_by == by

    def _found(self, ledger: SqlReader) -> Mark | None:
        cursor: DBAPICursor = ledger.cursor
        cursor.execute(self._one, (self._store.shop, NAME))
        row = cursor.fetchone()
        return None if row is None else Mark._make(row)


def watch_of(store: Store) -> WatchBook:
    """Return the book that goes with a store."""
    return SqlWatch(store) if isinstance(store, SqlStore) else MemoryWatch()


_COLUMNS = ("begun", "position", "at", "lease_until", "lease_by")
