"""Everything a store keeps beside the events, worked out again from the events alone.

The log is read once, in order of position; only subjects with a late or corrected fact are then
folded again from their own history. What is rebuilt goes to a place beside the live state and comes
back from there when it is needed, so that memory does not grow with the ledger.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple, Protocol
from uuid import UUID

from coatledger.events.about import EventVoided
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, EventAmended
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.correct import FAR, history
from coatledger.ledger.record import Row, opened
from coatledger.ledger.store import ClimateRow, Reader, StoredFold
from coatledger.recording.climate import climate_rows
from coatledger.subjects.parked import ParkedError, ParkedState
from coatledger.subjects.registry import (
    FOLDS,
    Fold,
    kind_of,
    shelf_of,
    state_bytes,
    state_or_parked,
    tally_of,
    word_of,
)
from coatledger.subjects.view import fold

PAGE: Final = 2_000
# More subjects than these are not held as objects at once.
HOT_MAX: Final = 4_000


class Beside(Protocol):
    """Where the rebuilt state waits: a table or a dict beside the live one."""

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return what was put here for these subjects."""

    def put(self, folds: Sequence[StoredFold]) -> None:
        """Keep folds; the last one of a subject counts."""

    def count(self, more: Mapping[tuple[str, str], float]) -> None:
        """Add to counts."""

    def add_climate(self, rows: Sequence[ClimateRow]) -> None:
        """Keep readings."""

    def end_climate(self, position: int, gone_at: int) -> None:
        """Take back the readings of one event that nothing took back before."""


class Parked(NamedTuple):
    """A subject whose facts could not be folded, and why; the others were."""

    subject: str
    says: str


class Rebuilt(NamedTuple):
    """What a rebuild went through."""

    size: int
    folded_again: int
    parked: tuple[Parked, ...]


def rebuild(reader: Reader, beside: Beside, page: int = PAGE) -> Rebuilt:
    """Work out folds, tallies and climate from the log, up to its present head."""
    return Rebuild(beside).catch_up(reader, page)


class Rebuild:
    """A rebuild that can go on from where it stopped, with what was recorded meanwhile."""

    def __init__(self, beside: Beside) -> None:
        self._run = _Run(beside)
        self._size = 0

    def catch_up(self, reader: Reader, page: int = PAGE) -> Rebuilt:
        """Take in everything from where it stopped to the reader's head."""
        run = self._run
        run.reader = reader
        for rows in pages(reader, page, self._size):
            run.take(rows)
        run.flush()
        again = sorted(run.again)
        run.again.clear()
        for subject in again:
            run.fold_again(subject)
        run.flush()
        self._size = reader.head().size
        parked = tuple(Parked(*one) for one in sorted(run.parked.items()))
        return Rebuilt(self._size, len(again), parked)


def pages(reader: Reader, page: int = PAGE, after: int = 0) -> Iterator[Sequence[Row]]:
    """Read the log page by page up to its present head."""
    size = reader.head().size
    while after < size and (rows := reader.rows(after, min(page, size - after))):
        yield rows
        after = rows[-1].position


def fold_of(reader: Reader, subject: str, named: int) -> StoredFold:
    """Fold one subject from its own history; `named` is the last event that names it."""
    state, folded_us = _folded(reader, subject)
    return _stored(subject, _Held(FOLDS[kind_of(subject)], state, named, folded_us))


class _Held:
    """One subject while it is folded. Unlike anything that leaves this module, it changes."""

    __slots__ = ("evolve", "folded_us", "kind", "named", "state", "types")

    def __init__(self, kind: Fold, state: Any, named: int, folded_us: int) -> None:
        self.kind = kind
        self.types = kind.types
        self.evolve = kind.evolve
        self.state = state
        self.named = named
        self.folded_us = folded_us


class _Run:
    """One rebuild under way."""

    reader: Reader

    def __init__(self, beside: Beside) -> None:
        self.again: set[str] = set()
        self.parked: dict[str, str] = {}
        self._beside = beside
        self._hot: dict[str, _Held] = {}
        self._amended: dict[UUID, list[int]] = {}
        self._counts: dict[tuple[str, str], float] = {}

    def take(self, rows: Sequence[Row]) -> None:
        """Fold one page of the log."""
        events = [opened(row) for row in rows]
        self._fetch({subject for _, named in events for subject in named})
        climate: list[ClimateRow] = []
        for row, (fact, named) in zip(rows, events, strict=True):
            if isinstance(fact, CORRECTIONS):
                for subject in named:
                    self.again.add(subject)
                    self._hot[subject].named = row.position
                self._beside.add_climate(climate)
                climate = list(self._corrected_climate(row.position, fact))
                continue
            if isinstance(fact, ClimateRead):
                climate.extend(climate_rows(fact, row.position))
            self._fold(named, row, fact)
        self._beside.add_climate(climate)
        if len(self._hot) > HOT_MAX:
            self.flush()

    def flush(self) -> None:
        """Put what is held away."""
        for held in self._hot.values():
            self._count(held, 1)
        self._beside.put([_stored(subject, held) for subject, held in self._hot.items()])
        self._beside.count({key: value for key, value in self._counts.items() if value})
        self._counts.clear()
        self._hot.clear()

    def fold_again(self, subject: str) -> None:
        """Fold a subject with late or corrected facts from its own history."""
        self._fetch((subject,))
        held = self._hot[subject]
        held.state, held.folded_us = _folded(self.reader, subject)
        self.parked.pop(subject, None)
        if isinstance(held.state, ParkedState):
            self.parked[subject] = held.state.says

    def _fetch(self, subjects: Iterable[str]) -> None:
        cold = [subject for subject in subjects if subject not in self._hot]
        stored = self._beside.folds(cold)
        for subject in cold:
            name, found = kind_of(subject), stored.get(subject)
            kind = FOLDS[name]
            if found is None:
                self._hot[subject] = _Held(kind, kind.initial(word_of(subject)), 0, 0)
                continue
            state = state_or_parked(name, found.state)
            self._hot[subject] = _Held(kind, state, found.position, found.folded_us)
            self._count(self._hot[subject], -1)

    def _fold(self, named: Iterable[str], row: Row, fact: Fact) -> None:
        at_us, position, tag = row.occurred_us, row.position, row.type
        hot, again = self._hot, self.again
        for subject in named:
            held = hot[subject]
            held.named = position
            if held.types is not None and tag not in held.types:
                continue
            if at_us < held.folded_us or subject in again:
                again.add(subject)
                continue
            try:
                held.state = held.evolve(held.state, fact)
                held.folded_us = at_us
            except Exception:  # noqa: BLE001 - folded again at the end, and parked if it fails there
                again.add(subject)

    def _corrected_climate(self, position: int, fact: Fact) -> Sequence[ClimateRow]:
        """End what a correction takes back; return the readings it puts in their place."""
        assert isinstance(fact, (EventVoided, EventAmended))
        found = self.reader.by_id((fact.original,)).get(fact.original)
        if found is None or found.type != "climate_read":
            return ()
        earlier = self._amended.setdefault(fact.original, [])
        for taken_back in (*earlier, found.position):
            self._beside.end_climate(taken_back, position)
        earlier.append(position)
        if isinstance(fact, EventAmended) and isinstance(fact.replacement, ClimateRead):
            return climate_rows(fact.replacement, position)
        return ()

    def _count(self, held: _Held, sign: int) -> None:
        for key, value in tally_of(held.kind, held.state).items():
            self._counts[key] = self._counts.get(key, 0) + sign * value


def _folded(reader: Reader, subject: str) -> tuple[Any, int]:
    facts = history(reader, subject, types=FOLDS[kind_of(subject)].types)
    try:
        return fold(subject, facts), max((placed.at_us for placed in facts), default=0)
    except ParkedError as parked:  # one subject must not stop the others
        return ParkedState(parked.says), FAR


def _stored(subject: str, held: _Held) -> StoredFold:
    return StoredFold(
        subject=subject,
        version=held.kind.version,
        position=held.named,
        folded_us=held.folded_us,
        shelf=shelf_of(held.kind, held.state),
        state=state_bytes(held.state),
    )
