"""The book of signed heads: each says what the whole ledger was at one size.

A head is signed only when the ledger still begins as the last signed one did. What outsiders add,
a cosigner's line or a time stamp, is kept with it.
"""

from collections.abc import Iterable
from typing import NamedTuple

from coatledger.computations.signed_note import (
    Note,
    Signature,
    checkpoint_of,
    note_of,
    with_signatures,
)
from coatledger.ledger import tree
from sqlalchemy import bindparam, insert, select, update

from coatledger_adapters.queries import first, whole, word
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_reader import EVER, SqlReader
from coatledger_adapters.sql_store import SqlStore
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


class CheckpointBook:
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
        with self._store.beside(writing=True) as ledger:
            head = ledger.head()
            last = self._last(ledger, head.size)
            if last is not None and last.size == head.size:
                return last
            if last is not None and checkpoint_of(last.note.text).root != tree.root_of(
                ledger, last.size
            ):
                raise BrokenHistoryError(
                    f"the first {last.size} events are not those that were signed: stop here, run "
                    "self-check and compare with a backup"
                )
            note = self.signer.sign(tree.head_of(ledger, self._store.shop))
            row = (*self._place(ledger), head.size, now_us, note.whole.encode(), None)
            ledger.cursor.execute(self._insert, row)
            return Kept(head.size, now_us, note, None)

    def latest(self, size: int = EVER) -> Kept | None:
        """Return the newest signed head of at most a size, or None when there is none."""
        with self._store.beside() as ledger:
            return self._last(ledger, size)

    def add(self, size: int, lines: Iterable[Signature] = (), stamp: bytes | None = None) -> Kept:
        """Keep what outsiders say of the head signed at a size; a new stamp replaces an old one."""
        with self._store.beside(writing=True) as ledger:
            kept = self._last(ledger, size)
            if kept is None or kept.size != size:
                raise NoSuchHeadError(f"no head was signed at {size} events")
            more = kept._replace(
                note=with_signatures(kept.note, tuple(lines)), stamp=stamp or kept.stamp
            )
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
