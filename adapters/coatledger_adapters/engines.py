"""Engines for a ledger's address: what every connection must be set to, and when not to start.

SQLite has one writing connection and readers that cannot write; PostgreSQL is set up the same way,
so that readers never keep a writer waiting. Connections of both kinds commit by themselves; the
store says BEGIN and COMMIT, so that nothing begins a transaction unseen.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, QueuePool, create_engine, event, make_url, text
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import DBAPIError

from coatledger_adapters.lock_file import LockFile
from coatledger_adapters.row_security import caution_about_role, tables_open
from coatledger_adapters.tables import TRIGGERS, TRUNCATE_TRIGGERS

SCHEMA_VERSION = "0009"
SQLITE_OLDEST = (3, 37, 0)  # the first with strict tables
BUSY_TIMEOUT_MS = 5_000
READERS_MAX = 16
# A page written by many commits is copied back once: 4,000 pages are 16 MB of log.
CHECKPOINT_PAGES = 4_000
STATEMENTS_KEPT = 512

_SQLITE_COMMON = (
    f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}",
    # Without it INSERT OR REPLACE deletes a row past the trigger that refuses to delete.
    "PRAGMA recursive_triggers = ON",
)
SQLITE_WRITER = (
    *_SQLITE_COMMON,
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    # On a Mac an ordinary sync leaves the data in the disk's own cache.
    "PRAGMA fullfsync = ON",
    "PRAGMA checkpoint_fullfsync = ON",
    f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}",
    # At most 16 MB: the ends of every key stay at hand, however long the history is.
    "PRAGMA cache_size = -16384",
)
# Readers never checkpoint: two connections that checkpoint at once are what the fault needs.
_SQLITE_READER = (*_SQLITE_COMMON, "PRAGMA query_only = ON", "PRAGMA wal_autocheckpoint = 0")
_POSTGRESQL_DURABLE = (
    "SELECT set_config('synchronous_commit', 'on', false) "
    "WHERE current_setting('synchronous_commit') = 'off'"
)


class UnfitError(Exception):
    """The database is not one a ledger may be kept in; the message says what to do."""


@dataclass(frozen=True)
class Engines:
    """One engine that writes through a single connection, one that reads through several."""

    writer: Engine
    reader: Engine
    lock: LockFile | None
    caution: str | None

    @property
    def is_sqlite(self) -> bool:
        """Whether this is a file, kept by one process for one shop."""
        return self.lock is not None

    def close(self) -> None:
        """Close the readers first, so that the last connection of a file is its writer."""
        self.reader.dispose()
        self.writer.dispose()
        if self.lock is not None:
            self.lock.close()


def make_engines(address: str) -> Engines:
    """Make engines for `sqlite:///file` or `postgresql://...`; nothing is read or made yet."""
    url = make_url(address)
    if url.get_backend_name() == "sqlite":
        return _sqlite_engines(url)
    if url.get_backend_name() == "postgresql":
        return _postgresql_engines(url.set(drivername="postgresql+psycopg"))
    raise UnfitError(f"a ledger is kept in SQLite or PostgreSQL, not in {url.get_backend_name()}")


def sqlite_caution(version: tuple[int, int, int]) -> str | None:
    """Say when this SQLite has the fault that loses commits if two connections write at once.

    *Reference:* sqlite.org, release notes of 3.51.3: versions from 3.7.0 on, mended in 3.51.3,
    3.50.7 and 3.44.6. The lock and the single writing connection keep us clear of it.
    """
    mended = (
        version >= (3, 51, 3)
        or (3, 50, 7) <= version < (3, 51)
        or ((3, 44, 6) <= version < (3, 45))
    )
    if mended:
        return None
    return (
        f"SQLite {'.'.join(map(str, version))} can lose committed work when two programs write "
        "one file at once (mended in 3.51.3); coatledger writes through one connection, so let "
        "nothing else write this file"
    )


def check_fit(engines: Engines) -> Engines:
    """Refuse a database whose tables are missing or of another version, or that lacks what keeps
    history from being changed and shops from being mixed; return what is now known with it."""
    with engines.reader.connect() as connection:
        try:
            version = connection.scalar(text("SELECT version_num FROM alembic_version"))
        except DBAPIError:
            version = None
        if version != SCHEMA_VERSION:
            raise UnfitError(
                f"the database's tables are of version {version or 'none'}, this program needs "
                f"{SCHEMA_VERSION}: bring them up to date with `migrate` first"
            )
        missing = _triggers_expected(engines) - _triggers(connection)
        unheld = () if engines.is_sqlite else tables_open(connection)
        caution = engines.caution if engines.is_sqlite else caution_about_role(connection)
    if missing:
        named = ", ".join(f"{trigger} on {table}" for table, trigger in sorted(missing))
        raise UnfitError(
            f"what keeps history from being changed is missing: {named}. Somebody or something "
            "altered this database: compare it with a backup before going on"
        )
    if unheld:
        raise UnfitError(
            f"row-level security is not forced, or opened by another policy, on {', '.join(unheld)}"
            ": put it back as the migrations made it"
        )
    return replace(engines, caution=caution)


def _triggers_expected(engines: Engines) -> frozenset[tuple[str, str]]:
    return TRIGGERS if engines.is_sqlite else TRIGGERS | TRUNCATE_TRIGGERS


def _triggers(connection: Connection) -> frozenset[tuple[str, str]]:
    if connection.dialect.name == "sqlite":
        query = "SELECT tbl_name, name FROM sqlite_master WHERE type = 'trigger'"
    else:
        # 'D' is a trigger that was switched off, 'R' one that is silent for ordinary sessions.
        query = (
            "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "WHERE NOT t.tgisinternal AND t.tgenabled IN ('O', 'A') "
            "AND pg_table_is_visible(c.oid)"
        )
    return frozenset((table, name) for table, name in connection.execute(text(query)))


def _sqlite_engines(url: URL) -> Engines:
    if sqlite3.sqlite_version_info < SQLITE_OLDEST:
        oldest = ".".join(map(str, SQLITE_OLDEST))
        raise UnfitError(f"SQLite {sqlite3.sqlite_version} is too old: {oldest} or newer is needed")
    if not url.database or url.database == ":memory:" or url.query:
        raise UnfitError("name a file, without options: sqlite:///ledger.db")
    lock = LockFile(Path(url.database))

    def make(pragmas: tuple[str, ...], size: int) -> Engine:
        return _engine(
            url,
            size,
            lambda connection: _run(connection, pragmas),
            begin="BEGIN IMMEDIATE" if size == 1 else "BEGIN",
            connect_args={
                "isolation_level": None,
                "check_same_thread": False,
                "cached_statements": STATEMENTS_KEPT,
            },
        )

    major, minor, patch = sqlite3.sqlite_version_info
    return Engines(
        make(SQLITE_WRITER, 1),
        make(_SQLITE_READER, READERS_MAX),
        lock,
        sqlite_caution((major, minor, patch)),
    )


def _postgresql_engines(url: URL) -> Engines:
    try:
        from psycopg import Connection as Psycopg
        from psycopg.types.numeric import Int8BinaryDumper
    except ImportError as error:
        raise UnfitError("for PostgreSQL install coatledger[postgres]") from error

    def set_up(connection: DBAPIConnection) -> None:
        assert isinstance(connection, Psycopg)
        connection.autocommit = True
        connection.prepare_threshold = 1
        connection.prepared_max = STATEMENTS_KEPT
        # One type for whole numbers, or each size of number would be prepared as a new statement.
        connection.adapters.register_dumper(int, Int8BinaryDumper)
        # Durable when acknowledged, whatever the database's default; a stricter setting is kept.
        _run(connection, (_POSTGRESQL_DURABLE,))

    return Engines(
        _engine(url, 1, set_up, begin="BEGIN", connect_args={}),
        _engine(url, READERS_MAX, set_up, begin="BEGIN", connect_args={}),
        None,
        None,
    )


def _engine(
    url: URL,
    size: int,
    set_up: Callable[[DBAPIConnection], None],
    *,
    begin: str,
    connect_args: dict[str, object],
) -> Engine:
    engine = create_engine(
        url,
        poolclass=QueuePool,
        pool_size=size,
        max_overflow=0,
        pool_use_lifo=True,
        paramstyle="qmark" if url.get_backend_name() == "sqlite" else "format",
        connect_args=connect_args,
        hide_parameters=True,  # an error is logged, and its values are the shop's words
    )
    event.listen(engine, "connect", lambda connection, _record: set_up(connection))
    # The driver begins nothing, so what SQLAlchemy itself does in a transaction begins here.
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql(begin))
    return engine


def _run(connection: DBAPIConnection, statements: tuple[str, ...]) -> None:
    cursor = connection.cursor()
    for statement in statements:
        cursor.execute(statement)
    cursor.close()
