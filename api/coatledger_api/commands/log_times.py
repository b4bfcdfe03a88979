"""Times in a day log: as somebody writes them on paper, in the shop's own zone.

A time with an offset stands by itself. One without is a time of the shop's zone; one without a day
is of the day given with `--day`, or of the day of the fact it belongs to. A time that the change of
the clocks makes double or impossible is refused, never guessed.
"""

import re
from datetime import UTC, date, datetime, time
from typing import NamedTuple
from zoneinfo import ZoneInfo

CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
DAY_AND_CLOCK = re.compile(r"\d{4}-\d{2}-\d{2}[Tt ]\d{1,2}:\d{2}.*")


class Unreadable(Exception):  # noqa: N818 - the house word
    """A value of a line that cannot be read; the message says why."""


class Wall(NamedTuple):
    """The wall clock of a log: its zone and its day, as far as they are known."""

    zone: ZoneInfo | None = None
    day: date | None = None


def read_time(text: str, wall: Wall) -> datetime:
    """Return the moment that a text means, with its offset."""
    text = text.strip()
    if CLOCK.fullmatch(text):
        if wall.day is None:
            raise Unreadable(f"{text!r} names no day: write 2026-03-02 {text}, or give --day")
        return on_wall(datetime.combine(wall.day, _clock(text)), wall)
    if not DAY_AND_CLOCK.fullmatch(text):
        raise Unreadable(f"{text!r} is no time: write 2026-03-02 08:30, with an offset or without")
    day, clock = text[:10], text[11:]
    try:
        moment = datetime.fromisoformat(f"{day}T{_two_digits(clock)}")
    except ValueError:
        raise Unreadable(f"{text!r} is no time of the calendar") from None
    return moment if moment.tzinfo is not None else on_wall(moment, wall)


def on_wall(moment: datetime, wall: Wall) -> datetime:
    """Put a time without offset into the log's zone, where it must be there exactly once."""
    if wall.zone is None:
        raise Unreadable(f"{moment:%Y-%m-%d %H:%M} has no offset and no zone is known: give --zone")
    first = moment.replace(tzinfo=wall.zone, fold=0)
    second = moment.replace(tzinfo=wall.zone, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    there = first.astimezone(UTC).astimezone(wall.zone).replace(tzinfo=None) == moment
    often = "there twice" if there else "never there"
    raise Unreadable(
        f"{moment:%Y-%m-%d %H:%M} was {often} in {wall.zone.key}, where the clocks changed: "
        "write its offset"
    )


def _clock(text: str) -> time:
    try:
        return time.fromisoformat(_two_digits(text))
    except ValueError:
        raise Unreadable(f"{text!r} is no time of day") from None


def _two_digits(clock: str) -> str:
    return clock if clock.index(":") == 2 else f"0{clock}"
