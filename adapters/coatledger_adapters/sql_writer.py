"""Writing one shop's ledger inside one transaction: the core's `Writer` on a driver's cursor.

Rows go in as the core made them: nothing here decides anything or knows any kind of event.
"""

from collections.abc import Iterable
from contextlib import nullcontext
from itertools import chain, islice
from operator import attrgetter

from coatledger.ledger.store import Changes, Head
from sqlalchemy import PoolProxiedConnection, Table
from sqlalchemy.engine.interfaces import DBAPICursor

from coatledger_adapters import psycopg_driver
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.statements import Statements, after_rows, for_rows, rows_in_groups
from coatledger_adapters.tables import CLIMATE, EVENTS, FOLD, NOTE, SUBJECTS, TALLY, TREE

# Made while they are written: thousands of rows held at once would set the collector off.
_Rows = Iterable[tuple[object, ...]]


class SqlWriter(SqlReader):
    """A reader that holds the head's lock and may write once."""

    def __init__(
        self, cursor: DBAPICursor, statements: Statements, shop: str,
        psycopg: PoolProxiedConnection | None, made_by: str | None = None,
    ) -> None:  # fmt: skip
        super().__init__(cursor, statements, shop, made_by)
        self._psycopg = psycopg
        self._locked = self._head(statements.lock_head)
        self._written = False
        self._copies = False

    def once_more(self) -> "SqlWriter":
        """Return a writer for another write in the same transaction."""
        return SqlWriter(self._cursor, self._statements, self._shop, self._psycopg, self._made_by)

    def head(self) -> Head:
        """Return where the ledger stands, as read when it was locked."""
        assert not self._written, "the head has moved"
        return self._locked

    def write(self, changes: Changes) -> None:
        """Write everything; what fails is raised here or when the block ends, and undoes it all."""
        assert not self._written, "one write a transaction"
        assert changes.head.size == self._locked.size + len(changes.rows), "positions have no gaps"
        self._written = True
        most = max(map(len, (changes.subjects, changes.folds, changes.tallies, changes.climate)))
        self._copies = self._psycopg is not None and most >= psycopg_driver.COPY_FROM_ROWS
        # COPY has an answer of its own to wait for; else all is sent, and waited for once.
        connection = None if self._copies else self._psycopg
        with nullcontext() if connection is None else psycopg_driver.together(connection):
            self._write_history(changes)
            self._write_present(changes)

    def _write_history(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        events = (
            (shop, position, event_id.bytes, tag, occurred_us, recorded_us, leaf)
            for position, event_id, tag, occurred_us, recorded_us, leaf in changes.rows
        )
        # By subject, as in their key, so that neighbours are written one after another.
        subjects = (
            (shop, subject, tag, occurred_us, position)
            for subject, position, occurred_us, tag in sorted(
                changes.subjects, key=attrgetter("subject")
            )
        )
        self._add(EVENTS, words.one_event, events)
        self._add(SUBJECTS, words.one_subject, subjects)

    def _write_present(self, changes: Changes) -> None:
        self._write_beside(changes)
        self._write_folds(changes)
        self._write_climate(changes)
        frontier = b"".join(changes.head.frontier)
        moved = (changes.head.size, changes.head.recorded_us, frontier, self._shop)
        self._cursor.execute(self._statements.move_head, moved)

    def _write_beside(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        notes = {note.event_id.bytes: note for note in changes.notes}
        self._add(
            NOTE,
            words.one_note,
            (
                (shop, key, note.salt, None if note.text is None else note.text.encode())
                for key, note in notes.items()
            ),
        )
        self._add(TREE, words.one_subtree, ((shop, *node) for node in changes.tree))

    def _write_folds(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        last = {fold.subject: fold for fold in changes.folds}
        folds = sorted(last.values(), key=attrgetter("subject"))
        # Where the shelf stays what it is, the key that lists by shelf need not be written.
        here = changes.in_place
        self._add(FOLD, words.one_fold_in_place, ((shop, *f) for f in folds if f.subject in here))
        self._add(FOLD, words.one_fold, ((shop, *f) for f in folds if f.subject not in here))
        self._add(
            TALLY,
            words.one_tally,
            sorted((shop, *key, float(delta)) for key, delta in changes.tallies.items()),
        )

    def _write_climate(self, changes: Changes) -> None:
        shop, words = self._shop, self._statements
        for position, gone_at in changes.climate_gone:
            self._cursor.execute(words.take_back, (gone_at, shop, position))
        self._add(
            CLIMATE,
            words.one_reading,
            (
                (shop, row.room, row.at_us, row.position, ordinal, row.air_c, row.rh_pct,
                 row.surface_c, row.gone_at)
                for ordinal, row in enumerate(changes.climate)
            ),
        )  # fmt: skip

    def _add(self, table: Table, statement: str, rows: _Rows) -> None:
        """Add rows, their values in the order of the table's columns."""
        coming = iter(rows)
        if self._copies:
            first = tuple(islice(coming, psycopg_driver.COPY_FROM_ROWS))
            coming = chain(first, coming)
            if len(first) == psycopg_driver.COPY_FROM_ROWS:
                psycopg_driver.copy_in(self._cursor, table, coming, after_rows(statement))
                return
        for group in rows_in_groups(coming):
            flat = tuple(chain.from_iterable(group))
            self._cursor.execute(for_rows(statement, len(group)), flat)
