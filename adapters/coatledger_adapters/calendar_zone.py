"""A time zone as an iCalendar component, for programs that do not know its name.

The library's own writes the wall clock after a change where RFC 5545, section 3.6.5, asks for the
one before it (its version 7.3.2): an hour late in spring. So the changes are found here.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

_SECOND = timedelta(seconds=1)
_NONE = timedelta(0)


def zone_of(name: str, first_year: int, last_year: int) -> Timezone:
    """Describe a zone over some years: how its clock stands at first, and each of its changes.

    *Reference:* RFC 5545, section 3.6.5. *Valid:* zones of the installed IANA data.
    """
    zone = ZoneInfo(name)
    found = Timezone()
    found.add("tzid", name)
    start = datetime(first_year, 1, 1, tzinfo=UTC)
    changes = tuple(_changes(zone, start, datetime(last_year + 1, 1, 1, tzinfo=UTC)))
    offset = _offset(start, zone)
    ahead = bool(changes) and _offset(changes[0], zone) < offset
    found.add_component(_observance(start, offset, zone, ahead=ahead))
    for at in changes:
        before = _offset(at - _SECOND, zone)
        ahead = _offset(at, zone) > before
        found.add_component(_observance(at, before, zone, ahead=ahead))
    return found


def _observance(
    at: datetime, before: timedelta, zone: ZoneInfo, *, ahead: bool
) -> TimezoneStandard | TimezoneDaylight:
    """Say how the clock stands from a moment on, by what it showed until then. It is daylight time
    while it is ahead; some zones call it the other way round, and few programs would follow."""
    made = TimezoneDaylight() if ahead else TimezoneStandard()
    made.add("dtstart", (at + before).replace(tzinfo=None))
    made.add("tzoffsetfrom", before)
    made.add("tzoffsetto", _offset(at, zone))
    made.add("tzname", at.astimezone(zone).tzname() or "")
    return made


def _changes(zone: ZoneInfo, start: datetime, end: datetime) -> Iterator[datetime]:
    """Yield the moments at which the offset changes, to the second."""
    day = timedelta(days=1)
    at = start
    while at < end:
        if _offset(at, zone) != _offset(at + day, zone):
            low, high = at, at + day
            while high - low > _SECOND:
                middle = low + (high - low) // 2 // _SECOND * _SECOND
                if _offset(middle, zone) == _offset(low, zone):
                    low = middle
                else:
                    high = middle
            yield high
        at += day


def _offset(at: datetime, zone: ZoneInfo) -> timedelta:
    return at.astimezone(zone).utcoffset() or _NONE
