"""Days, ISO weeks and months of a time zone: where they begin, how many there are, their names.

Counts are kept by quarter-hours of UTC. Since 1 October 1979 every zone's midnights fall between
two of those (IANA time zone data; Pacific/Kiritimati came last), so none is of two days.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from coatledger.ledger.record import micros
from coatledger.subjects.tallies import quarter

Bucket = Literal["day", "week", "month"]
# Three years of days, twenty-one of weeks: more than any picture shows.
BUCKETS_MAX = 1_100
DAY = timedelta(days=1)


def begin_of(day: date, bucket: Bucket) -> date:
    """Return the first day of the bucket a day lies in.

    *Reference:* ISO 8601: a week begins on Monday.
    """
    if bucket == "week":
        return day - day.weekday() * DAY
    return day.replace(day=1) if bucket == "month" else day


def stepped(begin: date, bucket: Bucket, steps: int) -> date:
    """Return the first day of the bucket so many steps after one, or before it."""
    if bucket == "month":
        year, month = divmod(begin.year * 12 + begin.month - 1 + steps, 12)
        return date(year, month + 1, 1)
    return begin + (7 if bucket == "week" else 1) * steps * DAY


def name_of(day: date, bucket: Bucket) -> str:
    """Name the bucket of a day: `2026-11-24`, `2026-W48`, `2026-11`.

    *Reference:* ISO 8601: a week belongs to the year of its Thursday.
    """
    if bucket == "week":
        year, number, _ = day.isocalendar()
        return f"{year}-W{number:02}"
    return day.isoformat()[: 7 if bucket == "month" else 10]


def how_many(first: date, last: date, bucket: Bucket) -> int:
    """Count the buckets from that of one day to that of another, both included."""
    begin, end = begin_of(first, bucket), begin_of(last, bucket)
    if bucket == "month":
        return (end.year - begin.year) * 12 + end.month - begin.month + 1
    return (end - begin).days // (7 if bucket == "week" else 1) + 1


def between_days(first: date, last: date, bucket: Bucket) -> Iterator[date]:
    """Yield the first day of each bucket from that of one day to that of another."""
    begin = begin_of(first, bucket)
    while begin <= last:
        yield begin
        begin = stepped(begin, bucket, 1)


def begins_us(day: date, zone: ZoneInfo) -> int:
    """Return when a day begins in a zone: a midnight that the clock skips is when it skips, one
    that it shows twice is the first (RFC 5545, section 3.3.5)."""
    return micros(datetime(day.year, day.month, day.day, tzinfo=zone))


def local_day(key: str, zone: ZoneInfo) -> date:
    """Return the day of a zone in which a tally's quarter-hour begins."""
    return datetime.fromisoformat(key[:16] + "+00:00").astimezone(zone).date()


def begins_of(keys: Iterable[str], bucket: Bucket, zone: ZoneInfo) -> Mapping[str, date]:
    """Return, for each quarter-hour among the keys of tallies, the first day of its bucket."""
    begins: dict[str, date] = {}
    beyond, begin = "", date.min
    for at in sorted({key[:16] for key in keys}):
        if at >= beyond:  # a zone is asked once a bucket, not once a key
            begin = begin_of(local_day(at, zone), bucket)
            beyond = quarter(begins_us(stepped(begin, bucket, 1), zone))
        begins[at] = begin
    return begins
