"""Some weeks, and the pieces that count or stayed in them, now and as it was known then."""

from datetime import UTC, date, datetime

from bench import on_day
from coatledger.ledger.record import micros
from coatledger.subjects.asked import ask
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.span import (
    Span,
    Within,
    monday_of,
    pieces_counted,
    pieces_that_stayed,
    span_of,
    too_many,
)
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
        span = span_of(reader, place, Within(first_week=first, last_week=first))
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
    assert (span.last_week, span.last_day.isoformat()) == ("2026-W12", "2026-03-22")
    assert (span.first_week, span.first) == ("2025-W12", "2025-03-17T00:00")


def span(within: Within, back: int = 53, bucket: Bucket = "week") -> Span:
    story = given()
    story.bench.at("9 12:00")
    with story.bench.store.reading() as reader:
        return span_of(reader, ask(reader, story.bench.now), within, back, bucket)


def test_weeks_are_cut_where_the_zones_own_monday_begins() -> None:
    one = span(Within(first_week="2026-W11", last_week="2026-W11", zone="Pacific/Auckland"))
    assert (one.first, one.last) == ("2026-03-08T11:00", "2026-03-15T10:45~")
    assert "2026-03-15T10:45|ash" < one.last < "2026-03-15T11:00"
    assert (one.first_us, one.end_us) == (
        micros(datetime(2026, 3, 8, 11, tzinfo=UTC)), micros(datetime(2026, 3, 15, 11, tzinfo=UTC)),
    )  # fmt: skip


def test_days_are_cut_at_the_zones_own_midnights_on_either_side_of_a_clock_change() -> None:
    """Lisbon: the clock goes on at 01:00 UTC of 29 March 2026, so that day has 23 hours."""
    day = date(2026, 3, 29)
    one = span(Within(first_day=day, last_day=day, zone="Europe/Lisbon"))
    assert (one.first, one.last) == ("2026-03-29T00:00", "2026-03-29T22:45~")
    assert (one.end_us - one.first_us) / 3_600_000_000 == 23
    back = date(2026, 10, 25)
    two = span(Within(first_day=back, last_day=back, zone="Europe/Lisbon"))
    assert (two.first, two.last) == ("2026-10-24T23:00", "2026-10-25T23:45~")


def test_an_end_that_is_not_said_is_that_of_now_and_so_many_buckets_back() -> None:
    assert span(Within(), 3, "day")[1:3] == (date(2026, 3, 8), date(2026, 3, 10))
    assert span(Within(), 3, "week")[1:3] == (date(2026, 2, 23), date(2026, 3, 15))
    assert span(Within(), 3, "month")[1:3] == (date(2026, 1, 1), date(2026, 3, 31))
    assert span(Within(last_day=date(2026, 2, 11)), 2)[1:3] == (date(2026, 2, 2), date(2026, 2, 11))


def test_a_53rd_week_that_its_year_has_not_is_the_first_of_the_next() -> None:
    assert monday_of("2025-W53") == date(2025, 12, 29)
    assert monday_of("2026-W53") == date(2026, 12, 28)


def test_how_many_are_too_many_is_told() -> None:
    story = given()
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now)

        def found(bucket: Bucket, first: date, last: date | None) -> int | None:
            return too_many(reader, place, Within(first_day=first, last_day=last), bucket)

        assert found("day", date(2023, 1, 1), date(2026, 1, 4)) is None
        assert found("day", date(2023, 1, 1), date(2026, 1, 5)) == 1_101
        assert found("week", date(2023, 1, 1), date(2026, 1, 5)) is None
        # Six years, two of them leap years, and 69 days up to 10 March 2026.
        assert found("day", date(2020, 1, 1), None) == 2_192 + 69
        assert too_many(reader, place, Within(), "day") is None
