"""The book of signed heads, in memory and on both databases."""

import sqlite3
from pathlib import Path

import pytest
from bench import Bench
from coatledger.computations.signed_note import (
    NoteError,
    Signature,
    checkpoint_of,
    note_of,
    signed_by,
)
from coatledger.ledger import tree
from coatledger.ledger.store import Store
from coatledger_adapters.checkpoints import (
    BrokenHistoryError,
    CheckpointBook,
    MemoryCheckpoints,
    NoSuchHeadError,
    SqlCheckpoints,
)
from coatledger_adapters.migrate import migrate
from coatledger_adapters.signing import Signer, verify
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.stamps import StampError
from time_stamper import Stamper

SIGNER = Signer("dune-end", bytes(range(32)))
LINE = Signature("witness.example", b"abcd", bytes(72))


def recorded(store: Store, pieces: int) -> None:
    bench = Bench(store=store)
    bench.count = pieces * 1000
    bench.pieces(*(f"P-{pieces}-{number}" for number in range(pieces)))


def book_of(store: Store) -> CheckpointBook:
    return (
        SqlCheckpoints(store, SIGNER)
        if isinstance(store, SqlStore)
        else MemoryCheckpoints(store, SIGNER)
    )


def test_a_head_is_signed_once_at_each_size(store: Store) -> None:
    book = book_of(store)
    empty = book.sign(1)
    recorded(store, 2)
    first, again = book.sign(2), book.sign(3)
    assert (empty.size, first.size, again) == (0, 1, first)
    with store.reading() as reader:
        head = tree.head_of(reader, "dune-end")
    assert checkpoint_of(first.note.text) == head
    assert head.origin == "dune-end/first"
    assert signed_by(first.note, SIGNER.key, verify) == 0


def test_the_newest_head_up_to_a_size_is_found(store: Store) -> None:
    book = book_of(store)
    assert book.latest() is None
    kept = []
    for pieces in (1, 2, 3):
        recorded(store, pieces)
        kept.append(book.sign(pieces))
    assert book.latest() == kept[2]
    assert book.latest(2) == kept[1]
    assert book.latest(0) is None


def test_what_outsiders_add_is_kept_with_the_head(store: Store) -> None:
    book = book_of(store)
    recorded(store, 1)
    signed = book.sign(1)
    book.add(1, [LINE])
    token = Stamper().token(signed.note.text)
    book.add(1, stamp=token)
    kept = book.add(1, [LINE])
    assert kept == book.latest()
    assert kept.stamp == token
    assert kept.note.signatures == (*signed.note.signatures, LINE)
    assert note_of(kept.note.whole) == kept.note
    with pytest.raises(NoSuchHeadError):
        book.add(2, [LINE])
    with pytest.raises(StampError):
        book.add(1, stamp=Stamper().token("another text"))
    with pytest.raises(NoteError):
        book.add(1, [LINE._replace(value=bytes([i])) for i in range(64)])


def test_a_history_that_no_longer_begins_as_it_was_signed_is_not_signed(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "dune-end")
    book = SqlCheckpoints(store, SIGNER)
    recorded(store, 1)
    book.sign(1)
    recorded(store, 2)
    with sqlite3.connect(tmp_path / "ledger.db") as broken:
        broken.execute("DROP TRIGGER events_refuse_update")
        broken.execute("UPDATE events SET leaf = CAST('{}' AS BLOB) WHERE position = 1")
    broken.close()
    with pytest.raises(BrokenHistoryError, match="the first 1 events"):
        book.sign(2)
    store.close()
