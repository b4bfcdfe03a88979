"""Whether a ledger's database can be written: room on its disk, and why a write was not taken."""

import os
import shutil
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

# Below this a write may fail in its middle: a transaction and the log it goes to need some room.
FREE_BYTES_MIN = 8 * 1024 * 1024
# The primary codes of SQLite that no other request would fare better with, in words.
_SQLITE: Mapping[int, str] = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "the database may only be read",
    sqlite3.SQLITE_IOERR: "the disk fails",
    sqlite3.SQLITE_CANTOPEN: "the database cannot be opened",
}
_POSTGRESQL: Mapping[str, str] = {
    "53100": "the disk of the database is full",
    "25006": "the database may only be read",
}


class CannotWriteError(Exception):
    """Nothing was written, and nothing will be until somebody makes room or rights."""


class Room(NamedTuple):
    """Whether a database can be written, as far as one sees from outside. `free_bytes` is None
    where its disk is another machine's."""

    writable: bool
    free_bytes: int | None = None


@contextmanager
def cannot_write_told() -> Iterator[None]:
    """Say that nothing can be written, where that is why something failed."""
    try:
        yield
    except Exception as error:
        why = why_not(error)
        if why is None:
            raise
        raise CannotWriteError(why) from error


def why_not(error: BaseException) -> str | None:
    """Say why a write failed when that is the database's room or rights; None for other errors."""
    for one in (error, getattr(error, "orig", None)):
        code = getattr(one, "sqlite_errorcode", None)
        if code is not None:
            return _SQLITE.get(code & 0xFF)  # the extended codes keep their primary one below
        state = getattr(one, "sqlstate", None)
        if state is not None:
            return _POSTGRESQL.get(state)
    return None


def room_of_file(database: Path) -> Room:
    """Look at the disk and the rights of a database's file and of the folder of its log."""
    free = shutil.disk_usage(database.parent).free
    may = os.access(database, os.W_OK) and os.access(database.parent, os.W_OK)
    return Room(may and free >= FREE_BYTES_MIN, free)
