"""Reading one shop's ledger inside one transaction: the core's `Reader` on a driver's cursor."""

import heapq
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain, islice
from struct import iter_unpack
from typing import Any
from uuid import UUID

import msgspec
from coatledger.ledger.record import Row
from coatledger.ledger.store import ClimateRow, Head, Note, StoredFold, Tally
from coatledger.subjects.registry import FOLDS, kind_of
from sqlalchemy.engine.interfaces import DBAPICursor

from coatledger_adapters.statements import Statements, for_keys, in_groups

EVER = 2**62
HASH = "32s"
# What stands in the head of a ledger that lives elsewhere now.
MOVED = "moved"


class StaleFoldsError(Exception):
    """What is kept beside the events was made by another version of the program."""


def stale_says(kept_as: str) -> str:
    """Say why a ledger's folds are not used."""
    if kept_as == MOVED:
        return "this ledger was moved to another database and lives there now"
    return (
        "what is kept beside the events was made by another version of the program: the newest "
        "one works it out again when it starts, an older one has to be updated"
    )


class SqlReader:
    """One consistent state, for as long as its transaction lasts."""

    def __init__(
        self, cursor: DBAPICursor, statements: Statements, shop: str, made_by: str | None = None
    ) -> None:
        self._cursor = cursor
        self._statements = statements
        self._shop = shop
        # None leaves out the check, for whoever tends the folds or does not look at them.
        self._made_by = made_by
        # The kinds of notice that some webhook wants, as the head said when it was read last.
        self.wanted = ""

    @property
    def cursor(self) -> DBAPICursor:
        """The driver's cursor, for what stands beside the history in the same transaction."""
        return self._cursor

    def head(self) -> Head:
        """Return where the ledger stands."""
        return self._head(self._statements.head)

    def by_id(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Row]:
        """Find events by id."""
        ids = [event_id.bytes for event_id in dict.fromkeys(event_ids)]
        found = self._these(self._statements.these_ids, ids)
        return {row.event_id: row for row in _rows(found)}

    def rows(self, after: int, limit: int) -> Sequence[Row]:
        """Return events in order of position."""
        return _rows(self._all(self._statements.rows, after, limit))

    def of_subject(
        self, subject: str, *, known: int | None = None, until_us: int | None = None,
        types: Sequence[str] | None = None, newest: int | None = None,
    ) -> Sequence[Row]:  # fmt: skip
        """Return the events naming a subject in order of (occurred, position)."""
        bounds = (EVER if until_us is None else until_us, EVER if known is None else known)
        if newest is not None:
            return self._newest(subject, bounds, types, newest)
        if types is None:
            found = self._all(self._statements.of_subject, subject, *bounds)
        else:
            tags = list(dict.fromkeys(types))
            found = list(
                self._these(self._statements.of_subject_these_types, tags, subject, *bounds)
            )
        return _rows(found)

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return stored folds by subject."""
        asked = list(dict.fromkeys(subjects))
        found = self._these(self._statements.these_folds, asked)
        return {fold.subject: fold for fold in self._current(found)}

    def shelf(
        self, kind: str, shelves: Sequence[str] | None, after: str, limit: int
    ) -> Sequence[StoredFold]:
        """List the folds of one kind."""
        # In the order of bytes ";" follows ":", so these enclose every subject of the kind.
        page = (max(after, f"{kind}:"), f"{kind};", limit)
        if shelves is None:
            return self._current(self._all(self._statements.folds, *page))
        pages = [
            self._current(self._all(self._statements.folds_on_shelf, shelf, *page))
            for shelf in dict.fromkeys(shelves)
        ]
        return list(islice(heapq.merge(*pages, key=lambda fold: fold.subject), limit))

    def tallies(self, name: str, first: str = "", last: str = "\uffff") -> Sequence[Tally]:
        """Return the tallies of one name."""
        found = self._all(self._statements.tallies, name, first, last)
        return [Tally._make(one) for one in found]

    def climate(
        self, room: str, first_us: int, last_us: int, known: int | None = None
    ) -> Sequence[ClimateRow]:
        """Return a room's readings in force."""
        if known is None:
            found = self._all(self._statements.climate, room, first_us, last_us)
        else:
            found = self._all(self._statements.climate_known, room, first_us, last_us, known, known)
        return [ClimateRow._make(one) for one in found]

    def climate_before(self, room: str, at_us: int, known: int | None = None) -> ClimateRow | None:
        """Return the last reading at or before a time."""
        if known is None:
            found = self._all(self._statements.climate_before, room, at_us, 1)
        else:
            found = self._all(self._statements.climate_before_known, room, at_us, known, known, 1)
        return ClimateRow._make(found[0]) if found else None

    def position_at(self, recorded_us: int) -> int:
        """Return the last position recorded at or before a time.

        Times never decrease with position, so halving finds it without an index of its own.
        """
        low, high = 0, self.head().size
        while low < high:
            middle = (low + high + 1) // 2
            ((recorded_at,),) = self._all(self._statements.recorded_at, middle)
            low, high = (middle, high) if recorded_at <= recorded_us else (low, middle - 1)
        return low

    def notes(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Note]:
        """Return the notes kept for these events."""
        ids = [event_id.bytes for event_id in dict.fromkeys(event_ids)]
        notes = (
            Note(UUID(bytes=event_id), salt, None if words is None else words.decode())
            for event_id, salt, words in self._these(self._statements.these_notes, ids)
        )
        return {note.event_id: note for note in notes}

    def subtrees(self, places: Iterable[tuple[int, int]]) -> Mapping[tuple[int, int], bytes]:
        """Return kept hashes of subtrees, one statement a level."""
        levels: dict[int, list[int]] = {}
        for level, number in places:
            levels.setdefault(level, []).append(number)
        return {
            (level, number): found
            for level, numbers in levels.items()
            for number, found in self._these(self._statements.these_subtrees, numbers, level)
        }

    def _newest(
        self, subject: str, bounds: tuple[int, int], types: Sequence[str] | None, newest: int
    ) -> Sequence[Row]:
        """Merge the ends of one short range for each type, so that a long history costs nothing."""
        if types is None:
            named = (self._shop, subject)
            self._cursor.execute(self._statements.types_of_subject, named * 2)
            types = [tag for (tag,) in self._cursor.fetchall()]
        limit = max(0, newest)
        ends = (
            self._all(self._statements.newest_of_type, subject, tag, *bounds, limit)
            for tag in dict.fromkeys(types)
        )
        places = heapq.nlargest(limit, chain.from_iterable(ends))
        positions = [position for _, position in places]
        rows = _rows(self._these(self._statements.these_positions, positions))
        found = {row.position: row for row in rows}
        return [found[position] for position in reversed(positions)]

    def _current(self, found: Iterable[Sequence[Any]]) -> list[StoredFold]:
        """Read rows of folds; one of another version is never taken for one of ours."""
        folds = [StoredFold._make(one) for one in found]
        if self._made_by is not None:
            for fold in folds:
                kind = FOLDS.get(kind_of(fold.subject))
                if kind is not None and fold.version != kind.version:
                    raise StaleFoldsError(f"{fold.subject} was folded by version {fold.version}")
        return folds

    def _head(self, statement: str) -> Head:
        ((size, recorded_us, frontier, epoch, kept_as, self.wanted),) = self._all(statement)
        if self._made_by not in (None, kept_as):
            raise StaleFoldsError(stale_says(kept_as))
        hashes = tuple([hash_ for (hash_,) in iter_unpack(HASH, frontier)])
        return Head(size, recorded_us, hashes, epoch)

    def _all(self, statement: str, *parameters: object) -> Sequence[Any]:
        self._cursor.execute(statement, (self._shop, *parameters))
        return self._cursor.fetchall()

    def _these(self, statement: str, keys: Sequence[object], *parameters: object) -> Sequence[Any]:
        found: list[Any] = []
        for group in in_groups(keys):
            found += self._all(for_keys(statement, len(group)), *parameters, *group)
        return found


def _rows(found: Sequence[Any]) -> list[Row]:
    """Make events of rows as they come from the driver: one call is four times as quick as one
    each."""
    return msgspec.convert(found, list[Row])
