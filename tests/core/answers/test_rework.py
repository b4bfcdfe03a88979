"""Rework and first-pass yield: each piece once, by its first final inspection, in local weeks."""

import csv
from datetime import date
from pathlib import Path

import pytest
from bench import on_day
from coatledger.answers.rework import ReworkAnswer, rework
from coatledger.computations.intervals import wilson
from coatledger.events.judging import DefectFound
from coatledger.events.leaving import Scrapped
from coatledger.events.setup import ShopDescribed
from coatledger.subjects.asked import ask
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.span import Within
from night_shop import AUCKLAND, COUNTED, LISBON, NEW_YORK, night_shop
from story import (
    Story,
    coated,
    fact,
    given,
    inspected,
    packed,
    returned,
    reworked,
    shipped,
    started,
    voided,
)
from story import rework as rework_started

WILSON = Path(__file__).parents[2] / "golden" / "computations" / "binomial_intervals.csv"


def answer(story: Story, *, as_of: str | None = None, known_at: str | None = None) -> ReworkAnswer:
    with story.bench.store.reading() as reader:
        place = ask(
            reader,
            story.bench.now,
            on_day(as_of) if as_of else None,
            on_day(known_at) if known_at else None,
        )
        return rework(reader, place)


FIVE = ("a", "b", "c", "d", "e")


def week_of_five() -> Story:
    """Five inspected: a passes, b fails and is recoated, c was reworked before, d passes and comes
    back, e is given up before any inspection."""
    return given(
        started(*FIVE),
        coated(*FIVE),
        rework_started("c", at="1 12:00"),
        reworked("c", at="1 14:00"),
        fact(Scrapped, "1 15:00", pieces=("e",)),
        inspected("a", "c", "d"),
        inspected("b", passed=False),
        fact(DefectFound, "2 09:05", pieces=("b",), kind="nib"),
        rework_started("b", at="2 10:00", because="nib"),
        reworked("b", at="2 11:00"),
        inspected("b", at="2 15:00"),
        packed("d"),
        shipped("d"),
        returned("d"),
        fact(DefectFound, "6 10:30", pieces=("d",), kind="haze", found_by="customer"),
        rework_started("d", at="6 11:00", because="haze"),
    )


def test_each_piece_counts_once_by_its_first_final_inspection() -> None:
    total = answer(week_of_five()).total
    assert (total.inspected, total.passed_first) == (4, 2)
    assert (total.produced, total.reworked, total.scrapped) == (5, 2, 1)
    assert total.first_pass_yield.value == 0.5
    assert total.rework_ratio.value == 0.4
    assert total.scrap_ratio.value == 0.2


def test_what_a_customer_found_is_kept_apart() -> None:
    told = answer(week_of_five())
    assert (told.reworks_in_shop, told.reworks_after_return) == (2, 1)
    by_kind = {row.kind: (row.found_by_shop, row.found_by_customer) for row in told.defects}
    assert by_kind == {"nib": (1, 0), "haze": (0, 1)}


def test_a_share_stands_with_its_wilson_interval() -> None:
    share = answer(week_of_five()).total.first_pass_yield
    expected = wilson(2, 4)
    assert (share.low, share.high) == (expected.low, expected.high)


def test_the_intervals_are_the_published_ones() -> None:
    """NIST/SEMATECH e-Handbook 7.2.4; rows with a count and a size that a shop may have."""
    lines = WILSON.read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) >= 10
    for row in rows:
        found = wilson(int(row["x"]), int(row["n"]), float(row["conf"]))
        assert found.low == pytest.approx(float(row["wilson_lo"]), abs=1e-8)
        assert found.high == pytest.approx(float(row["wilson_hi"]), abs=1e-8)


def test_the_week_is_the_shops_own() -> None:
    """Sunday evening in UTC is Monday morning in Auckland."""
    story = given(
        fact(ShopDescribed, "1 07:00", zone="Pacific/Auckland", hours=()),
        started("a"),
        inspected("a", at="7 20:00"),
    )
    assert [row.value for row in answer(story).rows] == ["2026-W11"]


def test_a_voided_inspection_counts_no_more_and_a_past_answer_still_holds_it() -> None:
    look = inspected("a", passed=True)
    story = given(started("a"), coated("a"), look)
    story.bench.at("10 08:00")
    story.when(voided(look, at="10 07:00")).accepted()
    assert answer(story).total.inspected == 0
    assert answer(story, known_at="9 21:00").total.inspected == 1


def test_as_of_counts_only_what_had_happened() -> None:
    assert answer(week_of_five(), as_of="1 16:00").total.produced == 1
    assert answer(week_of_five(), as_of="9 20:00").total == answer(week_of_five()).total


def test_no_piece_gives_no_share_rather_than_a_number() -> None:
    told = answer(given())
    assert told.total.first_pass_yield.value is None
    assert told.few
    assert told.rows == ()


@pytest.mark.parametrize("zone", [LISBON, NEW_YORK, AUCKLAND])
@pytest.mark.parametrize("bucket", ["day", "week", "month"])
def test_what_is_inspected_at_half_past_eleven_at_night_counts_on_that_local_day(
    zone: str, bucket: Bucket
) -> None:
    story = night_shop()
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now)
        told = rework(reader, place, within=Within(zone=zone), bucket=bucket)
    assert {row.value: row.produced for row in told.rows} == COUNTED[bucket][zone]
    assert (told.zone, told.bucket, told.total.produced) == (zone, bucket, 5)


def test_a_range_of_days_counts_only_those_and_says_which() -> None:
    story = night_shop()
    days = Within(first_day=date(2026, 3, 29), last_day=date(2026, 3, 31))
    with story.bench.store.reading() as reader:
        told = rework(reader, ask(reader, story.bench.now), within=days, bucket="month")
    assert [(row.value, row.inspected) for row in told.rows] == [("2026-03", 3)]
    assert (told.zone, told.first_day, told.last_day) == (LISBON, days.first_day, days.last_day)
