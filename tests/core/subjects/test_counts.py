"""The shop's counts: kept for the present, folded again for the past, and the two agree."""

from bench import on_day
from coatledger.ledger.record import micros
from coatledger.subjects.asked import Asked, ask
from coatledger.subjects.counts import counts, pieces, words
from coatledger.subjects.tallies import quarter
from story import Story, coated, given, shipped, started

NAMES = ("started", "shipped", "in_process")


def place(story: Story, as_of: str | None = None) -> Asked:
    with story.bench.store.reading() as reader:
        return ask(reader, story.bench.now, on_day(as_of) if as_of else None)


def story() -> Story:
    return given(started("a", "b", "c"), coated("a"), shipped("a"))


def test_the_kept_tallies_are_what_all_pieces_add_up_to() -> None:
    told = story()
    with told.bench.store.reading() as reader:
        now = counts(reader, place(told), NAMES)
        then = counts(reader, place(told, "9 20:00"), NAMES)
    assert now == then
    assert now["started", f"{quarter(micros(on_day('1 08:00')))}|ash"] == 3
    assert now["in_process", "bare"] == 2


def test_the_past_counts_what_had_happened() -> None:
    told = story()
    with told.bench.store.reading() as reader:
        assert ("shipped", f"{quarter(micros(on_day('3 15:00')))}|ash") not in counts(
            reader, place(told, "3 14:00"), NAMES
        )


def test_pieces_come_in_order_of_their_words_from_a_place_on() -> None:
    told = story()
    with told.bench.store.reading() as reader:
        assert [p.piece for p in pieces(reader, place(told))] == ["a", "b", "c"]
        assert [p.piece for p in pieces(reader, place(told), ("bare",), after="b")] == ["c"]
        assert words("piece", reader) == ("a", "b", "c")


def test_a_range_of_keys_gives_those_counts_and_no_others_now_and_then() -> None:
    told = story()
    week, later = ("2026-03-02T00:00", "2026-03-08T23:45~"), ("2026-03-09T00:00", "\uffff")
    with told.bench.store.reading() as reader:
        for as_of in (None, "9 20:00"):
            here = place(told, as_of)
            within = counts(reader, here, ("started", "shipped"), *week)
            assert sum(within.values()) == 4
            assert counts(reader, here, ("started", "shipped"), *later) == {}
