"""The one port: what a store of one shop's ledger must do. A store is whatever passes its contract.

Times are integer microseconds since 1970 UTC. Positions begin at 1 and have no gaps. A write locks
the shop's head first, sees everything recorded before it, and is all or nothing.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from typing import NamedTuple, Protocol
from uuid import UUID

from coatledger.ledger.record import Row


class Head(NamedTuple):
    """Where the ledger stands. `frontier` is the RFC 6962 tree in short form, see `merkle`.

    `epoch` changes only when a backup is restored, so that a reader of the feed notices.
    """

    size: int
    recorded_us: int
    frontier: tuple[bytes, ...]
    epoch: str


class SubjectRow(NamedTuple):
    """One subject named by one event, at that event's own place in time."""

    subject: str
    position: int
    occurred_us: int
    type: str


class ClimateRow(NamedTuple):
    """One reading of a room's air; `gone_at` is the position of the correction that ended it."""

    room: str
    at_us: int
    position: int
    air_c: float
    rh_pct: float
    surface_c: float | None
    gone_at: int | None

    def in_force(self, known: int | None = None) -> bool:
        """Whether it counts for somebody who knows positions up to `known`; None knows all."""
        if known is None:
            return self.gone_at is None
        return self.position <= known and (self.gone_at is None or self.gone_at > known)


class StoredFold(NamedTuple):
    """What the facts about one subject make of it, kept so that the present is quick to read.

    `position` is that of the last event naming the subject; `folded_us` the latest `occurred_at`
    folded in; `shelf` a plain word to list subjects by (a piece's stage).
    """

    subject: str
    version: int
    position: int
    folded_us: int
    shelf: str
    state: bytes


class Note(NamedTuple):
    """Free words, kept apart: the event holds SHA-256(salt + text). `text` is None once erased."""

    event_id: UUID
    salt: bytes
    text: str | None


class Tally(NamedTuple):
    """One additive count: `name` says of what, `key` of which share, for example a quarter-hour."""

    name: str
    key: str
    value: float


class TreeNode(NamedTuple):
    """The hash of a complete subtree: the `number`-th one, from 0, over 2**level leaves each."""

    level: int
    number: int
    hash: bytes


class Changes(NamedTuple):
    """Everything one write adds, so that a store writes it in few statements.

    `in_place` names the folds that stay on the shelf they are stored on.
    """

    head: Head
    rows: Sequence[Row]
    subjects: Sequence[SubjectRow]
    folds: Sequence[StoredFold]
    tallies: Mapping[tuple[str, str], float]
    climate: Sequence[ClimateRow]
    climate_gone: Sequence[tuple[int, int]]
    notes: Sequence[Note]
    tree: Sequence[TreeNode] = ()
    in_place: Collection[str] = ()


class Reader(Protocol):
    """Read one consistent state of one shop's ledger."""

    def head(self) -> Head:
        """Return where the ledger stands."""

    def by_id(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Row]:
        """Find events by the ids their clients made; unknown ids are left out."""

    def rows(self, after: int, limit: int) -> Sequence[Row]:
        """Return events in order of position, beginning after a position."""

    def of_subject(
        self, subject: str, *, known: int | None = None, until_us: int | None = None,
        types: Sequence[str] | None = None, newest: int | None = None,
    ) -> Sequence[Row]:  # fmt: skip
        """Return the events naming a subject in order of (occurred, position).

        `known` keeps positions up to and including it, `until_us` keeps what occurred up to and
        including it, `types` keeps these tags, `newest` keeps only that many of the last.
        """

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return stored folds by subject; subjects never named are left out."""

    def shelf(
        self, kind: str, shelves: Sequence[str] | None, after: str, limit: int
    ) -> Sequence[StoredFold]:
        """List the folds of one kind of subject (`piece`, `lot`) on the given shelves, or all,
        in order of subject, beginning after the subject `after` ("" for the first page)."""

    def tallies(self, name: str, first: str = "", last: str = "\uffff") -> Sequence[Tally]:
        """Return the tallies of one name with first <= key <= last, in order of key."""

    def climate(
        self, room: str, first_us: int, last_us: int, known: int | None = None
    ) -> Sequence[ClimateRow]:
        """Return a room's readings in force at `known`, in order of time, ends included."""

    def climate_before(self, room: str, at_us: int, known: int | None = None) -> ClimateRow | None:
        """Return the last reading at or before a time, or None."""

    def position_at(self, recorded_us: int) -> int:
        """Return the last position recorded at or before a time; 0 when there is none."""

    def notes(self, event_ids: Iterable[UUID]) -> Mapping[UUID, Note]:
        """Return the notes that are kept for these events."""

    def subtrees(self, places: Iterable[tuple[int, int]]) -> Mapping[tuple[int, int], bytes]:
        """Return kept hashes by (level, number), see `tree`; those not kept are left out."""


class Writer(Reader, Protocol):
    """A reader that holds the head's lock and may write once."""

    def write(self, changes: Changes) -> None:
        """Write everything, or raise and write nothing."""


class Store(Protocol):
    """A place where one shop's ledger lives."""

    @property
    def shop(self) -> str:
        """The shop's own word; it stands in every leaf."""

    def reading(self) -> AbstractContextManager[Reader]:
        """Open one consistent state to read."""

    def writing(self) -> AbstractContextManager[Writer]:
        """Lock the head; commit when the block ends, roll back when it raises."""
