"""Whether a ledger is whole: its file, its log, its signed heads, and all it keeps beside them.

Each fault is named with what to do next. What only follows from the log can be mended from it; the
log itself is never changed.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coatledger.computations.signed_note import Key, NoteError, checkpoint_of, note_of, signed_by
from coatledger.ledger.log_check import LogReport, check_log

from coatledger_adapters.read_models import (
    Differences,
    compare,
    index_sum,
    mend,
    mend_tree,
)
from coatledger_adapters.scan import scan
from coatledger_adapters.shadow import shadow
from coatledger_adapters.signing import verify
from coatledger_adapters.sql_reader import SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.tables import CHECKPOINT

SHOWN = 5
KEEP = (
    "Stop the service and keep this database as it is: it is evidence. Find the newest backup that "
    "checks out, `coatledger restore` it beside, and compare the events named"
)
MEND = "Run `coatledger self-check --mend`: it is worked out again from the events"
INDEX = (
    "The index cannot be changed in place. Restore the newest backup that checks out, then record "
    "again what came after it"
)
FILE = "The disk or the file is damaged: restore the newest backup, and look at the disk"
HEADS = "Look who has the signing key, and which program wrote this database"


class Wrong(NamedTuple):
    """One thing that is not as it should be, and the next step."""

    part: str
    says: str
    next_step: str


class Report(NamedTuple):
    """What a check looked at and found. `mended`: what follows from the log was put right."""

    size: int
    root: bytes
    heads: int
    wrong: tuple[Wrong, ...]
    mended: bool = False

    @property
    def is_whole(self) -> bool:
        """Whether nothing is wrong."""
        return not self.wrong


def self_check(store: SqlStore, key: Key | None = None, *, mending: bool = False) -> Report:
    """Check a ledger; `key` is the one its heads are signed with, None leaves signatures out."""
    try:
        with store.beside() as ledger:
            damage = list(_file_faults(store, ledger))
        # What is read from a damaged file says nothing.
        if damage:
            return Report(0, b"", 0, tuple(damage))
        return _checked(store, key, mending=mending)
    except sqlite3.DatabaseError as error:
        return Report(0, b"", 0, (Wrong("file", str(error), FILE),))


def _checked(store: SqlStore, key: Key | None, *, mending: bool) -> Report:
    with shadow() as beside:
        with store.beside() as ledger:
            signed, wrong = _signed_heads(store, ledger, key)
            log = check_log(ledger, store.shop, signed)
            wrong += _log_faults(log)
            if not log.faults and index_sum(store, ledger) != log.named:
                says = "the index of subjects is not that of the events"
                wrong.append(Wrong("index", says, INDEX))
            found = None if log.faults else compare(store, ledger, beside)
        derived = [] if found is None else [*_tree_faults(log), *_state_faults(found)]
        can_mend = mending and found is not None and not found.parked and bool(derived)
        if can_mend and found is not None:
            mend(store, found, beside)
            mend_tree(store, log.wrong_nodes)
            derived = []
    return Report(log.size, log.root, len(signed), (*wrong, *derived), can_mend)


def _signed_heads(
    store: SqlStore, ledger: SqlReader, key: Key | None
) -> tuple[Mapping[int, bytes], list[Wrong]]:
    """Return the roots signed in this life of the ledger, and what is wrong about the heads."""
    head, roots, wrong = ledger.head(), {}, []
    for rows in scan(store, ledger, CHECKPOINT):
        for epoch, size, _, note, _ in rows:
            if epoch != head.epoch:
                continue
            try:
                read = note_of(bytes(note).decode())
                told = checkpoint_of(read.text)
                if key is not None and signed_by(read, key, verify) is None:
                    raise NoteError("the shop's key did not sign it")
                if told.size != size or told.origin != f"{store.shop}/{epoch}":
                    raise NoteError("it is the head of another ledger or size")
            except (NoteError, UnicodeDecodeError) as error:
                wrong.append(Wrong("heads", f"the head signed at {size} events: {error}", HEADS))
                continue
            roots[size] = told.root
            if size > head.size:
                says = f"a head was signed at {size} events, but the ledger has {head.size}"
                wrong.append(Wrong("log", says, KEEP))
    return roots, wrong


def _file_faults(store: SqlStore, ledger: SqlReader) -> Iterator[Wrong]:
    if not store.is_sqlite:
        return
    ledger.cursor.execute(f"PRAGMA integrity_check({SHOWN})")
    for (says,) in ledger.cursor.fetchall():
        if says != "ok":
            yield Wrong("file", str(says), FILE)


def _log_faults(log: LogReport) -> Iterator[Wrong]:
    for fault in log.faults[:SHOWN]:
        yield Wrong("log", str(fault), KEEP)
    if len(log.faults) > SHOWN:
        yield Wrong("log", f"and {len(log.faults) - SHOWN} faults more", KEEP)


def _tree_faults(log: LogReport) -> Iterator[Wrong]:
    if log.wrong_nodes:
        count = len(log.wrong_nodes)
        yield Wrong("tree", f"{count} of the hashes kept for proofs are wrong or missing", MEND)


def _state_faults(found: Differences) -> Iterator[Wrong]:
    for subject, says in found.parked[:SHOWN]:
        yield Wrong("folds", f"{subject} cannot be folded: {says}", "Tell whoever makes coatledger")
    for part, words, names in (
        ("folds", "subjects are not what their events make them", found.folds),
        ("folds", "subjects are kept that no event names", found.strays),
        ("counts", "counts do not add up", [" ".join(key) for key in found.tallies]),
        ("climate", "events have other readings than they tell", [str(p) for p in found.climate]),
    ):
        if names:
            shown = ", ".join(names[:SHOWN]) + (", …" if len(names) > SHOWN else "")
            yield Wrong(part, f"{len(names)} {words}: {shown}", MEND)
