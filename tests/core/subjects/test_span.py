"""Some weeks, and the pieces that count or stayed in them, now and as it was known then."""

from zoneinfo import ZoneInfo

from bench import on_day
from coatledger.ledger.record import moment
from coatledger.subjects.asked import ask
from coatledger.subjects.span import pieces_counted, pieces_that_stayed, span_of, week
from story import Story, coated, given, inspected, returned, shipped, started


def four() -> Story:
    """a left in the first week, b in the third and came back, c was inspected, d only begun."""
    story: Story = given(
        started("a", "b", "c", "d"), coated("a", "b", "c"), inspected("a"), shipped("a")
    )
    story.bench.at("18 12:00")
    return story.when(
        inspected("b", "c", at="9 09:00"), shipped("b", at="16 09:00"), returned("b", at="17 09:00")
    ).accepted()


def words(story: Story, first: str, as_of: str | None = None) -> tuple[list[str], list[str]]:
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now, on_day(as_of) if as_of else None)
        span = span_of(reader, place, first, first)
        counted = [piece.piece for piece in pieces_counted(reader, place, span)]
        stayed = [p.piece for p in pieces_that_stayed(reader, place, span)]
    return sorted(counted), sorted(stayed)


def test_pieces_count_in_the_week_of_their_first_final_inspection() -> None:
    assert words(four(), "2026-W10")[0] == ["a"]
    assert words(four(), "2026-W11")[0] == ["b", "c"]


def test_pieces_stayed_from_a_week_on_that_left_since_or_never() -> None:
    assert words(four(), "2026-W10")[1] == ["a", "b", "c", "d"]
    assert words(four(), "2026-W11")[1] == ["b", "c", "d"]


def test_the_past_holds_at_least_the_same_pieces() -> None:
    assert words(four(), "2026-W11", as_of="18 10:00")[0] == ["b", "c"]
    assert {"b", "c", "d"} <= set(words(four(), "2026-W11", as_of="18 10:00")[1])
    assert words(four(), "2026-W11", as_of="8 10:00")[0] == []


def test_a_span_without_weeks_is_the_year_up_to_now() -> None:
    story = four()
    with story.bench.store.reading() as reader:
        span = span_of(reader, ask(reader, story.bench.now))
    assert span.last_week == week(story.bench.now, ZoneInfo("UTC"))
    assert (span.first_week, span.first) == ("2025-W12", "2025-03-17T00:00")
    assert week(moment(0), ZoneInfo("UTC")) == "1970-W01"
