"""Days, weeks and months of a zone, counted by hand and against the standard library."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

import pytest
from coatledger.subjects.buckets import (
    Bucket,
    begin_of,
    begins_of,
    begins_us,
    between_days,
    how_many,
    local_day,
    name_of,
    stepped,
)
from hypothesis import given as drawn
from hypothesis import strategies as st

DAYS = st.dates(date(1900, 1, 1), date(2199, 12, 31))
BUCKETS = st.sampled_from(("day", "week", "month"))
QUARTER = timedelta(minutes=15)
ZONES = (
    "Europe/Lisbon", "America/Havana", "America/Santiago", "Pacific/Chatham", "Asia/Kathmandu",
    "Pacific/Apia", "UTC",
)  # fmt: skip


def at(us: int) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=us)


@pytest.mark.parametrize(
    ("day", "bucket", "begin", "name"),
    [
        (date(2026, 3, 1), "day", date(2026, 3, 1), "2026-03-01"),
        (date(2026, 3, 1), "week", date(2026, 2, 23), "2026-W09"),
        (date(2026, 3, 1), "month", date(2026, 3, 1), "2026-03"),
        (date(2027, 1, 3), "week", date(2026, 12, 28), "2026-W53"),
        (date(2024, 12, 30), "week", date(2024, 12, 30), "2025-W01"),
    ],
)
def test_a_day_lies_in_its_bucket(day: date, bucket: Bucket, begin: date, name: str) -> None:
    assert (begin_of(day, bucket), name_of(day, bucket)) == (begin, name)


def test_months_step_over_years() -> None:
    assert stepped(date(2026, 11, 1), "month", 3) == date(2027, 2, 1)
    assert stepped(date(2026, 2, 1), "month", -2) == date(2025, 12, 1)
    assert how_many(date(2025, 12, 31), date(2027, 1, 1), "month") == 14


@drawn(DAYS, st.integers(0, 900), BUCKETS)
def test_buckets_follow_one_another_and_are_as_many_as_counted(
    first: date, days: int, bucket: Bucket
) -> None:
    last = min(first + timedelta(days=days), date(2199, 12, 31))
    begins = list(between_days(first, last, bucket))
    assert len(begins) == how_many(first, last, bucket)
    assert begins[0] <= first
    assert begins[-1] <= last < stepped(begins[-1], bucket, 1)
    assert len({name_of(begin, bucket) for begin in begins}) == len(begins)
    assert all(stepped(begin, bucket, 1 - len(begins)) == begins[0] for begin in begins[-1:])


def test_a_midnight_that_the_clock_skips_is_when_it_skips() -> None:
    """Santiago: at 24:00 of 5 September 2026 the clock goes on to 01:00; Havana: at 01:00 of 1
    November 2026 it goes back to 00:00, so midnight comes twice (IANA time zone data)."""
    skipped = at(begins_us(date(2026, 9, 6), ZoneInfo("America/Santiago")))
    assert skipped == datetime(2026, 9, 6, 4, tzinfo=UTC)
    twice = at(begins_us(date(2026, 11, 1), ZoneInfo("America/Havana")))
    assert twice == datetime(2026, 11, 1, 4, tzinfo=UTC)


def test_a_day_that_a_zone_skipped_is_empty() -> None:
    """Apia went over the date line: there was no 30 December 2011."""
    apia = ZoneInfo("Pacific/Apia")
    assert begins_us(date(2011, 12, 30), apia) == begins_us(date(2011, 12, 31), apia)
    begins = begins_of(("2011-12-30T09:45", "2011-12-30T10:00"), "day", apia)
    assert list(begins.values()) == [date(2011, 12, 29), date(2011, 12, 31)]


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("bucket", ["day", "week", "month"])
def test_a_quarter_hour_lies_in_the_bucket_of_the_zones_own_clock(
    zone: str, bucket: Bucket
) -> None:
    there = ZoneInfo(zone)
    begun = datetime(2026, 1, 1, tzinfo=UTC)
    keys = [(begun + n * QUARTER).isoformat()[:16] + "|ash" for n in range(0, 35_040, 3)]
    begins = begins_of(reversed(keys), bucket, there)
    assert [begins[key[:16]] for key in keys] == [
        begin_of(local_day(key, there), bucket) for key in keys
    ]


def test_the_midnights_of_every_zone_lie_between_two_quarter_hours() -> None:
    """Held from the day on that the module names, twice a month for fifty years."""
    odd = set()
    zones = {ZoneInfo(name) for name in available_timezones() if not name.startswith("posix")}
    for days in range(0, 18_300, 15):
        when = datetime(1979, 10, 2, tzinfo=UTC) + timedelta(days=days)
        for zone in zones:
            offset = when.astimezone(zone).utcoffset()
            if offset is None or offset % QUARTER:
                odd.add((zone.key, when))
    assert odd == set()
    before = datetime(1979, 9, 30, tzinfo=UTC).astimezone(ZoneInfo("Pacific/Kiritimati"))
    assert (before.utcoffset() or QUARTER) % QUARTER
