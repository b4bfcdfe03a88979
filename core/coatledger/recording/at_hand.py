"""What the last writes left at hand, so that the next one need not ask the store for it again.

States of subjects, the last events that name them and the newest readings of rooms: whatever the
judging of the next fact is likely to ask. It is good for one head only: when somebody else wrote
meanwhile, or a write was given up, everything is forgotten. It never grows beyond its bounds.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, TAG_OF
from coatledger.ledger.correct import CORRECTION_TAGS, FAR, Placed, history
from coatledger.ledger.record import Row, recorded
from coatledger.ledger.store import ClimateRow, Head, Reader
from coatledger.subjects.registry import FOLDS, Fold, kind_of, shelf_of, state_or_parked, word_of
from coatledger.subjects.view import fold

SUBJECTS_MAX: Final = 2_500
ROOMS_MAX: Final = 50
READINGS_MAX: Final = 20_000
# The last facts that are kept of a subject; rules look back by a dozen at most.
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


class Told(NamedTuple):
    """An event of the write under way, and what it says, on true time."""

    row: Row
    fact: Fact


class _End(NamedTuple):
    """The last facts of some types that name a subject, oldest first; `whole` when it is all."""

    facts: tuple[Placed, ...]
    whole: bool


class _Air(NamedTuple):
    """A room's readings in force from a time on, in order of time; `whole` when none is older."""

    first_us: int
    whole: bool
    times_us: list[int]
    rows: list[ClimateRow]


class AtHand:
    """Begun anew for each write; between writes it belongs to whoever writes."""

    def __init__(self) -> None:
        self._head: Head | None = None
        self._entries: dict[str, Entry] = {}
        self._ends: dict[str, dict[tuple[str, ...], _End]] = {}
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
                _first_named(self._reader, subject, kind)
                if one is None
                else Entry(
                    kind, state_or_parked(name, one.state), one.position, one.folded_us, one.shelf
                )
            )
        return found

    def last(
        self, subject: str, types: tuple[str, ...], at_us: int, count: int
    ) -> tuple[Placed, ...] | None:
        """Return the last few facts of some types up to a time; None when that must be read: of a
        subject with corrections, or of longer ago."""
        ends = self._ends.setdefault(subject, {})
        end = ends.get(types)
        if end is None:
            end = ends[types] = self._read_end(subject, types)
        facts = end.facts
        if facts and facts[-1].at_us > at_us:
            facts = tuple(one for one in facts if one.at_us <= at_us)
        if len(facts) >= count:
            return facts[-count:]
        return facts if end.whole else None

    def climate(self, room: str, first_us: int, last_us: int) -> Sequence[ClimateRow]:
        """Return a room's readings in force, ends included."""
        air = self._airs.get(room)
        if air is None or (first_us < air.first_us and not air.whole):
            air = self._read_air(room, first_us)
        low, high = bisect_left(air.times_us, first_us), bisect_right(air.times_us, last_us)
        return air.rows[low:high]

    def climate_before(self, room: str, at_us: int) -> ClimateRow | None:
        """Return the last reading at or before a time."""
        air = self._airs.get(room)
        if air is not None:
            upto = bisect_right(air.times_us, at_us)
            if upto or air.whole:
                return air.rows[upto - 1] if upto else None
        found = self._reader.climate_before(room, at_us)
        if found is not None and air is None:
            self._read_air(room, found.at_us)
        return found

    def took(
        self, head: Head, entries: Mapping[str, Entry], named: Mapping[str, Sequence[Told]],
        climate: Sequence[ClimateRow], *, air_changed: bool,
    ) -> None:  # fmt: skip
        """Follow a write that is safe now: its head, folds, events by subject, readings."""
        self._head = head
        held = self._entries
        for subject, (kind, state, named_at, folded_us, _, _) in entries.items():
            held.pop(subject, None)  # what was written last is forgotten last
            held[subject] = Entry(kind, state, named_at, folded_us, shelf_of(kind, state))
        for subject in self._ends.keys() & named.keys():
            for row, fact in named[subject]:
                placed = Placed(row.occurred_us, row.position, fact)
                _lengthen(self._ends[subject], placed)
        for room in tuple(self._airs) if air_changed else {row.room for row in climate}:
            self._airs.pop(room, None)
        self._keep_bounds()

    def _read_end(self, subject: str, types: tuple[str, ...]) -> _End:
        read = self._reader.of_subject
        if read(subject, types=CORRECTION_TAGS, newest=1):
            return _End((), False)
        rows = read(subject, types=types, newest=ENDS)
        facts = tuple(Placed(r.occurred_us, r.position, recorded(r).event) for r in rows)
        return _End(facts, len(rows) < ENDS)

    def _read_air(self, room: str, first_us: int) -> _Air:
        # The reading before is asked for with those that follow it: it is the air until then.
        before = self._reader.climate_before(room, first_us - 1)
        begins_us = first_us if before is None else before.at_us
        rows = list(self._reader.climate(room, begins_us, FAR))
        air = _Air(begins_us, before is None, [row.at_us for row in rows], rows)
        if len(rows) <= READINGS_MAX and len(self._airs) < ROOMS_MAX:
            self._airs[room] = air
        return air

    def _keep_bounds(self) -> None:
        for held in (self._entries, self._ends):
            for _ in range(len(held) - SUBJECTS_MAX):
                del held[next(iter(held))]


def _first_named(reader: Reader, subject: str, kind: Fold) -> Entry:
    """A subject with nothing stored is new, or its row was lost: then its history says what it is,
    and above all which event named it last, for the chain in the leaves must never break."""
    if not reader.of_subject(subject, newest=1):
        return Entry(kind, kind.initial(word_of(subject)), 0, 0)
    named = max(row.position for row in reader.of_subject(subject))
    facts = history(reader, subject, types=kind.types)
    folded_us = max((one.at_us for one in facts), default=0)
    return Entry(kind, fold(subject, facts), named, folded_us, changed=True)


def _lengthen(ends: dict[tuple[str, ...], _End], one: Placed) -> None:
    if isinstance(one.fact, CORRECTIONS):
        ends.clear()
        return
    tag = TAG_OF[type(one.fact)]
    for types, end in ends.items():
        if tag in types and (end.facts or end.whole):
            facts = (*end.facts, one)
            if len(facts) > 1 and facts[-2][:2] > facts[-1][:2]:
                facts = tuple(sorted(facts, key=_place))
            ends[types] = _End(facts[-ENDS:], end.whole and len(facts) <= ENDS)


def _place(placed: Placed) -> tuple[int, int]:
    return placed.at_us, placed.position
