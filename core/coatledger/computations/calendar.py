"""The shop's working calendar: when it is open, and what working time makes of a moment.

Hours follow the wall clock of the shop's zone; minutes between two moments are elapsed time, so a
clock change makes a working day longer or shorter but never a film dry sooner. Moments go in with
any offset and come out in UTC, because two moments that share a zone compare by wall clock.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from coatledger.computations.ranges import require

# How far ahead an open moment is looked for; a shop closed for longer has no calendar.
HORIZON_DAYS = 3_660

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)
_DAY = timedelta(days=1)
_MINUTE_US = 60_000_000
_MINUTES_MAX = HORIZON_DAYS * 24.0 * 60.0
_SOURCE = "a working calendar of ten years"

Span = tuple[int, int]
Intervals = npt.NDArray[np.int64]


class NeverOpen(ValueError):  # noqa: N818
    """The calendar holds no open moment, or too few, within its horizon."""


class Opening(Struct, frozen=True):
    """One stretch of an ISO weekday (Monday is 1) by the wall clock; it may close at 00:00."""

    weekday: int
    opens: time
    closes: time

    def __post_init__(self) -> None:
        """Refuse a stretch that no week has."""
        if not 1 <= self.weekday <= 7:
            raise ValueError(f"weekday {self.weekday} is not one of 1 (Monday) to 7 (Sunday)")
        if self.opens.tzinfo or self.closes.tzinfo:
            raise ValueError("opening hours are wall-clock times and carry no offset")
        if self.closes != time(0) and self.closes <= self.opens:
            raise ValueError(f"hours from {self.opens} to {self.closes} end before they begin")


class Hours(Struct, frozen=True):
    """The shop's week in its IANA zone; a night shift is two openings."""

    zone: str
    openings: tuple[Opening, ...]

    def __post_init__(self) -> None:
        """Refuse an unknown zone and two openings at once."""
        _zone(self.zone)
        ordered = sorted(self.openings, key=lambda opening: (opening.weekday, opening.opens))
        for first, second in pairwise(ordered):
            if first.weekday == second.weekday and (
                first.closes == time(0) or second.opens < first.closes
            ):
                raise ValueError(f"weekday {first.weekday} has hours that overlap")


class Closure(Struct, frozen=True):
    """A stretch of time for which the shop is closed, whatever its hours say."""

    starts_at: datetime
    ends_at: datetime

    def __post_init__(self) -> None:
        """Refuse a closure that ends before it begins, or floats without an offset."""
        if microseconds(self.ends_at) < microseconds(self.starts_at):
            raise ValueError("a closure ends before it begins")


def microseconds(moment: datetime) -> int:
    """Return the whole microseconds from 1970 in UTC, the only form to calculate with.

    *Reference:* PEP 495 for what an offset means. *Valid:* aware moments.
    """
    if moment.utcoffset() is None:
        raise ValueError("a moment without an offset is not a moment")
    return (moment - _EPOCH) // _MICROSECOND


def from_microseconds(since_epoch_us: int) -> datetime:
    """Return the moment in UTC, the inverse of `microseconds`."""
    return _EPOCH + since_epoch_us * _MICROSECOND


def elapsed_minutes(start: datetime, end: datetime) -> float:
    """Return the minutes that passed, which is what a film dries by.

    *Reference:* PEP 495. *Valid:* aware moments, in any zones, across any clock change.
    """
    return (microseconds(end) - microseconds(start)) / _MINUTE_US


def wall_moment(day: date, at: time, zone: str) -> datetime:
    """Return the moment at which the wall clock in `zone` shows this day and time.

    *Reference:* RFC 5545 section 3.3.5: a time that the clock skips is read with the offset before
    the gap, a time it shows twice is the first. *Valid:* zones of the installed IANA data.
    """
    return datetime.combine(day, at, tzinfo=_zone(zone)).replace(fold=0).astimezone(UTC)


def local_date(moment: datetime, zone: str) -> date:
    """Return the shop's date at a moment."""
    microseconds(moment)
    return moment.astimezone(_zone(zone)).date()


def iso_week(moment: datetime, zone: str) -> tuple[int, int]:
    """Return the year and week in which the shop counts a moment.

    *Reference:* ISO 8601 week dates. *Valid:* all dates; near
    1 January the year may not be the date's own.
    """
    year, week, _ = local_date(moment, zone).isocalendar()
    return year, week


def closed_days(days: Iterable[date], zone: str) -> tuple[Closure, ...]:
    """Return closures for whole days, such as holidays, from midnight to midnight in the zone."""
    return tuple(
        Closure(wall_moment(day, time(0), zone), wall_moment(day + _DAY, time(0), zone))
        for day in sorted(set(days))
    )


def next_open(start: datetime, hours: Hours, closures: Sequence[Closure] = ()) -> datetime:
    """Return the first open moment from `start` on: `start` itself when the shop is open."""
    begin = microseconds(start)
    for opens, _ in _open_spans(begin, hours, closures):
        return from_microseconds(opens)
    raise NeverOpen(f"the shop is not open within {HORIZON_DAYS} days of {start.isoformat()}")


def add_working_minutes(
    start: datetime, minutes: float, hours: Hours, closures: Sequence[Closure] = ()
) -> datetime:
    """Return when work of so many minutes, begun at `start` or when next open, is done.

    Work that ends as the shop closes is done at closing; no work is done at once.
    *Reference:* the definition of the shop's hours. *Valid:* 0 minutes to ten years.
    """
    require("minutes", minutes, 0.0, _MINUTES_MAX, _SOURCE)
    begin, left = microseconds(start), round(minutes * _MINUTE_US)
    if left == 0:
        return from_microseconds(begin)
    for opens, closes in _open_spans(begin, hours, closures):
        if left <= closes - opens:
            return from_microseconds(opens + left)
        left -= closes - opens
    raise NeverOpen(f"{minutes:g} working minutes do not fit into {HORIZON_DAYS} days")


def working_minutes_between(
    start: datetime, end: datetime, hours: Hours, closures: Sequence[Closure] = ()
) -> float:
    """Return the open minutes from `start` to `end`.

    *Reference:* the inverse of `add_working_minutes`. *Valid:* start <= end, up to ten years.
    """
    require("minutes from start to end", elapsed_minutes(start, end), 0.0, _MINUTES_MAX, _SOURCE)
    spans = open_intervals(start, end, hours, closures)
    return int(np.sum(spans[:, 1] - spans[:, 0])) / _MINUTE_US


def next_pick_up(
    ready: datetime, weekdays: Sequence[int], cut_off: time, zone: str,
    closures: Sequence[Closure] = (),
) -> datetime:  # fmt: skip
    """Return the cut-off of the first pick-up that something ready at `ready` still makes.

    A pick-up is missed when the shop is closed at its cut-off; ready at the cut-off is in time.
    *Reference:* the definition of the shop's pick-up days. *Valid:* ISO weekdays 1 to 7.
    """
    for weekday in weekdays:
        require("weekday", weekday, 1, 7, "ISO 8601")
    for at in pick_ups(ready, HORIZON_DAYS, weekdays, cut_off, zone, closures):
        return at
    raise NeverOpen(f"there is no pick-up within {HORIZON_DAYS} days of {ready.isoformat()}")


def pick_ups(
    start: datetime, days: int, weekdays: Sequence[int], cut_off: time, zone: str,
    closures: Sequence[Closure] = (),
) -> Iterator[datetime]:  # fmt: skip
    """Yield the cut-offs from a moment on, within so many local days. See `next_pick_up`."""
    begin, closed, first = microseconds(start), _merged(closures), local_date(start, zone)
    for day in (first + offset * _DAY for offset in range(days)):
        if day.isoweekday() in weekdays:
            at = microseconds(wall_moment(day, cut_off, zone))
            if at >= begin and not any(low <= at < high for low, high in closed):
                yield from_microseconds(at)


def open_intervals(
    start: datetime, end: datetime, hours: Hours, closures: Sequence[Closure] = ()
) -> Intervals:
    """Return the open stretches from `start` to `end` as rows of microseconds, for simulators.

    *Reference:* the definition of the shop's hours. *Valid:* up to ten years; rows ascend and never
    touch a closure; empty when the shop is closed throughout.
    """
    begin, stop = microseconds(start), microseconds(end)
    require("minutes from start to end", (stop - begin) / _MINUTE_US, 0.0, _MINUTES_MAX, _SOURCE)
    rows: list[Span] = []
    for opens, closes in _open_spans(begin, hours, closures):
        if opens >= stop:
            break
        rows.append((opens, min(closes, stop)))
    return np.array(rows, dtype=np.int64).reshape(-1, 2)


def advance(intervals: Intervals, start_us: int, work_us: int) -> int:
    """Return when work is done on prepared intervals, as `add_working_minutes` would.

    *Valid:* work that ends inside the intervals; else `NeverOpen`.
    """
    if work_us == 0:
        return start_us
    row = int(np.searchsorted(intervals[:, 1], start_us, side="right"))
    left = work_us
    for opens, closes in intervals[row:]:
        from_here = max(int(opens), start_us)
        if left <= int(closes) - from_here:
            return from_here + left
        left -= int(closes) - from_here
    raise NeverOpen("the work does not end within the prepared intervals")


def _open_spans(begin: int, hours: Hours, closures: Sequence[Closure]) -> Iterator[Span]:
    """Yield what is open from `begin` on, in order, day by day to the horizon."""
    closed = _merged(closures)
    first = local_date(from_microseconds(begin), hours.zone) - _DAY
    past = begin
    for offset in range(HORIZON_DAYS):
        for opens, closes in _day_spans(first + offset * _DAY, hours):
            # A skipped hour may push one opening onto the next; time is never counted twice.
            yield from _without((max(opens, past), closes), closed)
            past = max(past, closes)


def _day_spans(day: date, hours: Hours) -> list[Span]:
    spans: list[Span] = []
    for opening in hours.openings:
        if opening.weekday != day.isoweekday():
            continue
        opens = wall_moment(day, opening.opens, hours.zone)
        # A zone that crosses the date line skips a whole day; the shop has no such day either.
        if local_date(opens, hours.zone) != day:
            continue
        last_day = day + _DAY if opening.closes == time(0) else day
        closes = wall_moment(last_day, opening.closes, hours.zone)
        spans.append((microseconds(opens), microseconds(closes)))
    return sorted(spans)


def _merged(closures: Sequence[Closure]) -> tuple[Span, ...]:
    merged: list[Span] = []
    for low, high in sorted((microseconds(c.starts_at), microseconds(c.ends_at)) for c in closures):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(high, merged[-1][1]))
        else:
            merged.append((low, high))
    return tuple(merged)


def _without(span: Span, closed: Sequence[Span]) -> Iterator[Span]:
    """Yield what is left of one stretch when the closed ones are cut out."""
    opens, closes = span
    for low, high in closed:
        if high <= opens:
            continue
        if low >= closes:
            break
        if opens < low:
            yield opens, low
        opens = max(opens, high)
    if opens < closes:
        yield opens, closes


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
        raise ValueError(f"{name!r} is not a zone of the installed IANA data") from unknown
