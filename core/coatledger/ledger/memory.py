"""A store in memory: for tests, trials and `what if`. It passes the same contract as the others."""

import bisect
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from threading import RLock
from uuid import UUID

from coatledger.ledger.record import Row
from coatledger.ledger.store import (
    Changes,
    ClimateRow,
    Head,
    Note,
    Reader,
    StoredFold,
    SubjectRow,
    Tally,
    Writer,
)


class MemoryStore:
    """One shop's ledger in plain lists and dicts, behind one lock."""

    def __init__(self, shop: str, epoch: str = "memory") -> None:
        self._shop = shop
        self._lock = RLock()
        self._head = Head(size=0, recorded_us=0, frontier=(), epoch=epoch)
        self._rows: list[Row] = []
        self._ids: dict[UUID, int] = {}
        self._subjects: dict[str, list[tuple[int, int, str]]] = {}
        self._folds: dict[str, StoredFold] = {}
        self._tallies: dict[tuple[str, str], float] = {}
        self._climate: dict[str, list[ClimateRow]] = {}
        self._notes: dict[UUID, Note] = {}
        self._tree: dict[tuple[int, int], bytes] = {}

    @property
    def shop(self) -> str:
        """The shop's own word."""
        return self._shop

    @contextmanager
    def reading(self) -> Iterator[Reader]:
        """Open one consistent state to read."""
        with self._lock:
            yield self

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        """Hold the lock; `write` is the last thing that can fail, so nothing is half written."""
        with self._lock:
            yield self

    def head(self) -> Head:
        """Return where the ledger stands."""
        return self._head

    def by_id(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Row]:
        """Find events by id."""
        return {i: self._rows[self._ids[i] - 1] for i in event_ids if i in self._ids}

    def rows(self, after: int, limit: int) -> Sequence[Row]:
        """Return events in order of position."""
        return self._rows[after : after + limit]

    def of_subject(
        self, subject: str, *, known: int | None = None, until_us: int | None = None,
        types: Sequence[str] | None = None, newest: int | None = None,
    ) -> Sequence[Row]:  # fmt: skip
        """Return the events naming a subject in order of (occurred, position)."""
        kept = [
            position
            for us, position, tag in self._subjects.get(subject, [])
            if (known is None or position <= known)
            and (until_us is None or us <= until_us)
            and (types is None or tag in types)
        ]
        if newest is not None:
            kept = kept[max(0, len(kept) - newest) :]
        return [self._rows[position - 1] for position in kept]

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return stored folds by subject."""
        return {s: self._folds[s] for s in subjects if s in self._folds}

    def shelf(
        self, kind: str, shelves: Sequence[str] | None, after: str, limit: int
    ) -> Sequence[StoredFold]:
        """List the folds of one kind."""
        found = [
            self._folds[subject]
            for subject in sorted(self._folds)
            if subject.startswith(kind + ":")
            and subject > after
            and (shelves is None or self._folds[subject].shelf in shelves)
        ]
        return found[:limit]

    def tallies(self, name: str, first: str = "", last: str = "\uffff") -> Sequence[Tally]:
        """Return the tallies of one name."""
        return [
            Tally(name, key, value)
            for (tally, key), value in sorted(self._tallies.items())
            if tally == name and first <= key <= last and value != 0
        ]

    def climate(
        self, room: str, first_us: int, last_us: int, known: int | None = None
    ) -> Sequence[ClimateRow]:
        """Return a room's readings in force."""
        return [
            row
            for row in self._climate.get(room, [])
            if first_us <= row.at_us <= last_us and row.in_force(known)
        ]

    def climate_before(self, room: str, at_us: int, known: int | None = None) -> ClimateRow | None:
        """Return the last reading at or before a time."""
        for row in reversed(self._climate.get(room, [])):
            if row.at_us <= at_us and row.in_force(known):
                return row
        return None

    def position_at(self, recorded_us: int) -> int:
        """Return the last position recorded at or before a time."""
        return bisect.bisect_right(self._rows, recorded_us, key=lambda row: row.recorded_us)

    def notes(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Note]:
        """Return the notes kept for these events."""
        return {i: self._notes[i] for i in event_ids if i in self._notes}

    def subtrees(self, places: Iterable[tuple[int, int]]) -> Mapping[tuple[int, int], bytes]:
        """Return kept hashes of subtrees."""
        return {place: self._tree[place] for place in places if place in self._tree}

    def write(self, changes: Changes) -> None:
        """Write everything."""
        assert changes.head.size == self._head.size + len(changes.rows)
        self._head = changes.head
        for row in changes.rows:
            assert row.event_id not in self._ids
            assert row.position == len(self._rows) + 1
            self._rows.append(row)
            self._ids[row.event_id] = row.position
        for named in changes.subjects:
            self._name(named)
        for fold in changes.folds:
            self._folds[fold.subject] = fold
        for key, delta in changes.tallies.items():
            self._tallies[key] = self._tallies.get(key, 0) + delta
        for position, gone_at in changes.climate_gone:
            self._take_back(position, gone_at)
        for reading in changes.climate:
            bisect.insort(
                self._climate.setdefault(reading.room, []),
                reading,
                key=lambda row: (row.at_us, row.position),
            )
        self._notes.update((note.event_id, note) for note in changes.notes)
        self._tree.update(((node.level, node.number), node.hash) for node in changes.tree)

    def _name(self, named: SubjectRow) -> None:
        place = (named.occurred_us, named.position, named.type)
        bisect.insort(self._subjects.setdefault(named.subject, []), place)

    def _take_back(self, position: int, gone_at: int) -> None:
        for rows in self._climate.values():
            for i, row in enumerate(rows):
                if row.position == position and row.gone_at is None:
                    rows[i] = row._replace(gone_at=gone_at)
