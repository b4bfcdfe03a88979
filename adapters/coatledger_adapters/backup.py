"""A copy of a SQLite ledger taken while it is written, checked, and put back in its place.

The copy is one file and beside it a manifest. Putting it back begins another life of the ledger, so
that whoever reads its feed notices; what it replaces is moved aside and never deleted. The keys of
the shop are files of their own: keep them elsewhere than the copies.
"""

import os
import secrets
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from hashlib import file_digest
from importlib.metadata import version
from pathlib import Path
from typing import Final, NamedTuple

import msgspec
from coatledger.computations import merkle
from coatledger.ledger.normal import utc_text
from msgspec import Struct

from coatledger_adapters.erased import erase_again, erased_in
from coatledger_adapters.lock_file import LockFile

FORMAT: Final = "coatledger-backup-1"
HASH_BYTES: Final = 32
SIDE_FILES: Final = ("-wal", "-shm")


class BackupError(Exception):
    """The copy cannot be made, trusted or put back; the message says why and what to do."""


class Manifest(Struct, frozen=True, kw_only=True):
    """What a copy is: which ledger, how far, its root, and the hash of the file."""

    format: str
    shop: str
    epoch: str
    size: int
    root: str
    made_at: str
    sha256: str
    bytes: int
    tables: str
    program: str
    signed_head: str | None = None


class Backup(NamedTuple):
    """A copy and its manifest."""

    path: Path
    manifest: Manifest


class Restored(NamedTuple):
    """What became of a restore. `lost` counts the events that only the replaced file still has."""

    manifest: Manifest
    epoch: str
    replaced: Path | None
    lost: int | None
    erased: int


def back_up(database: Path, folder: Path, now: datetime) -> Backup:
    """Copy a ledger in one step, beside a service that goes on writing, and check the copy."""
    if not database.is_file():
        raise BackupError(f"{database} is not a ledger's file")
    return kept_copy(lambda part: _copy(database, part), folder, now)


def kept_copy(copy: Callable[[Path], None], folder: Path, now: datetime) -> Backup:
    """Let a ledger be copied into a new file, check that, and keep it beside its manifest."""
    folder.mkdir(parents=True, exist_ok=True)
    part = folder / f".{secrets.token_hex(8)}.part"
    try:
        copy(part)
        found = _look(part, now)
        name = f"{found.shop}-{now:%Y%m%dT%H%M%SZ}-{found.size}.db"
        path = folder / name
        if path.exists():
            raise BackupError(f"{path} is there already")
        _sync(part)
        _write(manifest_of(path), msgspec.json.format(msgspec.json.encode(found)) + b"\n")
        part.rename(path)
        _sync(folder)
    finally:
        part.unlink(missing_ok=True)
    return Backup(path, found)


def check_backup(path: Path) -> Manifest:
    """Check a copy against its manifest and its own log; what is wrong is raised."""
    try:
        manifest = msgspec.json.decode(manifest_of(path).read_bytes(), type=Manifest)
    except FileNotFoundError:
        raise BackupError(f"{path} or its manifest is not there") from None
    except msgspec.DecodeError as error:
        raise BackupError(f"the manifest of {path} cannot be read: {error}") from None
    if manifest.format != FORMAT:
        raise BackupError(f"{path} is of the form {manifest.format}, not {FORMAT}")
    if not path.is_file() or _digest(path) != manifest.sha256:
        raise BackupError(f"{path} is not the file its manifest tells of: take another copy")
    found = _look(path, datetime.fromisoformat(manifest.made_at))
    told = (manifest.shop, manifest.epoch, manifest.size, manifest.root)
    if (found.shop, found.epoch, found.size, found.root) != told:
        raise BackupError(f"{path} holds another ledger than its manifest tells of")
    return manifest


def restore(path: Path, database: Path, home: Path, now: datetime) -> Restored:
    """Put a copy in a ledger's place, under a new epoch; the service must not run.

    What was erased by the list in the shop's folder is erased again, and no message that waited
    goes out.
    """
    manifest = check_backup(path)
    lock = LockFile(database)
    part = database.with_name(f".{database.name}.{secrets.token_hex(4)}.part")
    try:
        lost = _events_beyond(database, manifest)
        epoch, erased = put_into_another_life(path, part, manifest, home)
        _sync(part)
        replaced = _move_aside(database, now) if database.exists() else None
        part.rename(database)
        _sync(database.parent)
    finally:
        part.unlink(missing_ok=True)
        lock.close()
    return Restored(manifest, epoch, replaced, lost, erased)


def put_into_another_life(
    path: Path, part: Path, manifest: Manifest, home: Path
) -> tuple[str, int]:
    """Copy a copy and make of it what may be served: a new epoch, erased again what was erased
    since, and no message waiting. Returns the epoch and how much was erased."""
    shutil.copyfile(path, part)
    epoch, gone = secrets.token_hex(8), erased_in(home)
    with _opened(part) as file:
        file.execute("UPDATE head SET epoch = ? WHERE shop = ?", (epoch, manifest.shop))
        erase_again(file, manifest.shop, gone)
        _set_messages_aside(file)
    return epoch, len(gone)


def manifest_of(path: Path) -> Path:
    """Name the manifest of a copy."""
    return path.with_suffix(".json")


def _copy(database: Path, part: Path) -> None:
    """Copy all pages at once: in steps, every write of the service would begin the copy anew."""
    try:
        with (
            closing(sqlite3.connect(f"{database.resolve().as_uri()}?mode=ro", uri=True)) as source,
            closing(sqlite3.connect(part)) as copy,
        ):
            source.backup(copy, pages=-1)
        in_one_file(part)
    except sqlite3.Error as error:
        raise BackupError(f"{database} could not be copied: {error}") from error


def in_one_file(part: Path) -> None:
    """Leave no log beside a file, where it might be left behind."""
    with closing(sqlite3.connect(part)) as copy:
        copy.execute("PRAGMA journal_mode = DELETE")


def _look(path: Path, now: datetime) -> Manifest:
    """Read a copy through: the file is sound, positions have no gap, leaves give the head."""
    try:
        with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as file:
            for (says,) in file.execute("PRAGMA integrity_check(1)"):
                if says != "ok":
                    raise BackupError(f"{path} is damaged: {says}")
            ((shop, size, frontier, epoch),) = file.execute(
                "SELECT shop, size, frontier, epoch FROM head"
            ).fetchall()
            ((tables,),) = file.execute("SELECT version_num FROM alembic_version")
            grown = _frontier(path, file, size)
            if b"".join(grown) != frontier:
                raise BackupError(f"{path}: the events do not give the root the ledger had")
            signed = file.execute(
                "SELECT note FROM checkpoint WHERE epoch = ? ORDER BY size DESC LIMIT 1", (epoch,)
            ).fetchone()
    except (sqlite3.Error, ValueError) as error:
        raise BackupError(f"{path} is not a ledger's file: {error}") from error
    return Manifest(
        format=FORMAT,
        shop=shop,
        epoch=epoch,
        size=size,
        root=merkle.root(grown).hex(),
        made_at=utc_text(now),
        sha256=_digest(path),
        bytes=path.stat().st_size,
        tables=tables,
        program=version("coatledger"),
        signed_head=None if signed is None else signed[0].decode(),
    )


def _frontier(path: Path, file: sqlite3.Connection, size: int) -> tuple[bytes, ...]:
    frontier: tuple[bytes, ...] = ()
    before = 0
    for position, leaf in file.execute("SELECT position, leaf FROM events ORDER BY position"):
        if position != before + 1:
            raise BackupError(f"{path}: event {before + 1} is missing")
        frontier = merkle.append(frontier, before, merkle.leaf_hash(leaf))
        before = position
    if before != size:
        raise BackupError(f"{path}: the log ends at event {before}, its head says {size}")
    return frontier


def _events_beyond(database: Path, manifest: Manifest) -> int | None:
    """Count what the ledger in place has beyond the copy; None when it cannot be read."""
    if not database.exists():
        return 0
    try:
        with closing(sqlite3.connect(f"{database.resolve().as_uri()}?mode=ro", uri=True)) as file:
            ((shop, size),) = file.execute("SELECT shop, size FROM head").fetchall()
    except (sqlite3.Error, ValueError):
        return None
    if shop != manifest.shop:
        raise BackupError(f"{database} is the ledger of {shop}, the copy is of {manifest.shop}")
    return max(0, int(size) - manifest.size)


def _move_aside(database: Path, now: datetime) -> Path:
    aside = database.with_name(f"{database.name}.before-{now:%Y%m%dT%H%M%SZ}")
    if aside.exists():
        raise BackupError(f"{aside} is there already: wait a second")
    for suffix in ("", *SIDE_FILES):
        part = database.with_name(database.name + suffix)
        if part.exists():
            part.rename(aside.with_name(aside.name + suffix))
    return aside


def _set_messages_aside(file: sqlite3.Connection) -> None:
    """A copy does not know what was delivered since it was made: what waited in it waits for
    whoever looks and has it sent again. Copies older than webhooks have no such table."""
    if file.execute("SELECT 1 FROM sqlite_master WHERE name = 'delivery'").fetchone():
        file.execute("UPDATE delivery SET state = 'set_aside' WHERE state = 'waiting'")


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(path, isolation_level=None)) as file:
        file.execute("PRAGMA secure_delete = ON")
        file.execute("BEGIN IMMEDIATE")
        yield file
        file.execute("COMMIT")


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _sync(path: Path) -> None:
    """Let a file, or on POSIX the names in a folder, reach the disk."""
    if path.is_dir() and os.name != "posix":
        return
    file = os.open(path, os.O_RDONLY if path.is_dir() or os.name == "posix" else os.O_RDWR)
    try:
        os.fsync(file)
    finally:
        os.close(file)
