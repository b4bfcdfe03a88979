"""One shop's ledger in SQLite or PostgreSQL: the core's port, with few statements a write.

A write begins by locking the shop's head; event, subjects, folds, tallies, climate and notes are
committed together or not at all. Rows go in as the core made them: nothing here decides anything
or knows any kind of event.
"""

import secrets
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from itertools import chain
from threading import Lock
from typing import Any, cast

from coatledger.ledger.store import Changes, Head, Reader, StoredFold, Writer
from sqlalchemy import Engine, PoolProxiedConnection, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine.interfaces import DBAPICursor
from sqlalchemy.sql import ClauseElement

from coatledger_adapters.engines import READERS_MAX, Engines, UnfitError, check_fit, make_engines
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.statements import ROWS_AT_ONCE, Statements, for_rows, statements_for
from coatledger_adapters.tables import HEAD


class SqlWriter(SqlReader):
    """A reader that holds the head's lock and may write once."""

    def __init__(
        self, cursor: DBAPICursor, statements: Statements, shop: str,
        together: AbstractContextManager[object],
    ) -> None:  # fmt: skip
        super().__init__(cursor, statements, shop)
        self._together = together
        self._locked = self._head(statements.lock_head)
        self._written = False
        self._shelves: dict[str, str] = {}

    def head(self) -> Head:
        """Return where the ledger stands, as read when it was locked."""
        assert not self._written, "the head has moved"
        return self._locked

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return stored folds by subject, and remember their shelves for the write."""
        found = super().folds(subjects)
        self._shelves.update((subject, fold.shelf) for subject, fold in found.items())
        return found

    def write(self, changes: Changes) -> None:
        """Write everything; what fails is raised here or when the block ends, and undoes it all."""
        assert not self._written, "one write a transaction"
        assert changes.head.size == self._locked.size + len(changes.rows), "positions have no gaps"
        self._written = True
        with self._together:
            self._write_history(changes)
            self._write_present(changes)
            frontier = b"".join(changes.head.frontier)
            moved = (changes.head.size, changes.head.recorded_us, frontier, self._shop)
            self._cursor.execute(self._statements.move_head, moved)

    def _write_history(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        self._add(
            words.one_event,
            [
                (shop, row.position, row.event_id.bytes, row.type, row.occurred_us,
                 row.recorded_us, row.leaf)
                for row in changes.rows
            ],
        )  # fmt: skip
        # In the order of their key, so that neighbours are written one after another.
        subjects = sorted(
            (shop, named.subject, named.type, named.occurred_us, named.position)
            for named in changes.subjects
        )
        self._add(words.one_subject, subjects)
        notes = {note.event_id.bytes: note for note in changes.notes}
        self._add(
            words.one_note,
            [
                (shop, key, note.salt, None if note.text is None else note.text.encode())
                for key, note in notes.items()
            ],
        )
        self._add(words.one_subtree, [(shop, *node) for node in changes.tree])

    def _write_present(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        folds = sorted({fold.subject: fold for fold in changes.folds}.values())
        # Where the shelf stays what it is, the key that lists by shelf need not be written.
        stay = [fold for fold in folds if self._shelves.get(fold.subject) == fold.shelf]
        move = [fold for fold in folds if self._shelves.get(fold.subject) != fold.shelf]
        self._add(words.one_fold_in_place, [(shop, *fold) for fold in stay])
        self._add(words.one_fold, [(shop, *fold) for fold in move])
        self._add(
            words.one_tally,
            sorted((shop, *key, float(delta)) for key, delta in changes.tallies.items()),
        )
        for position, gone_at in changes.climate_gone:
            self._cursor.execute(words.take_back, (gone_at, shop, position))
        self._add(
            words.one_reading,
            [
                (shop, row.room, row.at_us, row.position, ordinal, row.air_c, row.rh_pct,
                 row.surface_c, row.gone_at)
                for ordinal, row in enumerate(changes.climate)
            ],
        )  # fmt: skip

    def _add(self, statement: str, rows: Sequence[tuple[object, ...]]) -> None:
        for start in range(0, len(rows), ROWS_AT_ONCE):
            group = rows[start : start + ROWS_AT_ONCE]
            flat = tuple(chain.from_iterable(group))
            self._cursor.execute(for_rows(statement, len(group)), flat)


_Begun = tuple[PoolProxiedConnection, DBAPICursor]


class SqlStore:
    """One shop's ledger behind two engines. Made by `open_store`; threads may share it."""

    def __init__(self, engines: Engines, shop: str) -> None:
        self._engines = engines
        self._shop = shop
        self._statements = statements_for(engines.writer.dialect)
        # Threads wait here, in the order they come, and not at the database.
        self._writing = Lock()
        self._kept: _Begun | None = None

    @property
    def shop(self) -> str:
        """The shop's own word."""
        return self._shop

    @property
    def caution(self) -> str | None:
        """What whoever keeps this service should know about its database, if anything."""
        return self._engines.caution

    @contextmanager
    def reading(self) -> Iterator[Reader]:
        """Open one consistent state to read."""
        begun = self._begin(self._engines.reader, self._statements.begin_reading, None)
        connection, cursor = begun
        try:
            yield SqlReader(cursor, self._statements, self._shop)
            cursor.execute("COMMIT")
        finally:
            _give_back(connection)

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Lock the head; commit when the block ends, roll back when it raises."""
        with self._writing:
            kept, self._kept = self._kept, None
            begun = self._begin(self._engines.writer, self._statements.begin_writing, kept)
            connection, cursor = begun
            try:
                yield SqlWriter(cursor, self._statements, self._shop, self._pipeline(connection))
                cursor.execute("COMMIT")
            except BaseException:
                _give_back(connection)
                raise
            self._kept = begun

    @contextmanager
    def beside(self, *, writing: bool = False) -> Iterator[SqlReader]:
        """Open a transaction on the ledger and, by its cursor, on the tables beside it."""
        with self.writing() if writing else self.reading() as ledger:
            yield cast(SqlReader, ledger)

    def words(self, statement: ClauseElement) -> str:
        """Put a statement into the words of this store's engine; parameters in their order."""
        return str(statement.compile(dialect=self._engines.writer.dialect))

    def close(self) -> None:
        """Close every connection and give the file back to others."""
        with self._writing:
            if self._kept is not None:
                _give_back(self._kept[0])
                self._kept = None
        self._engines.close()

    def _begin(self, engine: Engine, begin: str, kept: _Begun | None) -> _Begun:
        """Begin on a connection that works: one that broke while it lay idle is replaced."""
        for _ in range(READERS_MAX + 1):
            connection = kept[0] if kept else engine.raw_connection()
            try:
                cursor = kept[1] if kept else self._cursor(connection)
                cursor.execute(begin)
            except engine.dialect.loaded_dbapi.Error as error:
                driver = cast(Any, connection.driver_connection)
                broken = engine.dialect.is_disconnect(error, driver, None)
                if broken:
                    connection.invalidate(error)
                _give_back(connection)
                if not broken:
                    raise
                kept = None
            else:
                return connection, cursor
        raise UnfitError("no connection to the database holds")

    def _cursor(self, connection: PoolProxiedConnection) -> DBAPICursor:
        if self._engines.is_sqlite:
            return connection.cursor()
        # Leaves come over as the bytes they are, not as text twice as long.
        return cast(DBAPICursor, cast(Any, connection.driver_connection).cursor(binary=True))

    def _pipeline(self, connection: PoolProxiedConnection) -> AbstractContextManager[object]:
        """Let the statements of a write go out together instead of one answer after another."""
        if self._engines.is_sqlite:
            return nullcontext()
        pipeline = cast(Any, connection.driver_connection).pipeline()
        return cast(AbstractContextManager[object], pipeline)


def _give_back(connection: PoolProxiedConnection) -> None:
    # The pool rolls back what was not committed, and throws a connection away that cannot.
    connection.close()


def open_store(address: str, shop: str, *, epoch: str | None = None) -> SqlStore:
    """Open a shop's ledger whose tables are up to date, and begin it when it is new.

    `epoch` names the ledger's life for readers of its feed; only a new ledger takes it.
    """
    engines = make_engines(address)
    try:
        check_fit(engines)
        store = SqlStore(engines, shop)
        _begin_ledger(engines, shop, epoch or secrets.token_hex(8))
    except BaseException:
        engines.close()
        raise
    return store


def _begin_ledger(engines: Engines, shop: str, epoch: str) -> None:
    with engines.writer.begin() as connection:
        shops = frozenset(connection.scalars(select(HEAD.c.shop).where(HEAD.c.shop != shop)))
        if engines.is_sqlite and shops:
            raise UnfitError(
                f"this file keeps the ledger of {', '.join(sorted(shops))}, not of {shop}; a "
                "SQLite file has one shop"
            )
        first = {"shop": shop, "size": 0, "recorded_at": 0, "frontier": b"", "epoch": epoch}
        insert = sqlite.insert if engines.is_sqlite else postgresql.insert
        connection.execute(insert(HEAD).on_conflict_do_nothing(), first)
