"""One shop's ledger in SQLite or PostgreSQL: the core's port, with few statements a write.

A write begins by locking the shop's head; event, subjects, folds, tallies, climate and notes are
committed together or not at all.
"""

import secrets
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from threading import Lock
from typing import Any, cast

from coatledger.ledger.store import Reader, Writer
from coatledger.subjects.fold_form import made_by
from sqlalchemy import Engine, PoolProxiedConnection, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine.interfaces import DBAPICursor
from sqlalchemy.sql import ClauseElement

from coatledger_adapters import psycopg_driver
from coatledger_adapters.engines import READERS_MAX, Engines, UnfitError, check_fit, make_engines
from coatledger_adapters.room import Room, cannot_write_told, room_of_file
from coatledger_adapters.row_security import WHOSE
from coatledger_adapters.sql_reader import MOVED, SqlReader, stale_says
from coatledger_adapters.sql_writer import SqlWriter
from coatledger_adapters.statements import statements_for
from coatledger_adapters.tables import HEAD

_Begun = tuple[PoolProxiedConnection, DBAPICursor]


class SqlStore:
    """One shop's ledger behind two engines. Made by `open_store`; threads may share it."""

    def __init__(self, engines: Engines, shop: str) -> None:
        self._engines = engines
        self._shop = shop
        self._made_by = made_by()
        self._statements = statements_for(engines.writer.dialect)
        self._begins = (self._statements.begin_reading, self._statements.begin_writing)
        if not engines.is_sqlite:
            reading, writing = self._begins
            told = psycopg_driver.beginning_for
            self._begins = (told(reading, shop), told(writing, shop))
        # Threads wait here, in the order they come, and not at the database.
        self._writing = Lock()
        self._kept: _Begun | None = None

    @property
    def shop(self) -> str:
        """The shop's own word."""
        return self._shop

    @property
    def is_sqlite(self) -> bool:
        """Whether this is a file, kept by one process for one shop."""
        return self._engines.is_sqlite

    @property
    def caution(self) -> str | None:
        """What whoever keeps this service should know about its database, if anything."""
        return self._engines.caution

    @property
    def made_by(self) -> str:
        """What this program's folds are made by; those of another are not used."""
        return self._made_by

    def reading(self) -> AbstractContextManager[Reader]:
        """Open one consistent state to read."""
        return self._reading(self._made_by)

    def writing(self) -> AbstractContextManager[Writer]:
        """Lock the head; commit when the block ends, roll back when it raises."""
        return self._writing_as(self._made_by)

    @contextmanager
    def _reading(self, made_by: str | None) -> Iterator[SqlReader]:
        begun = self._begin(self._engines.reader, self._begins[0], None)
        connection, cursor = begun
        try:
            yield SqlReader(cursor, self._statements, self._shop, made_by)
            cursor.execute("COMMIT")
        finally:
            _give_back(connection)

    @contextmanager
    def _writing_as(self, made_by: str | None) -> Iterator[SqlWriter]:
        with self._writing:
            kept, self._kept = self._kept, None
            with cannot_write_told():
                begun = self._begin(self._engines.writer, self._begins[1], kept)
            connection, cursor = begun
            try:
                psycopg = None if self._engines.is_sqlite else connection
                with cannot_write_told():
                    yield SqlWriter(cursor, self._statements, self._shop, psycopg, made_by)
                    if psycopg is None:
                        cursor.execute("COMMIT")
                    else:
                        psycopg_driver.commit(cursor)
            except BaseException:
                # Whoever still holds the writer must not keep the file open by its last statement.
                with suppress(Exception):
                    cursor.close()
                _give_back(connection)
                raise
            self._kept = begun

    def beside(self, *, writing: bool = False) -> AbstractContextManager[SqlReader]:
        """Open a transaction on the ledger and, by its cursor, on the tables beside it.

        Folds of another version can be read here, by whoever tends them.
        """
        return self.tending() if writing else self._reading(None)

    def tending(self) -> AbstractContextManager[SqlWriter]:
        """Lock the head to tend what is kept beside the events."""
        return self._writing_as(None)

    @contextmanager
    def alone(self) -> Iterator[DBAPICursor]:
        """Hold the writing connection outside a transaction, to tend the database itself."""
        with self._writing:
            kept, self._kept = self._kept, None
            connection = kept[0] if kept else self._engines.writer.raw_connection()
            try:
                yield kept[1] if kept else self._cursor(connection)
            finally:
                _give_back(connection)

    def words(self, statement: ClauseElement) -> str:
        """Put a statement into the words of this store's engine; parameters in their order."""
        return str(statement.compile(dialect=self._engines.writer.dialect))

    def room(self) -> Room:
        """Look whether the database can be written; what a full disk says only a write tells."""
        if self._engines.is_sqlite:
            return room_of_file(Path(str(self._engines.writer.url.database)))
        with self._engines.reader.connect() as connection:
            return Room(not connection.exec_driver_sql("SELECT pg_is_in_recovery()").scalar_one())

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
                if self._engines.is_sqlite:
                    cursor.execute(begin)
                else:
                    psycopg_driver.begin(connection, begin)
            except BaseException as error:
                broken = _is_broken(engine, connection, error)
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
        return psycopg_driver.binary_cursor(connection)


def _is_broken(engine: Engine, connection: PoolProxiedConnection, error: BaseException) -> bool:
    dialect, driver = engine.dialect, cast(Any, connection.driver_connection)
    mine = isinstance(error, dialect.loaded_dbapi.Error)
    return mine and dialect.is_disconnect(cast(Any, error), driver, None)


def _give_back(connection: PoolProxiedConnection) -> None:
    # The pool rolls back what was not committed, and throws a connection away that cannot.
    connection.close()


def open_store(
    address: str, shop: str, *, epoch: str | None = None, moved_too: bool = False
) -> SqlStore:
    """Open a shop's ledger whose tables are up to date, and begin it when it is new.

    `epoch` names the ledger's life for readers of its feed; only a new ledger takes it. One that
    was moved away is opened only `moved_too`, to move it again.
    """
    engines = make_engines(address)
    try:
        engines = check_fit(engines)
        store = SqlStore(engines, shop)
        _begin_ledger(engines, shop, epoch or secrets.token_hex(8), moved_too=moved_too)
    except BaseException:
        engines.close()
        raise
    return store


def _begin_ledger(engines: Engines, shop: str, epoch: str, *, moved_too: bool) -> None:
    with engines.writer.begin() as connection:
        if not engines.is_sqlite:
            connection.execute(WHOSE, {"shop": shop})
        shops = frozenset(connection.scalars(select(HEAD.c.shop).where(HEAD.c.shop != shop)))
        if engines.is_sqlite and shops:
            raise UnfitError(
                f"this file keeps the ledger of {', '.join(sorted(shops))}, not of {shop}; a "
                "SQLite file has one shop"
            )
        first = {
            "shop": shop, "size": 0, "recorded_at": 0, "frontier": b"", "epoch": epoch,
            "kept_as": made_by(),
        }  # fmt: skip
        insert = sqlite.insert if engines.is_sqlite else postgresql.insert
        connection.execute(insert(HEAD).on_conflict_do_nothing(), first)
        kept_as = connection.scalar(select(HEAD.c.kept_as).where(HEAD.c.shop == shop))
    if kept_as == MOVED and not moved_too:
        raise UnfitError(f"{stale_says(MOVED)}; open it where it was moved to")
