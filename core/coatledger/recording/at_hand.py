"""What the last writes left at hand, so that the next one need not ask the store for it again.

States of subjects, the last events that name them and the newest readings of rooms: whatever the
judging of the next fact is likely to ask. It is good for one head only: when somebody else wrote
meanwhile, or a write was given up, everything is forgotten. It never grows beyond its bounds.
"""

import heapq
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, NamedTuple

from coatledger.ledger.correct import CORRECTION_TAGS, FAR
from coatledger.ledger.record import Row
from coatledger.ledger.store import ClimateRow, Head, Reader
from coatledger.subjects.registry import FOLDS, Fold, kind_of, shelf_of, state_or_parked, word_of

SUBJECTS_MAX: Final = 5_000
ROOMS_MAX: Final = 50
READINGS_MAX: Final = 20_000
# The newest events of one type that are kept of a subject; rules look back by a dozen at most.
ENDS: Final = 16


class Entry(NamedTuple):
    """A subject's fold while it changes: `named` is the position of the last event naming it,
    `shelf` the one it is stored on, None when nothing is stored yet.
    """

    kind: Fold
    state: Any
    named: int
    folded_us: int
    shelf: str | None = None
    changed: bool = False


class _End(NamedTuple):
    """The newest events of one type that name a subject, oldest first; `whole` when it is all."""

    rows: tuple[Row, ...]
    whole: bool


class _Air(NamedTuple):
    """A room's readings in force from a time on, in order of time."""

    first_us: int
    times_us: list[int]
    rows: list[ClimateRow]


class AtHand:
    """Begun anew for each write; between writes it belongs to whoever writes."""

    def __init__(self) -> None:
        self._head: Head | None = None
        self._entries: dict[str, Entry] = {}
        self._ends: dict[str, dict[str, _End]] = {}
        self._airs: dict[str, _Air] = {}

    def begin(self, reader: Reader) -> Head:
        """Go on from the last write, or from nothing when the ledger moved on without us."""
        self._reader = reader
        head = reader.head()
        if head != self._head:
            self.forget()
            self._head = head
        return head

    def forget(self) -> None:
        """Keep nothing."""
        self._head = None
        self._entries.clear()
        self._ends.clear()
        self._airs.clear()

    def entries(self, subjects: Sequence[str]) -> Mapping[str, Entry]:
        """Return subjects' stored folds, decoded."""
        held = self._entries
        found = {subject: held[subject] for subject in subjects if subject in held}
        if len(found) == len(subjects):
            return found
        cold = [subject for subject in subjects if subject not in found]
        stored = self._reader.folds(cold)
        for subject in cold:
            name, one = kind_of(subject), stored.get(subject)
            kind = FOLDS[name]
            found[subject] = held[subject] = (
                Entry(kind, kind.initial(word_of(subject)), 0, 0)
                if one is None
                else Entry(
                    kind, state_or_parked(name, one.state), one.position, one.folded_us, one.shelf
                )
            )
        return found

    def of_subject(
        self, subject: str, *, known: int | None, until_us: int | None,
        types: Sequence[str] | None, newest: int | None,
    ) -> Sequence[Row]:  # fmt: skip
        """Return events naming a subject as a reader does; the last of a few types are kept."""
        read = self._reader.of_subject
        few = newest is not None or types == CORRECTION_TAGS
        if types is None or known is not None or not few or (newest or 0) > ENDS:
            return read(subject, known=known, until_us=until_us, types=types, newest=newest)
        ends = self._ends.setdefault(subject, {})
        upto_us = FAR if until_us is None else until_us
        found: list[Row] = []
        for tag in types:
            end = ends.get(tag)
            if end is None:
                rows = tuple(read(subject, types=(tag,), newest=ENDS))
                end = ends[tag] = _End(rows, len(rows) < ENDS)
            rows = end.rows
            if rows and rows[-1].occurred_us > upto_us:
                rows = tuple(row for row in rows if row.occurred_us <= upto_us)
            if not end.whole and (newest is None or len(rows) < newest):
                return read(subject, known=known, until_us=until_us, types=types, newest=newest)
            found += rows
        found.sort(key=_place)
        return found if newest is None else found[max(0, len(found) - newest) :]

    def climate(self, room: str, first_us: int, last_us: int) -> Sequence[ClimateRow]:
        """Return a room's readings in force, ends included."""
        air = self._airs.get(room)
        if air is None or first_us < air.first_us:
            air = self._read_air(room, first_us)
        low, high = bisect_left(air.times_us, first_us), bisect_right(air.times_us, last_us)
        return air.rows[low:high]

    def climate_before(self, room: str, at_us: int) -> ClimateRow | None:
        """Return the last reading at or before a time."""
        air = self._airs.get(room)
        if air is not None and (upto := bisect_right(air.times_us, at_us)):
            return air.rows[upto - 1]
        found = self._reader.climate_before(room, at_us)
        if found is not None and air is None:
            self._read_air(room, found.at_us)
        return found

    def took(
        self, head: Head, entries: Mapping[str, Entry], named: Mapping[str, Sequence[Row]],
        climate: Sequence[ClimateRow], *, air_changed: bool,
    ) -> None:  # fmt: skip
        """Follow a write that is safe now: its head, folds, events by subject, readings."""
        self._head = head
        for subject, entry in entries.items():
            self._entries.pop(subject, None)  # what was written last is forgotten last
            kind, state, named_at, folded_us, _, _ = entry
            shelf = shelf_of(kind, state)
            self._entries[subject] = Entry(kind, state, named_at, folded_us, shelf)
        for subject, rows in named.items():
            ends = self._ends.get(subject)
            if ends:
                for row in rows:
                    _lengthen(ends, row)
        for room in tuple(self._airs) if air_changed else {row.room for row in climate}:
            self._airs.pop(room, None)
        self._keep_bounds()

    def _read_air(self, room: str, first_us: int) -> _Air:
        rows = list(self._reader.climate(room, first_us, FAR))
        air = _Air(first_us, [row.at_us for row in rows], rows)
        if len(rows) <= READINGS_MAX and len(self._airs) < ROOMS_MAX:
            self._airs[room] = air
        return air

    def _keep_bounds(self) -> None:
        for held in (self._entries, self._ends):
            for _ in range(len(held) - SUBJECTS_MAX):
                del held[next(iter(held))]


def _lengthen(ends: dict[str, _End], row: Row) -> None:
    end = ends.get(row.type)
    if end is None:
        return
    rows = end.rows
    rows = (*rows, row) if not rows or _place(rows[-1]) < _place(row) else _sorted_in(rows, row)
    ends[row.type] = _End(rows[-ENDS:], end.whole and len(rows) <= ENDS)


def _sorted_in(rows: Iterable[Row], row: Row) -> tuple[Row, ...]:
    return tuple(heapq.merge(rows, (row,), key=_place))


def _place(row: Row) -> tuple[int, int]:
    return row.occurred_us, row.position
