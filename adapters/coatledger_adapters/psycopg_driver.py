"""What only the driver for PostgreSQL can do: plain bytes, answers not waited for, rows by COPY."""

from collections.abc import Iterable, Mapping
from contextlib import AbstractContextManager
from typing import Any, cast

from sqlalchemy import PoolProxiedConnection, Table
from sqlalchemy.engine.interfaces import DBAPICursor

from coatledger_adapters.row_security import SETTING
from coatledger_adapters.tables import BYTES, NUMBER, WHOLE

# From so many rows on COPY is worth its own round trips; measured, it is then twice as fast as
# INSERT.
COPY_FROM_ROWS = 100
_TYPE_NAMES: Mapping[object, str] = {WHOLE: "int8", BYTES: "bytea", NUMBER: "float8"}


def binary_cursor(connection: PoolProxiedConnection) -> DBAPICursor:
    """A cursor to which bytes come over as they are, not as text twice as long."""
    return cast(DBAPICursor, _driver(connection).cursor(binary=True))


def beginning_for(begin: str, shop: str) -> str:
    """Write what begins a transaction of one shop, in one message."""
    from psycopg.sql import quote

    return f"{begin}; SELECT set_config('{SETTING}', {quote(shop)}, true)"


def begin(connection: PoolProxiedConnection, words: str) -> None:
    """Begin a transaction. Two statements in one message can only go as plain text."""
    _driver(connection).execute(words, prepare=False)


def commit(cursor: DBAPICursor) -> None:
    """Commit, or raise: asked to commit what an error broke, the server rolls back and is content,
    also when whoever met that error swallowed it."""
    from psycopg.errors import InFailedSqlTransaction

    cursor.execute("COMMIT")
    if cast(Any, cursor).statusmessage != "COMMIT":
        raise InFailedSqlTransaction("an error broke this transaction, so nothing was kept of it")


def together(connection: PoolProxiedConnection) -> AbstractContextManager[object]:
    """Send the statements of a block one after another and wait once, at its end."""
    return cast(AbstractContextManager[object], _driver(connection).pipeline())


def copy_in(
    cursor: DBAPICursor, table: Table, rows: Iterable[tuple[object, ...]], where_there: str = ""
) -> None:
    """Add many rows, their values in the order of the table's columns, and say what is done where
    one is there.

    COPY does not go into a table with row-level security, so the rows take a table of the
    connection's own on their way.
    """
    own = f"{table.name}_on_their_way"
    columns = ", ".join(column.name for column in table.c)
    made = f"CREATE TEMP TABLE IF NOT EXISTS {own} (LIKE {table.name}) ON COMMIT DELETE ROWS"
    cursor.execute(made)
    with cast(Any, cursor).copy(f"COPY {own} ({columns}) FROM STDIN (FORMAT BINARY)") as copy:
        copy.set_types([_TYPE_NAMES.get(column.type, "text") for column in table.c])
        for row in rows:
            copy.write_row(row)
    cursor.execute(
        f"INSERT INTO {table.name} ({columns}) SELECT {columns} FROM {own} {where_there}"
    )
    cursor.execute(f"TRUNCATE {own}")  # the same transaction may write once more


def _driver(connection: PoolProxiedConnection) -> Any:
    return connection.driver_connection
