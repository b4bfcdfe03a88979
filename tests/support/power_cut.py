"""Power cuts by calculation: record what a store writes and syncs, then lose what was not synced.

A shim over the file system notes every write, sync and truncation of the database and its log. For
any moment, a disk that lost power then holds what was synced and any part of the rest: nothing, the
first writes, some of them, one torn at a sector. Each such disk is opened and looked at.
"""

from __future__ import annotations

import random
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import apsw

SECTOR = 512
Disk = Mapping[str, bytes]


class Op(NamedTuple):
    """One thing asked of the file system; `acknowledged` is a thing told to the caller instead."""

    kind: str
    file: str = ""
    offset: int = 0
    data: bytes = b""
    acknowledged: int = 0


class RecordingVFS(apsw.VFS):
    """The file system below, with every change noted in `ops`."""

    def __init__(self, name: str, ops: list[Op]) -> None:
        self.name = name
        self.ops = ops
        super().__init__(name, "")

    def xOpen(self, name: Any, flags: list[int]) -> apsw.VFSFile:  # noqa: N802 - SQLite's name
        return RecordingFile(self.ops, name, flags)


class RecordingFile(apsw.VFSFile):
    """A file whose changes are noted."""

    def __init__(self, ops: list[Op], name: Any, flags: list[int]) -> None:
        path = name.filename() if isinstance(name, apsw.URIFilename) else name
        self._file = Path(path).name if path else "temporary"
        self._ops = ops
        super().__init__("", name, flags)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self._ops.append(Op("write", self._file, offset, bytes(data)))
        super().xWrite(data, offset)

    def xSync(self, flags: int) -> None:  # noqa: N802
        self._ops.append(Op("sync", self._file))
        super().xSync(flags)

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self._ops.append(Op("truncate", self._file, size))
        super().xTruncate(size)


@dataclass
class _File:
    synced: bytearray
    pending: list[Op] = field(default_factory=list)


def cuts(
    before: Disk, ops: Sequence[Op], moments: Sequence[int], rng: random.Random
) -> Iterator[tuple[Disk, int]]:
    """Yield for each moment a disk as a power cut may leave it, and the last thing acknowledged."""
    files = {name: _File(bytearray(data)) for name, data in before.items()}
    acknowledged, wanted = 0, Counter(moments)
    for moment, op in enumerate(ops):
        for _ in range(wanted[moment]):
            yield {name: _left(file, rng) for name, file in files.items()}, acknowledged
        if op.kind == "acknowledged":
            acknowledged = op.acknowledged
            continue
        file = files.setdefault(op.file, _File(bytearray()))
        if op.kind == "sync":
            for one in file.pending:
                _apply(file.synced, one)
            file.pending.clear()
        else:
            file.pending.append(op)


def _left(file: _File, rng: random.Random) -> bytes:
    found = bytearray(file.synced)
    kept = rng.choice((0.0, 1.0, 0.5, 0.9))
    first = rng.random() < 0.5
    limit = rng.randint(0, len(file.pending))
    for number, op in enumerate(file.pending):
        if (number < limit) if first else (rng.random() < kept):
            _apply(found, op)
        elif op.kind == "write" and rng.random() < 0.2:
            torn = rng.randint(0, len(op.data) // SECTOR) * SECTOR
            _apply(found, op._replace(data=op.data[:torn]))
    return bytes(found)


def _apply(content: bytearray, op: Op) -> None:
    if op.kind == "truncate":
        del content[op.offset :]
        return
    if len(content) < op.offset:
        content.extend(bytes(op.offset - len(content)))
    content[op.offset : op.offset + len(op.data)] = op.data


class Verdict(NamedTuple):
    """What many cuts did: how many acknowledged events were lost, and how many disks were bad."""

    cuts: int
    acknowledged: int
    lost: int
    corrupt: int


def judge(folder: Path, database: str, found: Iterator[tuple[Disk, int]], shop: str) -> Verdict:
    """Open every disk and compare it with what was acknowledged."""
    count = acknowledged_sum = lost = corrupt = 0
    for disk, acknowledged in found:
        for old in folder.iterdir():
            old.unlink()
        for name, data in disk.items():
            (folder / name).write_bytes(data)
        count += 1
        acknowledged_sum += acknowledged
        size = _size_if_whole(folder / database, shop)
        if size is None:
            corrupt += 1
        else:
            lost += max(0, acknowledged - size)
    return Verdict(count, acknowledged_sum, lost, corrupt)


def _size_if_whole(path: Path, shop: str) -> int | None:
    """The ledger's size when events, subjects, folds and tallies all say the same, else None."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA synchronous = OFF")  # looking at a disk need not last
            sound = connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            head = connection.execute("SELECT size FROM head WHERE shop = ?", (shop,)).fetchone()
            told = connection.execute(
                "SELECT count(*), coalesce(max(position), 0), "
                "(SELECT count(*) FROM event_subjects), "
                "coalesce((SELECT max(position) FROM fold), 0), "
                "coalesce((SELECT sum(value) FROM tally), 0) FROM events"
            ).fetchone()
    except sqlite3.DatabaseError:
        return None
    return int(head[0]) if sound and head and set(told) == set(head) else None


class ApswConnection:
    """As much of the database interface as a store asks of a connection."""

    def __init__(self, path: str, vfs: str, statements: Sequence[str]) -> None:
        self._connection = apsw.Connection(path, vfs=vfs)
        for statement in statements:
            self._connection.execute(statement)

    def cursor(self) -> apsw.Cursor:
        """Return a cursor, which has what is needed of one."""
        return self._connection.cursor()

    def create_function(self, *given: object, **named: object) -> None:
        """SQLAlchemy adds a function that no statement of ours uses."""

    def commit(self) -> None:
        """Nothing is left to do: a store says COMMIT itself."""

    def rollback(self) -> None:
        """Undo what is open."""
        if self._connection.in_transaction:
            self._connection.execute("ROLLBACK")

    def close(self) -> None:
        """Close."""
        self._connection.close()
