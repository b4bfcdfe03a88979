"""Free words live apart from the ledger, and can be forgotten without breaking it."""

import json
from typing import Any

from coatledger.computations import merkle
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import body_of
from coatledger.ledger.store import Note, Store
from coatledger.recording.notes import taken_apart
from msgspec.structs import replace
from story import Story, amended, coated, given, started, voided

WORDS = "Ms. Fenwick wants it by Friday; ring 0117"
TOLD = coated("a", note=WORDS)


def leaves(story: Story) -> bytes:
    with story.bench.store.reading() as reader:
        return b"\n".join(row.leaf for row in reader.rows(0, 100))


def kept(story: Story, event: Any) -> Note | None:
    with story.bench.store.reading() as reader:
        return reader.notes((event.id,)).get(event.id)


def test_the_words_are_kept_apart_and_the_ledger_holds_their_salted_hash(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    assert b"Fenwick" not in leaves(story)
    note = kept(story, TOLD)
    assert note is not None
    assert note.text == WORDS
    with story.bench.store.reading() as reader:
        stored = json.loads(body_of(reader.rows(1, 1)[0]))["note"]
    hashed, _ = taken_apart(TOLD, lambda: note.salt)
    assert stored == hashed.note
    assert stored.startswith("sha256:")


def test_the_same_words_twice_with_other_salts_do_not_look_alike() -> None:
    first, _ = taken_apart(TOLD, lambda: b"0" * 16)
    second, _ = taken_apart(TOLD, lambda: b"1" * 16)
    assert first.note != second.note


def test_a_repeated_event_with_the_same_words_is_the_same(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    assert story.when(TOLD).accepted().receipts[0].repeated


def test_other_words_are_another_fact(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    story.when(replace(TOLD, note="by Monday")).refused("id_reused")
    story.when(replace(TOLD, note=None)).refused("id_reused")
    silent = coated("a", n=1)
    story.when(silent).accepted()
    story.when(replace(silent, note=WORDS)).refused("id_reused")


def test_erased_words_cannot_be_compared_and_the_rest_decides() -> None:
    store = MemoryStore("trial")
    story = given(started("a"), TOLD, store=store)
    before = story.head()
    store._notes[TOLD.id] = Note(TOLD.id, b"", None)
    assert story.when(TOLD).accepted().receipts[0].repeated
    story.when(replace(TOLD, lot="can-2")).refused("id_reused")
    hashes = [merkle.leaf_hash(row.leaf) for row in store.rows(0, 9)]
    frontier: tuple[bytes, ...] = ()
    for size, leaf in enumerate(hashes):
        frontier = merkle.append(frontier, size, leaf)
    assert story.head() == before
    assert frontier == before.frontier


def test_a_replacement_keeps_its_originals_note_and_no_words_slip_in_with_it(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    corrected = amended(TOLD, lot="can-2")
    story.when(corrected).accepted()
    assert b"Fenwick" not in leaves(story)
    assert story.when(corrected).accepted().receipts[0].repeated
    assert story.piece().coats[0].lot == "can-2"


def test_a_replacement_may_carry_the_hash_it_read_or_no_note(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    with story.bench.store.reading() as reader:
        stored = json.loads(body_of(reader.rows(1, 1)[0]))["note"]
    story.when(amended(TOLD, note=stored, lot="can-3")).accepted()
    story.when(amended(TOLD, note=None, lot="can-4")).accepted()


def test_new_words_in_a_replacement_are_refused(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    new = story.when(amended(TOLD, note="It was the other table"))
    new.refused("correction_of_other_type", at="/events/0/replacement/note")
    story.when(replace(amended(TOLD, lot="can-2"), note="It was the other can")).accepted()
    assert b"other" not in leaves(story)


def test_a_corrections_own_note_is_kept_apart_too(store: Store) -> None:
    story = given(started("a"), TOLD, store=store)
    void = voided(TOLD, note="Fenwick's was another one")
    story.when(void).accepted()
    assert b"Fenwick" not in leaves(story)
    note = kept(story, void)
    assert note is not None
    assert note.text == "Fenwick's was another one"
