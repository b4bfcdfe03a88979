"""Erasing for good: no file still holds the words, and every proof stays as it was."""

import stat
from pathlib import Path
from uuid import UUID

import pytest
from bench import Bench
from coatledger.answers.proof import pack_of_piece
from coatledger.events.coating import Turned
from coatledger.ledger.pack import pack_bytes
from coatledger.ledger.pack_check import check_pack
from coatledger_adapters.checkpoints import SqlCheckpoints, for_pack
from coatledger_adapters.erased import FILE, Erased, erased_in, note_erasure
from coatledger_adapters.erasure import (
    KEYS_FILE,
    NotErasedError,
    PersonNames,
    erase_note,
    pieces_of,
)
from coatledger_adapters.migrate import migrate
from coatledger_adapters.self_check import self_check
from coatledger_adapters.signing import Signer, verify
from coatledger_adapters.sql_store import SqlStore, open_store

SIGNER = Signer("dune-end", bytes(range(32)))
NAME = "Marwenna Q. Invented"
SHORT = "Ask Ossian about the crack."
LONG = " ".join(f"The {n}th word of a long tale of who came in at what time." for n in range(33))


def told(store: SqlStore) -> tuple[Bench, dict[str, UUID]]:
    """Record notes, many of others around those that will be erased."""
    bench = Bench(store=store)
    bench.pieces("A", "B")
    events = {}
    for number in range(60):
        note = {20: SHORT, 40: LONG[:1900]}.get(number, f"Nothing special, turn {number}. " * 20)
        events[note] = bench.record(Turned, pieces=("A",), note=note).id
    return bench, events


def everywhere(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def any_piece(words: str, data: bytes) -> bool:
    """Look for every run of twelve bytes, wherever the words were torn."""
    text = words.encode()
    return any(text[at : at + 12] in data for at in range(len(text) - 11))


@pytest.fixture
def store(tmp_path: Path) -> SqlStore:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    return open_store(address, "dune-end", epoch="first")


def test_erased_words_are_in_no_file_any_more(store: SqlStore, tmp_path: Path) -> None:
    _, events = told(store)
    for words in (SHORT, LONG[:1900]):
        assert any_piece(words, everywhere(tmp_path))
        assert erase_note(store, tmp_path, events[words])
        assert not any_piece(words, everywhere(tmp_path))
    store.close()
    assert not any_piece(SHORT, everywhere(tmp_path))


def test_erasing_leaves_other_words_and_every_proof_as_they_were(
    store: SqlStore, tmp_path: Path
) -> None:
    bench, events = told(store)
    book = SqlCheckpoints(store, SIGNER)
    signed = for_pack(book.sign(1), SIGNER)
    with store.reading() as reader:
        before = pack_of_piece(reader, "dune-end", "A", signed)
    erase_note(store, tmp_path, events[SHORT])
    with store.reading() as reader:
        after = pack_of_piece(reader, "dune-end", "A", signed)
        notes = reader.notes(events.values())
    assert before is not None
    assert after is not None
    assert pack_bytes(before) == pack_bytes(after)
    assert check_pack(pack_bytes(after), after, SIGNER.key, verify).holds
    assert sum(note.text is not None for note in notes.values()) == 59
    assert self_check(store, SIGNER.key).wrong == ()
    # The same call again is still the same event, whatever words it brings now.
    receipts = bench.post(bench.fact(Turned, pieces=("A",), id=events[SHORT], note="other",
                                     at="1 07:00"))  # fmt: skip
    assert receipts[0].repeated
    store.close()


def test_words_are_erased_on_either_engine(sql_store: SqlStore, tmp_path: Path) -> None:
    _, events = told(sql_store)
    assert erase_note(sql_store, tmp_path, events[SHORT])
    assert not erase_note(sql_store, tmp_path, events[SHORT])
    assert not erase_note(sql_store, tmp_path, UUID(int=1))
    with sql_store.reading() as reader:
        note = reader.notes((events[SHORT],))[events[SHORT]]
    assert (note.text, note.salt) == (None, b"")


def test_an_open_reader_that_would_keep_the_words_is_named(store: SqlStore, tmp_path: Path) -> None:
    _, events = told(store)
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute("PRAGMA busy_timeout = 50")
    with store.reading() as reader:
        reader.head()
        with pytest.raises(NotErasedError, match="restart the service"):
            erase_note(store, tmp_path, events[SHORT])
    store.close()


def test_a_name_is_kept_in_ciphertext_and_goes_with_its_key(
    sql_store: SqlStore, tmp_path: Path
) -> None:
    names = PersonNames(sql_store, tmp_path)
    names.set("w-1", "Somebody Else")
    names.set("w-1", NAME)
    names.set("w-2", "Another Invented")
    assert names.all() == {"w-1": NAME, "w-2": "Another Invented"}
    assert NAME.encode() not in everywhere(tmp_path)
    assert names.erase("w-1")
    assert not names.erase("w-1")
    assert names.all() == {"w-2": "Another Invented"}


def test_an_old_copy_of_the_database_does_not_bring_a_name_back(
    store: SqlStore, tmp_path: Path
) -> None:
    names = PersonNames(store, tmp_path)
    names.set("w-1", NAME)
    with store.beside() as ledger:
        ledger.cursor.execute("SELECT name FROM person_name")
        ((sealed,),) = ledger.cursor.fetchall()
    names.erase("w-1")
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute("INSERT INTO person_name VALUES ('dune-end', 'w-1', ?)", (sealed,))
    assert names.all() == {}
    names.set("w-3", NAME)
    assert names.all() == {"w-3": NAME}
    store.close()


def test_a_name_moved_to_another_person_does_not_open(store: SqlStore, tmp_path: Path) -> None:
    names = PersonNames(store, tmp_path)
    names.set("w-1", NAME)
    names.set("w-2", "Another")
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute(
            "UPDATE person_name SET name = (SELECT name FROM person_name WHERE person = 'w-1') "
            "WHERE person = 'w-2'"
        )
    assert names.all()["w-2"] == "(w-2: the key does not fit)"
    store.close()


def test_the_keys_are_for_the_owner_only(store: SqlStore, tmp_path: Path) -> None:
    PersonNames(store, tmp_path).set("w-1", NAME)
    assert stat.S_IMODE((tmp_path / KEYS_FILE).stat().st_mode) == 0o600

    store.close()


def test_the_list_of_erasures_holds_opaque_references_only(tmp_path: Path) -> None:
    assert erased_in(tmp_path) == ()
    for erased in (Erased("note", "01"), Erased("person", "w-1"), Erased("note", "01")):
        note_erasure(tmp_path, erased)
    assert erased_in(tmp_path) == (Erased("note", "01"), Erased("person", "w-1"))
    assert (tmp_path / FILE).read_text(encoding="ascii").count("\n") == 3


def test_words_are_searched_for_in_pieces() -> None:
    assert pieces_of(b"short") == (b"short",)
    pieces = pieces_of(bytes(range(200)))
    assert pieces[0] == bytes(range(16))
    assert pieces[-1] == bytes(range(184, 200))
    assert all(len(piece) == 16 for piece in pieces)
