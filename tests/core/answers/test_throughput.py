"""What left: first shipments by week, work in process, lead time, and the standard's own rate."""

from datetime import date
from typing import Any

import pytest
from bench import on_day
from coatledger.answers.throughput import ThroughputAnswer, throughput
from coatledger.events.leaving import HandedOver, Scrapped
from coatledger.subjects.asked import ask
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.span import Within
from night_shop import AUCKLAND, COUNTED, LISBON, NEW_YORK, night_shop
from story import Story, coated, fact, given, packed, returned, shipped, started


def answer(
    story: Story, *, as_of: str | None = None, bucket: Bucket = "week", **days: Any
) -> ThroughputAnswer:
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now, on_day(as_of) if as_of else None)
        return throughput(reader, place, within=Within(**days), bucket=bucket)


def two_weeks() -> Story:
    return given(
        started("a", "b", "c", "d", at="1 08:00"),
        coated("a", "b"),
        packed("a"),
        shipped("a", at="3 08:00"),
        fact(HandedOver, "8 08:00", pieces=("b",)),
        returned("a", at="5 08:00"),
        shipped("a", at="9 08:00"),
        fact(Scrapped, "4 08:00", pieces=("c",)),
    )


def test_a_piece_ships_once_however_often_it_leaves() -> None:
    told = answer(two_weeks())
    assert told.shipped == 2
    assert [(row.value, row.shipped, row.scrapped) for row in told.rows] == [
        ("2026-W10", 1, 1),
        ("2026-W11", 1, 0),
    ]


def test_pieces_shipped_a_week_and_the_standards_rate_are_two_numbers() -> None:
    told = answer(two_weeks())
    assert told.shipped_per_week == 1.0
    # 2 pieces over 48 h + 168 h of order execution (ISO 22400-2: PQ / AOET).
    assert told.throughput_rate_per_h == pytest.approx(2 / 216, abs=1e-6)


def test_lead_time_runs_from_start_to_first_shipment() -> None:
    lead = answer(two_weeks()).lead_time
    assert (lead.pieces, lead.mean_days, lead.p50_days) == (2, 4.5, 4.5)
    assert (lead.p10_days, lead.p90_days) == (2.5, 6.5)


def test_what_is_here_is_told_by_stage() -> None:
    told = answer(two_weeks(), as_of="6 08:00")
    assert told.in_process == {"bare": 1, "coated": 2}
    assert told.in_process_total == 3
    assert answer(two_weeks()).in_process == {"bare": 1}


def test_the_present_from_tallies_is_the_past_folded_anew() -> None:
    story = two_weeks()
    now, then = answer(story), answer(story, as_of="9 20:00")
    assert (now.rows, now.lead_time, now.in_process) == (
        then.rows,
        then.lead_time,
        then.in_process,
    )


def test_a_span_of_weeks_counts_only_those() -> None:
    told = answer(two_weeks(), first_week="2026-W11")
    assert (told.shipped, told.lead_time.pieces) == (1, 1)


def test_nothing_shipped_gives_no_rate() -> None:
    told = answer(given())
    assert told.shipped_per_week is None
    assert told.throughput_rate_per_h is None
    assert told.lead_time.p50_days is None


@pytest.mark.parametrize("zone", [LISBON, NEW_YORK, AUCKLAND])
@pytest.mark.parametrize("bucket", ["day", "week", "month"])
@pytest.mark.parametrize("as_of", [None, "33 11:00"])
def test_what_leaves_at_half_past_eleven_at_night_left_that_local_day(
    zone: str, bucket: Bucket, as_of: str | None
) -> None:
    told = answer(night_shop(), as_of=as_of, bucket=bucket, zone=zone)
    shipped_then = {row.value: row.shipped for row in told.rows if row.shipped}
    assert shipped_then == COUNTED[bucket][zone]
    assert (told.zone, told.bucket, told.shipped) == (zone, bucket, 5)
    # Weeks 12 (the start) to 14, however they are gathered.
    assert told.shipped_per_week == pytest.approx(5 / 3)


def test_without_a_zone_it_is_the_shops_own() -> None:
    assert answer(night_shop(), bucket="day").zone == LISBON
    shipped_then = {row.value: row.shipped for row in answer(night_shop(), bucket="day").rows}
    assert shipped_then["2026-03-30"] == 1
    # Days with nothing stand in between with noughts; the first is that of the start.
    assert list(shipped_then.items())[:2] == [("2026-03-20", 0), ("2026-03-21", 0)]


def test_a_range_of_days_counts_those_and_knows_what_was_here_before() -> None:
    told = answer(
        night_shop(), bucket="day", first_day=date(2026, 3, 29), last_day=date(2026, 3, 31)
    )
    assert [(row.value, row.shipped, row.in_process_end) for row in told.rows] == [
        ("2026-03-29", 1, 3), ("2026-03-30", 1, 2), ("2026-03-31", 1, 1),
    ]  # fmt: skip
    assert (told.first_day, told.last_day) == (date(2026, 3, 29), date(2026, 3, 31))
    assert (told.shipped, told.lead_time.pieces) == (3, 3)
    # Three pieces in three days are seven in a week.
    assert told.shipped_per_week == pytest.approx(7.0)


def test_the_first_and_the_last_week_of_a_range_of_days_are_parts() -> None:
    """Sunday the 29th to Wednesday the 1st: one day of the first week, three of the second."""
    told = answer(night_shop(), first_day=date(2026, 3, 29), last_day=date(2026, 4, 1))
    assert [(row.value, row.shipped) for row in told.rows] == [("2026-W13", 1), ("2026-W14", 3)]
    assert told.shipped_per_week == pytest.approx(4 / (4 / 7))
