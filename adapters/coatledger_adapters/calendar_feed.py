"""A diary as an iCalendar object (RFC 5545) that calendar programs can subscribe to."""

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from coatledger.answers.day_plan.diary import Diary, Entry
from icalendar import Calendar, Event

from coatledger_adapters.calendar_zone import zone_of

# Every key of an entry is a name within this space, so that the same entry has the same UID.
SPACE = UUID("6a3c1c1e-7d0b-5f0e-9b52-0c2f4a1d8e77")
REFRESH = timedelta(minutes=15)
CATEGORIES: Mapping[str, str] = {
    "ready": "ready", "coat": "coating", "ship": "promised", "pick_up": "pick-up",
    "closed": "closed",
}  # fmt: skip
# What takes somebody's time; the rest is only good to know.
_BUSY = ("coat", "closed")


def calendar_of(diary: Diary, shop: str) -> bytes:
    """Write a diary as text/calendar: lines of at most 75 octets that end with CRLF.

    *Reference:* RFC 5545; NAME and REFRESH-INTERVAL are RFC 7986, sections 5.1 and 5.7. The UID is
    an RFC 9562 name-based one of shop and key; DTSTAMP is when the ledger was last written to,
    which is what it means where there is no METHOD (RFC 5545, section 3.8.7.2).
    """
    calendar = Calendar()
    calendar.add("prodid", "-//coatledger//shop calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("name", f"coatledger: {shop}")
    calendar.add("x-wr-calname", f"coatledger: {shop}")
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", "PT15M")
    days = [_day(entry.begins) for entry in diary.entries]
    if any(isinstance(entry.begins, datetime) for entry in diary.entries):
        calendar.add_component(zone_of(diary.zone, min(days).year, max(days).year))
    zone = ZoneInfo(diary.zone)
    for entry in diary.entries:
        calendar.add_component(_event(entry, diary, shop, zone))
    return bytes(calendar.to_ical())


def _event(entry: Entry, diary: Diary, shop: str, zone: ZoneInfo) -> Event:
    event = Event()
    event.add("uid", str(uuid5(SPACE, f"{shop}/{entry.key}")))
    event.add("dtstamp", diary.changed_at.replace(microsecond=0))
    event.add("sequence", entry.revision)
    event.add("summary", entry.title)
    event.add("description", entry.says)
    event.add("categories", [CATEGORIES[entry.kind]])
    event.add("transp", "OPAQUE" if entry.kind in _BUSY else "TRANSPARENT")
    event.add("dtstart", _local(entry.begins, zone))
    if entry.ends != entry.begins:  # one that only begins is a moment (section 3.6.1)
        event.add("dtend", _local(entry.ends, zone))
    return event


def _local(at: datetime | date, zone: ZoneInfo) -> datetime | date:
    if not isinstance(at, datetime):
        return at
    return at.astimezone(zone).replace(microsecond=0)


def _day(at: datetime | date) -> date:
    return at.date() if isinstance(at, datetime) else at
