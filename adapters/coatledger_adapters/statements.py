"""Every statement of the store, put into words for one engine when the store opens.

The words are then run on the driver's own cursor: running each of the ten statements of a durable
append through SQLAlchemy would cost about half a sync. Parameters stand in the order of the text.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from typing import Any, TypeVar

from sqlalchemy import Column, Dialect, Table, bindparam, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.sql import ClauseElement, ColumnElement

from coatledger_adapters import queries
from coatledger_adapters.queries import whole, word
from coatledger_adapters.tables import CLIMATE, EVENTS, FOLD, HEAD, NOTE, SUBJECTS, TALLY, TREE

# Beyond these a statement is run again: its text stays short enough to be prepared once and kept.
# A connection keeps each size it has met, some 20 KB: so there are few sizes, and every small one.
ROWS_AT_ONCE: tuple[int, ...] = (*range(1, 17), 32, 64)
FEW_KEYS = 16
KEYS_AT_ONCE: tuple[int, ...] = (*range(1, FEW_KEYS + 1), 64, 256)

_ROW = re.compile(r"VALUES (\([^()]*\))")
_KEY = re.compile(r"IN \(([^()]*)\)")

Key = TypeVar("Key")
Row = TypeVar("Row")


@dataclass(frozen=True)
class Statements:
    """The words of each. What is called `one_` may be stretched to rows, `these_` to keys."""

    begin_reading: str
    begin_writing: str
    head: str
    lock_head: str
    rows: str
    these_ids: str
    these_positions: str
    recorded_at: str
    of_subject: str
    of_subject_these_types: str
    types_of_subject: str
    newest_of_type: str
    these_folds: str
    folds: str
    folds_on_shelf: str
    tallies: str
    climate: str
    climate_known: str
    climate_before: str
    climate_before_known: str
    these_notes: str
    move_head: str
    one_event: str
    one_subject: str
    one_fold: str
    one_fold_in_place: str
    one_tally: str
    one_reading: str
    take_back: str
    one_note: str
    these_subtrees: str
    one_subtree: str


@lru_cache(maxsize=1024)
def for_rows(statement: str, rows: int) -> str:
    """Stretch an INSERT of one row to several."""
    return _ROW.sub(lambda found: "VALUES " + ", ".join([found[1]] * rows), statement, count=1)


@lru_cache(maxsize=64)
def after_rows(statement: str) -> str:
    """Return what an INSERT of one row says after it: what is done where the row is there."""
    found = _ROW.search(statement)
    assert found is not None, statement
    return statement[found.end() :]


@lru_cache(maxsize=256)
def for_keys(statement: str, keys: int) -> str:
    """Stretch a search for one key to several."""
    return _KEY.sub(lambda found: f"IN ({', '.join([found[1]] * keys)})", statement, count=1)


def rows_in_groups(rows: Iterable[Row]) -> Iterator[tuple[Row, ...]]:
    """Cut rows into groups of the sizes kept."""
    coming = iter(rows)
    while group := tuple(islice(coming, ROWS_AT_ONCE[-1])):
        while group:
            size = len(group)
            if size not in ROWS_AT_ONCE:
                size = max(kept for kept in ROWS_AT_ONCE if kept < size)
            yield group[:size]
            group = group[size:]


def in_groups(keys: Sequence[Key]) -> Iterator[Sequence[Key]]:
    """Cut keys into groups of the sizes kept, the last one filled up with its own last key."""
    for start in range(0, len(keys), KEYS_AT_ONCE[-1]):
        group = keys[start : start + KEYS_AT_ONCE[-1]]
        missing = 0 if len(group) <= FEW_KEYS else _next_size(len(group)) - len(group)
        yield [*group, *[group[-1]] * missing] if missing else group


def _next_size(keys: int) -> int:
    return next(size for size in KEYS_AT_ONCE if size >= keys)


_Insert = Callable[[Table], sqlite.Insert] | Callable[[Table], postgresql.Insert]


def statements_for(dialect: Dialect) -> Statements:
    """Put every statement into the words of an engine's dialect.

    SQLite locks the whole file when a writing transaction begins; on PostgreSQL the writers of one
    shop wait for each other at its head's row.
    """
    if dialect.name == "sqlite":
        return _statements(
            dialect, sqlite.insert, begin_reading="BEGIN", begin_writing="BEGIN IMMEDIATE"
        )
    return _statements(
        dialect,
        postgresql.insert,
        begin_reading="BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
        begin_writing="BEGIN",
    )


def _statements(
    dialect: Dialect, insert: _Insert, *, begin_reading: str, begin_writing: str
) -> Statements:
    def words(statement: ClauseElement) -> str:
        return str(statement.compile(dialect=dialect))

    types = SUBJECTS.c.type.in_([word("type")])
    in_order = (SUBJECTS.c.occurred_at, SUBJECTS.c.position)
    of_subject = queries.events_of_subject()
    folds = queries.folds()
    in_force, in_force_at = queries.in_force(), queries.in_force_at()
    return Statements(
        begin_reading=begin_reading,
        begin_writing=begin_writing,
        head=words(queries.head()),
        lock_head=words(queries.head().with_for_update()),
        rows=words(queries.events_after()),
        these_ids=words(queries.events_by_id()),
        these_positions=words(queries.events().where(EVENTS.c.position.in_([whole("position")]))),
        recorded_at=words(queries.recorded_at()),
        of_subject=words(of_subject.order_by(*in_order)),
        of_subject_these_types=words(of_subject.where(types).order_by(*in_order)),
        types_of_subject=words(queries.types_of_subject()),
        newest_of_type=words(queries.newest_of_type()),
        these_folds=words(folds.where(FOLD.c.subject.in_([word("subject")]))),
        folds=words(queries.fold_page(folds)),
        folds_on_shelf=words(queries.fold_page(folds.where(FOLD.c.shelf == word("shelf")))),
        tallies=words(queries.tallies()),
        climate=words(queries.climate_between(in_force)),
        climate_known=words(queries.climate_between(in_force_at)),
        climate_before=words(queries.climate_before(in_force)),
        climate_before_known=words(queries.climate_before(in_force_at)),
        these_notes=words(queries.notes().where(NOTE.c.event_id.in_([bindparam("event_id")]))),
        move_head=words(
            update(HEAD)
            .values(size=whole("size"), recorded_at=whole("at"), frontier=bindparam("frontier"))
            .where(HEAD.c.shop == word("shop"))
        ),
        one_event=words(EVENTS.insert()),
        one_subject=words(SUBJECTS.insert()),
        one_fold=words(_upsert(insert, FOLD)),
        one_fold_in_place=words(_upsert(insert, FOLD, but=FOLD.c.shelf)),
        one_tally=words(_upsert(insert, TALLY)),
        one_reading=words(CLIMATE.insert()),
        take_back=words(_take_back()),
        one_note=words(_upsert(insert, NOTE)),
        these_subtrees=words(queries.subtrees().where(TREE.c.number.in_([whole("number")]))),
        one_subtree=words(TREE.insert()),
    )


def _take_back() -> ClauseElement:
    here = (CLIMATE.c.shop == word("shop")) & (CLIMATE.c.position == whole("place"))
    taken_back = update(CLIMATE).values(gone_at=whole("gone"))
    return taken_back.where(here, CLIMATE.c.gone_at.is_(None))


def _upsert(insert: _Insert, table: Table, but: Column[Any] | None = None) -> ClauseElement:
    new = insert(table)
    replacing: dict[str, ColumnElement[Any]] = {
        column.name: new.excluded[column.name]
        for column in table.c
        if not column.primary_key and column is not but
    }
    if table is TALLY:  # counts add up; everything else takes the place of what was there
        replacing = {"value": TALLY.c.value + new.excluded.value}
    return new.on_conflict_do_update(index_elements=list(table.primary_key), set_=replacing)
