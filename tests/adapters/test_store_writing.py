"""A write is all or nothing, history does not change, and writers and readers agree on the order.

Each property is a function that a broken store is shown to fail.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from itertools import count
from typing import Any, cast
from unittest.mock import patch

import psycopg
import pytest
from coatledger.ledger.store import Changes, ClimateRow, Note, Store, TreeNode
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.sql_writer import SqlWriter
from scribe import SHOP, Act, append, changes, event_id, everything, fold, reading
from sqlalchemy.engine.interfaces import DBAPICursor

DATABASE_ERRORS = (sqlite3.Error, psycopg.Error)


class BrokenError(Exception):
    """What a test breaks a write with."""


def full(store: Store, events: int = 2) -> None:
    """A write that touches every table, and from the second time on what is there already."""
    acts = [Act(("piece:A-1", "lot:L-1", "gun:G-1"), "coat_applied", n) for n in range(events)]
    with store.writing() as writer:
        head = writer.head()
        size = head.size
        writer.folds(["piece:A-1", "gun:G-1"])
        made = changes(
            head,
            acts,
            folds=[fold("piece:A-1", f"shelf-{size}", size), fold("gun:G-1", "", size)],
            tallies={("coats", "a"): 1, ("wip", "a"): 2},
            climate=[reading("spray", size, size + 1)],
            gone=[(size, size + 1)],
            notes=[Note(event_id(size + 1), b"s", "words")],
            tree=[TreeNode(6, size, b"h" * 32)],
        )
        writer.write(made)


class Failing:
    """A cursor that breaks at its n-th statement; BEGIN is the first."""

    def __init__(self, cursor: DBAPICursor, statements: Iterator[int], at: int) -> None:
        self._cursor = cursor
        self._statements = statements
        self._at = at

    def __getattr__(self, name: str) -> Any:
        return getattr(self._cursor, name)

    def execute(self, *given: Any) -> Any:
        self._step()
        return self._cursor.execute(*given)

    def copy(self, *given: Any) -> Any:
        self._step()
        return self._cursor.copy(*given)

    def _step(self) -> None:
        if next(self._statements) == self._at:
            raise BrokenError


def break_at(address: str, at: int, events: int) -> bool:
    """Whether breaking the n-th statement of a write was noticed, and left all or nothing."""
    with closing(open_store(address, SHOP)) as store:
        before = everything(store)
        real, statements = store._cursor, count(1)
        with patch.object(store, "_cursor", lambda c: Failing(real(c), statements, at)):
            try:
                full(store, events)
            except BrokenError:
                broke = True
            else:
                broke = False
        if broke:
            assert everything(store) == before
            full(store)  # the store goes on without a restart
        return broke


def break_everywhere(address: str, events: int) -> int:
    """Break every statement of a write in turn, and return how many there are."""
    return next(at for at in count(1) if not break_at(address, at, events)) - 1


@pytest.mark.parametrize("events", [1, 150])
def test_an_error_at_any_statement_leaves_nothing(address: str, events: int) -> None:
    with closing(open_store(address, SHOP)) as store:
        full(store)
    assert break_everywhere(address, events) > 11  # COMMIT, and each table's own


def test_a_commit_in_the_middle_would_be_seen(address: str) -> None:
    real = SqlWriter._write_climate

    def too_early(writer: SqlWriter, made: Changes) -> None:
        writer._cursor.execute("COMMIT")
        writer._cursor.execute("BEGIN")
        real(writer, made)

    with closing(open_store(address, SHOP)) as store:
        full(store)
    # On PostgreSQL what comes after belongs to no shop, and the server takes none of it.
    seen = (AssertionError, psycopg.errors.InsufficientPrivilege)
    with patch.object(SqlWriter, "_write_climate", too_early), pytest.raises(seen):
        break_everywhere(address, 1)


def test_what_the_database_refuses_late_leaves_nothing_of_what_it_took_before(
    sql_store: SqlStore,
) -> None:
    full(sql_store)
    before = everything(sql_store)
    without_air: Any = ClimateRow("spray", 1, 3, None, 45.0, None, None)  # type: ignore[arg-type]
    with pytest.raises(DATABASE_ERRORS, match=r"(?i)not.null"):
        append(sql_store, Act(("piece:A-1",)), climate=[without_air], folds=[fold("piece:A-2")])
    assert everything(sql_store) == before
    full(sql_store)


def test_what_an_error_broke_that_was_swallowed_is_not_called_kept(sql_store: SqlStore) -> None:
    """PostgreSQL rolls back what it is asked to commit then, and says so only in passing."""
    is_called_kept = True
    try:
        with sql_store.writing() as writer:
            writer.write(changes(writer.head(), [Act(("piece:A-1",))]))
            with suppress(*DATABASE_ERRORS):
                cast(SqlWriter, writer).cursor.execute("SELECT nothing FROM nowhere")
    except psycopg.errors.InFailedSqlTransaction:
        is_called_kept = False
    with sql_store.reading() as reader:
        is_kept = reader.head().size == 1
    assert is_called_kept is is_kept is sql_store.is_sqlite
    full(sql_store)


def write_and_raise(store: Store) -> None:
    with store.writing() as writer:
        # In memory nothing can fail after `write`, so there it is not asked to go back.
        if isinstance(store, SqlStore):
            writer.write(changes(writer.head(), [Act(("piece:A-1",))]))
        raise BrokenError


def test_several_large_writes_may_share_one_transaction(sql_store: SqlStore) -> None:
    with sql_store.tending() as writer:
        writer.write(changes(writer.head(), [Act(("piece:A-1",))] * 150))
        for _ in range(2):
            writer = writer.once_more()
            writer.write(changes(writer.head(), [Act(("piece:A-1",))] * 150))
    with sql_store.reading() as reader:
        assert [row.position for row in reader.rows(0, 999)] == list(range(1, 451))
        assert len(reader.of_subject("piece:A-1")) == 450


def test_a_block_that_raises_leaves_nothing(store: Store) -> None:
    full(store)
    before = everything(store)
    with pytest.raises(BrokenError):
        write_and_raise(store)
    assert everything(store) == before
    full(store)


def test_a_block_that_writes_nothing_changes_nothing(store: Store) -> None:
    full(store)
    before = everything(store)
    with store.writing():
        pass
    assert everything(store) == before


def test_positions_with_a_gap_or_twice_are_never_written(store: Store) -> None:
    full(store)
    before = everything(store)
    with store.reading() as reader:
        head = reader.head()
    for wrong in (head._replace(size=head.size + 1), head._replace(size=head.size - 1)):
        with pytest.raises(AssertionError), store.writing() as writer:
            writer.write(changes(wrong, [Act(("piece:A-1",))]))
    assert everything(store) == before


def test_one_event_id_is_never_two_events(sql_store: SqlStore) -> None:
    full(sql_store)
    before = everything(sql_store)
    with sql_store.reading() as reader:
        made = changes(reader.head(), [Act(("piece:A-1",))])
    again = [made.rows[0]._replace(event_id=event_id(1))]
    with pytest.raises(DATABASE_ERRORS, match=r"(?i)unique"), sql_store.writing() as writer:
        writer.write(made._replace(rows=again))
    assert everything(sql_store) == before


CHANGES_TO_HISTORY = (
    "UPDATE events SET leaf = leaf",
    "UPDATE events SET position = 9 WHERE position = 1",
    "UPDATE events SET leaf = leaf WHERE position = 1",
    "DELETE FROM events",
    "DELETE FROM events WHERE position = 2",
    "UPDATE event_subjects SET occurred_at = 1",
    "DELETE FROM event_subjects WHERE subject = 'piece:A-1'",
)
ONLY_SQLITE = (
    "INSERT OR REPLACE INTO events SELECT shop, position, event_id, type, 0, 0, leaf FROM events",
    "REPLACE INTO event_subjects SELECT * FROM event_subjects",
    "UPDATE OR IGNORE events SET leaf = leaf",
)
ONLY_POSTGRESQL = ("TRUNCATE events", "TRUNCATE event_subjects", "TRUNCATE events CASCADE")


def test_the_database_refuses_to_change_history(address: str, sql_store: SqlStore) -> None:
    full(sql_store)
    before = everything(sql_store)
    own = ONLY_SQLITE if address.startswith("sqlite") else ONLY_POSTGRESQL
    for statement in (*CHANGES_TO_HISTORY, *own):
        with (
            pytest.raises(DATABASE_ERRORS, match="never changed or deleted"),
            sql_store.beside(writing=True) as ledger,
        ):
            ledger.cursor.execute(statement)
    assert everything(sql_store) == before


def test_a_reader_cannot_write(sql_store: SqlStore) -> None:
    with pytest.raises(DATABASE_ERRORS, match=r"(?i)read.?only"), sql_store.beside() as ledger:
        ledger.cursor.execute("DELETE FROM tally")
