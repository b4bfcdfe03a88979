"""A stored fold that got lost costs nothing: the chain in the leaves goes on from the log."""

from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import recorded
from story import coated, given, sanded, started


def test_the_next_fact_follows_the_last_one_that_named_the_piece() -> None:
    store = MemoryStore("trial")
    story = given(started("a"), sanded("a"), store=store)
    before = story.piece("a")
    del store._folds["piece:a"]
    story.when(coated("a")).accepted()
    with store.reading() as reader:
        last = recorded(reader.rows(2, 1)[0])
    assert last.previous["piece:a"] == 2
    assert story.piece("a").sandings == before.sandings
    assert len(story.piece("a").coats) == 1


def test_a_word_of_a_lost_piece_is_still_taken() -> None:
    store = MemoryStore("trial")
    story = given(started("a"), store=store)
    del store._folds["piece:a"]
    story.when(started("a", at="1 09:00")).refused("born_twice", at="/events/0/pieces/0")
