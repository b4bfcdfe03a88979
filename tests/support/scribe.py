"""Writes to a store as the recording layer does, but any rows a test asks for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from coatledger.ledger.record import Row
from coatledger.ledger.store import (
    Changes,
    ClimateRow,
    Head,
    Note,
    Store,
    StoredFold,
    SubjectRow,
    Tally,
    TreeNode,
)
from coatledger.subjects.registry import FOLDS, kind_of

SHOP = "dune-end"
EVERY_BYTE = bytes(range(256))


class Act(NamedTuple):
    """What happened to which subjects and when; positions and ids come with the writing."""

    subjects: tuple[str, ...]
    type: str = "sanded"
    occurred_us: int = 0


def event_id(position: int) -> UUID:
    """The id that the event at a position gets, UUIDv7 by form."""
    return UUID(int=(7 << 76) | (2 << 62) | position)


def row(position: int, act: Act, recorded_us: int) -> Row:
    """A stored event whose leaf holds every byte there is and tells its position."""
    leaf = str(position).encode() + EVERY_BYTE
    return Row(position, event_id(position), act.type, act.occurred_us, recorded_us, leaf)


def changes(
    head: Head,
    acts: Sequence[Act],
    *,
    recorded_us: int | None = None,
    folds: Sequence[StoredFold] = (),
    tallies: Mapping[tuple[str, str], float] | None = None,
    climate: Sequence[ClimateRow] = (),
    gone: Sequence[tuple[int, int]] = (),
    notes: Sequence[Note] = (),
    tree: Sequence[TreeNode] = (),
) -> Changes:
    """All that a write adds after this head."""
    at_us = head.recorded_us + 1 if recorded_us is None else recorded_us
    rows = [row(head.size + n, act, at_us) for n, act in enumerate(acts, 1)]
    named = [
        SubjectRow(subject, one.position, act.occurred_us, act.type)
        for one, act in zip(rows, acts, strict=True)
        for subject in act.subjects
    ]
    size = head.size + len(rows)
    frontier = tuple(size.to_bytes(32) for bit in range(size.bit_length()) if size >> bit & 1)
    moved = Head(size, at_us, frontier, head.epoch)
    return Changes(moved, rows, named, folds, tallies or {}, climate, gone, notes, tree)


def append(store: Store, *acts: Act, **more: object) -> Sequence[Row]:
    """Write acts, and whatever else is given, in one transaction."""
    with store.writing() as writer:
        made = changes(writer.head(), acts, **more)  # type: ignore[arg-type]
        writer.write(made)
    return made.rows


def fold(subject: str, shelf: str = "bare", position: int = 1, state: bytes = b"{}") -> StoredFold:
    """A stored fold with little in it."""
    kind = FOLDS.get(kind_of(subject))
    version = 1 if kind is None else kind.version
    return StoredFold(subject, version, position, position * 10, shelf, state)


def reading(room: str, at_us: int, position: int, air_c: float = 21.0) -> ClimateRow:
    """One reading in force."""
    return ClimateRow(room, at_us, position, air_c, 45.0, None, None)


def everything(store: Store) -> Mapping[str, object]:
    """All that a store holds, so that two states can be compared."""
    with store.reading() as reader:
        head = reader.head()
        rows = reader.rows(0, head.size + 100)
        kinds = ("piece", "lot", "gun", "room")
        folds = [fold for kind in kinds for fold in reader.shelf(kind, None, "", 10_000)]
        tallies: list[Tally] = [one for name in TALLIES for one in reader.tallies(name)]
        ids = [event_id(position) for position in range(head.size + 100)]
        return {
            "head": head,
            "rows": tuple(rows),
            "folds": tuple(folds),
            "tallies": tuple(tallies),
            "climate": tuple(reader.climate("spray", -(2**40), 2**40, known=2**40)),
            "notes": dict(reader.notes(ids)),
            "named": tuple(tuple(reader.of_subject(subject)) for subject in SUBJECTS),
            "tree": dict(reader.subtrees([(6, number) for number in range(10)])),
        }


TALLIES = ("coats", "minutes", "wip")
SUBJECTS = ("piece:A-1", "piece:A-2", "piece:B-1", "lot:L-1", "gun:G-1", "room:spray")
