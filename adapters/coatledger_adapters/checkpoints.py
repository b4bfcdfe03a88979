"""The book of signed heads: each says what the whole ledger was at one size.

A head is signed only when the ledger still begins as the last signed one did. What outsiders add,
a cosigner's line or a time stamp, is kept with it.
"""

from collections.abc import Iterable
from typing import NamedTuple, Protocol

from coatledger.answers.proof import Signed
from coatledger.computations.signed_note import (
    Note,
    Signature,
    checkpoint_of,
    note_of,
    with_signatures,
)
from coatledger.ledger import tree
from coatledger.ledger.store import Reader, Store
from sqlalchemy import bindparam, insert, select, update

from coatledger_adapters.queries import first, whole, word
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_reader import EVER, SqlReader
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.stamps import stamp_of
from coatledger_adapters.tables import CHECKPOINT

_COLUMNS = (CHECKPOINT.c.size, CHECKPOINT.c.signed_at, CHECKPOINT.c.note, CHECKPOINT.c.stamp)


class BrokenHistoryError(Exception):
    """The ledger no longer begins as it did when it was last signed."""


class NoSuchHeadError(Exception):
    """Nothing was signed at that size."""


class Kept(NamedTuple):
    """One signed head. `stamp` is an RFC 3161 token over the SHA-256 of the note's text."""

    size: int
    signed_us: int
    note: Note
    stamp: bytes | None


class CheckpointBook(Protocol):
    """Where one shop's signed heads are kept."""

    @property
    def signer(self) -> Signer:
        """Who signs here."""

    def sign(self, now_us: int) -> Kept:
        """Return this moment's head signed; one that was signed before stays as it was."""

    def latest(self, size: int = EVER) -> Kept | None:
        """Return the newest signed head of at most a size, or None when there is none."""

    def add(self, size: int, lines: Iterable[Signature] = (), stamp: bytes | None = None) -> Kept:
        """Keep what outsiders say of the head signed at a size; a new stamp replaces an old one.

        A stamp that is not over this head's text raises `StampError`.
        """


class SqlCheckpoints:
    """The signed heads of one shop's ledger, in its database."""

    def __init__(self, store: SqlStore, signer: Signer) -> None:
        self.signer = signer
        self._store = store
        here = (CHECKPOINT.c.shop == word("shop")) & (CHECKPOINT.c.epoch == word("epoch"))
        changed = update(CHECKPOINT).values(note=bindparam("note"), stamp=bindparam("stamp"))
        newest = select(*_COLUMNS).where(here, CHECKPOINT.c.size <= whole("size"))
        self._newest = store.words(first(newest.order_by(CHECKPOINT.c.size.desc())))
        self._insert = store.words(insert(CHECKPOINT))
        self._update = store.words(changed.where(here, CHECKPOINT.c.size == whole("size")))

    def sign(self, now_us: int) -> Kept:
        """Return this moment's head signed; one that was signed before stays as it was."""
        with self._store.beside() as ledger:  # most often nothing is new, and nobody has to wait
            size = ledger.head().size
            last = self._last(ledger, size)
        if last is not None and last.size == size:
            return last
        with self._store.beside(writing=True) as ledger:
            last = self._last(ledger, ledger.head().size)
            kept = _signed(ledger, self._store.shop, self.signer, last, now_us)
            if kept != last:
                row = (*self._place(ledger), kept.size, now_us, kept.note.whole.encode(), None)
                ledger.cursor.execute(self._insert, row)
            return kept

    def latest(self, size: int = EVER) -> Kept | None:
        """Return the newest signed head of at most a size, or None when there is none."""
        with self._store.beside() as ledger:
            return self._last(ledger, size)

    def add(self, size: int, lines: Iterable[Signature] = (), stamp: bytes | None = None) -> Kept:
        """Keep what outsiders say of the head signed at a size; a new stamp replaces an old one."""
        with self._store.beside(writing=True) as ledger:
            more = _added(self._last(ledger, size), size, lines, stamp)
            values = (more.note.whole.encode(), more.stamp, *self._place(ledger), size)
            ledger.cursor.execute(self._update, values)
            return more

    def _place(self, ledger: SqlReader) -> tuple[str, str]:
        return self._store.shop, ledger.head().epoch

    def _last(self, ledger: SqlReader, size: int) -> Kept | None:
        ledger.cursor.execute(self._newest, (*self._place(ledger), size, 1))
        for found, signed_us, note, stamp in ledger.cursor.fetchall():
            return Kept(found, signed_us, note_of(bytes(note).decode()), stamp)
        return None


class MemoryCheckpoints:
    """A book in memory, for tests and trials."""

    def __init__(self, store: Store, signer: Signer) -> None:
        self.signer = signer
        self._store = store
        self._kept: dict[int, Kept] = {}

    def sign(self, now_us: int) -> Kept:
        """Return this moment's head signed."""
        with self._store.writing() as ledger:
            kept = _signed(ledger, self._store.shop, self.signer, self.latest(), now_us)
            return self._kept.setdefault(kept.size, kept)

    def latest(self, size: int = EVER) -> Kept | None:
        """Return the newest signed head of at most a size."""
        sizes = [found for found in self._kept if found <= size]
        return self._kept[max(sizes)] if sizes else None

    def add(self, size: int, lines: Iterable[Signature] = (), stamp: bytes | None = None) -> Kept:
        """Keep what outsiders say of the head signed at a size."""
        self._kept[size] = _added(self._kept.get(size), size, lines, stamp)
        return self._kept[size]


def for_pack(kept: Kept, signer: Signer) -> Signed:
    """Hand a signed head over to whoever writes a proof pack under it."""
    return Signed(kept.note, kept.signed_us, kept.stamp, signer.key, signer.seal, signer.salt)


def _signed(reader: Reader, shop: str, signer: Signer, last: Kept | None, now_us: int) -> Kept:
    size = reader.head().size
    if last is not None and last.size == size:
        return last
    if last is not None and checkpoint_of(last.note.text).root != tree.root_of(reader, last.size):
        raise BrokenHistoryError(
            f"the first {last.size} events are not those that were signed: stop here, run "
            "self-check and compare with a backup"
        )
    return Kept(size, now_us, signer.sign(tree.head_of(reader, shop)), None)


def _added(kept: Kept | None, size: int, lines: Iterable[Signature], stamp: bytes | None) -> Kept:
    if kept is None or kept.size != size:
        raise NoSuchHeadError(f"no head was signed at {size} events")
    if stamp is not None:
        stamp_of(stamp, kept.note.text)
    note = with_signatures(kept.note, tuple(lines))
    return kept._replace(note=note, stamp=stamp or kept.stamp)
