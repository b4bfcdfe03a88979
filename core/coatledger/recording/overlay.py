"""One write in the making: what the store holds, with what is about to be added on top.

It answers like a reader, so that the second event of a batch sees the first. Nothing here decides
anything; `session` does.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import UUID

from coatledger.events.base import Fact
from coatledger.ledger import tree
from coatledger.ledger.correct import FAR, Placed
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
    TreeNode,
)
from coatledger.recording.at_hand import AtHand, Entry, Told
from coatledger.recording.keeping import add_counts, stored_fold
from coatledger.subjects.parked import ParkedState
from coatledger.subjects.registry import tally_of


class Overlay:
    """The pending rows, folds, tallies and climate of one write transaction."""

    def __init__(self, reader: Reader, now_us: int, at_hand: AtHand | None = None) -> None:
        self._at_hand = at_hand or AtHand()
        head = self._at_hand.begin(reader)
        self._reader = reader
        self._epoch = head.epoch
        self._last_us = head.recorded_us
        self.size = head.size
        self.frontier = head.frontier
        # The service's clock may go back; the ledger's never does.
        self.recorded_us = max(now_us, head.recorded_us)
        self.rows_new: list[Row] = []
        self._ids: dict[UUID, Row | None] = {}
        self._named: dict[str, list[Told]] = {}
        self._folds: dict[str, Entry] = {}
        self._tallies: dict[tuple[str, str], float] = {}
        self._climate: list[ClimateRow] = []
        self._gone: list[tuple[int, int]] = []
        self._notes: list[Note] = []
        self._tree: list[TreeNode] = []

    # ---- adding

    def add(self, row: Row, fact: Fact, subjects: Iterable[str], leaf_hash: bytes) -> None:
        """Append one event and name its subjects."""
        assert row.position == self.size + 1
        self.frontier, completed = tree.grown(self.frontier, self.size, leaf_hash)
        self._tree.extend(completed)
        self.size = row.position
        self.rows_new.append(row)
        self._ids[row.event_id] = row
        told = Told(row, fact)
        for subject in subjects:
            if subject in self._named:
                self._named[subject].append(told)
            else:
                self._named[subject] = [told]

    def put(self, subject: str, before: Entry, entry: Entry) -> None:
        """Keep a subject's fold as it now is, and tally the difference."""
        self._folds[subject] = entry
        kind = entry.kind
        if kind.tally is None or not entry.changed:
            return
        old, new, counted = before.state, entry.state, kind.counted
        parked = isinstance(old, ParkedState) or isinstance(new, ParkedState)
        if parked or counted is None or counted(old) != counted(new):
            add_counts(self._tallies, tally_of(kind, old), -1)
            add_counts(self._tallies, tally_of(kind, new), 1)

    def add_climate(self, rows: Iterable[ClimateRow]) -> None:
        """Keep readings."""
        self._climate.extend(rows)

    def end_climate(self, position: int, gone_at: int) -> None:
        """Take back the readings of one event, stored or pending."""
        self._gone.append((position, gone_at))
        self._climate = [
            row._replace(gone_at=gone_at)
            if row.position == position and row.gone_at is None
            else row
            for row in self._climate
        ]

    def add_note(self, note: Note) -> None:
        """Keep free words apart."""
        self._notes.append(note)

    # ---- taking back a request that was refused half way

    def mark(self) -> tuple[Any, ...]:
        """Remember where the overlay stands."""
        return (
            self.size, self.frontier, list(self.rows_new), dict(self._ids),
            {subject: list(told) for subject, told in self._named.items()}, dict(self._folds),
            dict(self._tallies), list(self._climate), list(self._gone), list(self._notes),
            list(self._tree),
        )  # fmt: skip

    def back_to(self, mark: tuple[Any, ...]) -> None:
        """Forget everything since a mark."""
        (
            self.size, self.frontier, self.rows_new, self._ids, self._named,
            self._folds, self._tallies, self._climate, self._gone, self._notes,
            self._tree,
        ) = mark  # fmt: skip

    def changes(self) -> Changes:
        """Return everything to write."""
        folds, in_place = [], []
        for subject in self._named:
            entry = self._folds[subject]
            fold = stored_fold(subject, entry)
            folds.append(fold)
            if fold.shelf == entry.shelf:
                in_place.append(subject)
        return Changes(
            head=self.head(),
            rows=self.rows_new,
            subjects=[
                SubjectRow(subject, row.position, row.occurred_us, row.type)
                for subject, told in self._named.items()
                for row, _ in told
            ],
            folds=folds,
            tallies=self._tallies,
            climate=self._climate,
            climate_gone=self._gone,
            notes=self._notes,
            tree=self._tree,
            in_place=frozenset(in_place),
        )

    def written(self) -> None:
        """Keep at hand what is safe in the store now."""
        self._at_hand.took(
            self.head(),
            {subject: self._folds[subject] for subject in self._named},
            self._named,
            self._climate,
            air_changed=bool(self._gone),
        )

    # ---- reading, as a Reader does

    def prefetch(self, subjects: Iterable[str], event_ids: Iterable[UUID]) -> None:
        """Read what a request will need in two statements."""
        wanted = [s for s in dict.fromkeys(subjects) if s not in self._folds]
        if wanted:
            self._folds.update(self._at_hand.entries(wanted))
        unknown = [i for i in dict.fromkeys(event_ids) if i not in self._ids]
        if unknown:
            found = self._reader.by_id(unknown)
            self._ids.update((i, found.get(i)) for i in unknown)

    def entry(self, subject: str) -> Entry:
        """Return a subject's fold as it now is."""
        found = self._folds.get(subject)
        if found is None:
            self.prefetch((subject,), ())
            found = self._folds[subject]
        return found

    def head(self) -> Head:
        """Return where the ledger would stand."""
        last_us = self.recorded_us if self.rows_new else self._last_us
        return Head(self.size, last_us, self.frontier, self._epoch)

    def by_id(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Row]:
        """Find events, stored or pending."""
        wanted = tuple(event_ids)
        self.prefetch((), wanted)
        return {i: row for i in wanted if (row := self._ids[i]) is not None}

    def known(self, event_id: UUID) -> Row | None:
        """Return the event of this id, stored or pending, or None."""
        if event_id not in self._ids:
            self.prefetch((), (event_id,))
        return self._ids[event_id]

    def rows(self, after: int, limit: int) -> Sequence[Row]:
        """Return events in order of position."""
        stored = self._reader.rows(after, limit)
        return [*stored, *(r for r in self.rows_new if r.position > after)][:limit]

    def of_subject(
        self, subject: str, *, known: int | None = None, until_us: int | None = None,
        types: Sequence[str] | None = None, newest: int | None = None,
    ) -> Sequence[Row]:  # fmt: skip
        """Return the events naming a subject, stored and pending, in order."""
        stored = self._reader.of_subject(
            subject, known=known, until_us=until_us, types=types, newest=newest
        )
        pending = [
            row
            for row, _ in self._named.get(subject, ())
            if (known is None or row.position <= known)
            and (until_us is None or row.occurred_us <= until_us)
            and (types is None or row.type in types)
        ]
        if not pending:
            return stored
        merged = sorted((*stored, *pending), key=lambda r: (r.occurred_us, r.position))
        return merged if newest is None else merged[max(0, len(merged) - newest) :]

    def last(
        self, subject: str, types: tuple[str, ...], at_us: int, count: int
    ) -> tuple[Placed, ...] | None:
        """Return the last few facts of a subject up to a time, None when they must be read."""
        if subject in self._named:
            return None
        return self._at_hand.last(subject, types, at_us, count)

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return folds as they now are."""
        found: dict[str, StoredFold] = {}
        for subject in subjects:
            entry = self.entry(subject)
            if entry.named:
                found[subject] = stored_fold(subject, entry)
        return found

    def shelf(
        self, kind: str, shelves: Sequence[str] | None, after: str, limit: int
    ) -> Sequence[StoredFold]:
        """List stored folds; pending ones are not needed while recording."""
        return self._reader.shelf(kind, shelves, after, limit)

    def tallies(self, name: str, first: str = "", last: str = "\uffff") -> Sequence[Tally]:
        """Return stored tallies."""
        return self._reader.tallies(name, first, last)

    def climate(
        self, room: str, first_us: int, last_us: int, known: int | None = None
    ) -> Sequence[ClimateRow]:
        """Return a room's readings, stored and pending."""
        if known is None:
            found = self._at_hand.climate(room, first_us, last_us)
        else:
            found = self._reader.climate(room, first_us, last_us, known)
        if not self._climate and not self._gone:
            return found
        gone = {position for position, at in self._gone if known is None or at <= known}
        stored = [row for row in found if row.position not in gone]
        pending = [
            row
            for row in self._climate
            if row.room == room and first_us <= row.at_us <= last_us and row.in_force(known)
        ]
        return sorted((*stored, *pending), key=lambda row: (row.at_us, row.position))

    def climate_before(self, room: str, at_us: int, known: int | None = None) -> ClimateRow | None:
        """Return the last reading at or before a time, stored or pending."""
        if self._gone:  # what the store would answer may just have been taken back
            return next(reversed(self.climate(room, -FAR, at_us, known)), None)
        if known is None:
            stored = self._at_hand.climate_before(room, at_us)
        else:
            stored = self._reader.climate_before(room, at_us, known)
        if not self._climate:
            return stored
        pending = [
            row
            for row in self._climate
            if row.room == room and row.at_us <= at_us and row.in_force(known)
        ]
        rows = [*([] if stored is None else [stored]), *pending]
        return max(rows, key=lambda row: (row.at_us, row.position), default=None)

    def position_at(self, recorded_us: int) -> int:
        """Return the last position recorded at or before a time."""
        return (
            self.size if recorded_us >= self.recorded_us else self._reader.position_at(recorded_us)
        )

    def notes(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Note]:
        """Return notes, stored and pending."""
        wanted = list(event_ids)
        pending = {note.event_id: note for note in self._notes if note.event_id in wanted}
        return {**self._reader.notes(wanted), **pending}

    def subtrees(self, places: Iterable[tuple[int, int]]) -> Mapping[tuple[int, int], bytes]:
        """Return stored hashes; nothing is proven while it is still being recorded."""
        return self._reader.subtrees(places)
