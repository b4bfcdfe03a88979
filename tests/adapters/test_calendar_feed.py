"""The calendar as bytes: RFC 5545's lines, UIDs that stay, and a zone whose clock is right."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from coatledger.answers.day_plan.diary import Diary, Entry
from coatledger_adapters.calendar_feed import calendar_of
from coatledger_adapters.calendar_zone import zone_of
from icalendar import Calendar

READY = datetime(2026, 3, 29, 9, 30, 15, tzinfo=UTC)
CHANGED = datetime(2026, 3, 28, 17, 0, tzinfo=UTC)


def entry(**more: Any) -> Entry:
    given = {
        "key": "ready/pack/x/a", "kind": "ready", "title": "a may be packed", "says": "From then.",
        "begins": READY, "ends": READY,
    }  # fmt: skip
    return Entry(**{**given, **more})


def diary(*entries: Entry, zone: str = "Europe/Lisbon") -> Diary:
    return Diary(position=7, zone=zone, changed_at=CHANGED, entries=entries)


def events(body: bytes) -> list[Any]:
    """Read a calendar back by the library; what its values are it cannot say."""
    return list(Calendar.from_ical(body).walk("VEVENT"))


def unfolded(body: bytes) -> list[str]:
    """Read content lines by hand, as RFC 5545, section 3.1, has them."""
    return body.decode().replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def test_every_line_ends_with_crlf_and_has_at_most_75_octets() -> None:
    title = "Nachttisch aus Eschenholz, gebürstet, 12 Stück; " * 8
    body = calendar_of(diary(entry(title=title, says="ä" * 500 + "\nsecond, line; of\\it")), "s")
    assert body.endswith(b"END:VCALENDAR\r\n")
    assert body.count(b"\n") == body.count(b"\r\n")
    assert body.count(b"\r") == body.count(b"\r\n")
    for line in body.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()  # no character is cut in two
    read = unfolded(body)
    said = next(line for line in read if line.startswith("DESCRIPTION:"))
    assert said == "DESCRIPTION:" + "ä" * 500 + "\\nsecond\\, line\\; of\\\\it"
    assert str(events(body)[0]["summary"]) == title


def test_the_calendar_says_what_it_is_and_how_often_to_look() -> None:
    read = unfolded(calendar_of(diary(entry()), "shop"))
    assert read[:2] == ["BEGIN:VCALENDAR", "VERSION:2.0"]
    assert "PRODID:-//coatledger//shop calendar//EN" in read
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT15M" in read
    assert "NAME:coatledger: shop" in read
    assert not any(line.startswith("METHOD") for line in read)


def test_what_is_read_back_is_what_was_written() -> None:
    day = date(2026, 4, 1)
    whole = entry(key="ship/o1/", kind="ship", begins=day, ends=day + timedelta(days=1), revision=2)
    coat = entry(key="coat/1/a", kind="coat", ends=READY + timedelta(minutes=20))
    ready, ship, spray = events(calendar_of(diary(entry(), whole, coat), "shop"))
    assert ready["dtstart"].dt == READY
    assert str(ready["dtstart"].dt.tzinfo) == "Europe/Lisbon"
    assert "dtend" not in ready  # a moment
    assert ready["dtstamp"].dt == CHANGED
    assert (ship["dtstart"].dt, ship["dtend"].dt) == (day, day + timedelta(days=1))
    assert ship["sequence"] == 2
    assert spray["dtend"].dt - spray["dtstart"].dt == timedelta(minutes=20)
    assert [str(one["transp"]) for one in (ready, ship, spray)] == [
        "TRANSPARENT", "TRANSPARENT", "OPAQUE",
    ]  # fmt: skip


def test_a_uid_stays_with_its_key_and_is_another_for_another_shop() -> None:
    def uids(shop: str, *entries: Entry) -> list[str]:
        return [str(one["uid"]) for one in events(calendar_of(diary(*entries), shop))]

    moved = entry(begins=READY + timedelta(hours=2), ends=READY + timedelta(hours=2), title="b")
    assert uids("s", entry()) == uids("s", moved)
    assert uids("s", entry()) != uids("t", entry())
    many = uids("s", entry(), entry(key="ready/touch/x/a"), entry(key="closed/2026-01-01"))
    assert len(set(many)) == 3
    assert all(UUID(one).version == 5 for one in many)


def test_the_same_diary_has_the_same_bytes() -> None:
    assert calendar_of(diary(entry()), "s") == calendar_of(diary(entry()), "s")


def test_an_empty_calendar_is_one_all_the_same() -> None:
    assert events(calendar_of(diary(), "s")) == []


ZONES = ("Europe/Lisbon", "Europe/Dublin", "America/New_York", "Australia/Lord_Howe", "Asia/Tokyo",
         "America/Sao_Paulo", "Africa/Casablanca", "Pacific/Chatham", "UTC")  # fmt: skip


@pytest.mark.parametrize("name", ZONES)
def test_a_zone_written_out_has_the_clock_of_the_zone_itself(name: str) -> None:
    """Read by the rule of RFC 5545, section 3.6.5, and compared with the zone each half hour: the
    last observance whose onset, in the offset before it, is not later holds."""
    onsets = []
    observances: list[Any] = zone_of(name, 2026, 2027).subcomponents
    for one in observances:
        before, after = one["tzoffsetfrom"].td, one["tzoffsetto"].td
        onsets.append(((one["dtstart"].dt - before).replace(tzinfo=UTC), after))
    onsets.sort(key=lambda pair: pair[0])
    at, zone = datetime(2026, 1, 2, tzinfo=UTC), ZoneInfo(name)
    while at.year < 2028:
        held = [offset for onset, offset in onsets if onset <= at][-1]
        assert held == at.astimezone(zone).utcoffset(), at
        at += timedelta(minutes=30)


def test_daylight_time_is_where_the_clock_is_ahead() -> None:
    names = [one.name for one in zone_of("America/New_York", 2026, 2026).subcomponents]
    assert names == ["STANDARD", "DAYLIGHT", "STANDARD"]
    southern = [one.name for one in zone_of("Pacific/Auckland", 2026, 2026).subcomponents]
    assert southern == ["DAYLIGHT", "STANDARD", "DAYLIGHT"]
