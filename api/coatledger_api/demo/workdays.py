"""When the invented shop works: its zone, its hours, the day it is closed and the day one is away.

All times are kept in UTC; only this module knows what the shop's own clock says.
"""

import bisect
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from types import MappingProxyType
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from coatledger.events.setup import Clock, OpenHours, Weekday

ZONE_NAME: Final = "Europe/Dublin"
ZONE: Final = ZoneInfo(ZONE_NAME)
WEEKS: Final = 6
PEOPLE: Final = ("p-4f2", "p-81c")
FIRST, SECOND = PEOPLE
_DAYS: Final[tuple[Weekday, ...]] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_LONG: Final = (("07:30", "12:30"), ("13:00", "17:00"))
_SHORT: Final = (("07:30", "12:30"), ("13:00", "15:30"))
HOURS: Final[Mapping[int, tuple[tuple[Clock, Clock], ...]]] = MappingProxyType(
    {0: _LONG, 1: _LONG, 2: _LONG, 3: _LONG, 4: _SHORT}
)
CHORES_MIN: Final = 20  # the day's last minutes belong to cleaning guns and clearing up
AHEAD_DAYS: Final = 14


class Stretch(NamedTuple):
    """Hours in which one person works without a break."""

    opens: datetime
    closes: datetime
    last_of_day: bool


class Workdays(NamedTuple):
    """The working days of six weeks up to now and a little beyond, and who works when."""

    now: datetime
    days: tuple[date, ...]
    ahead: tuple[date, ...]
    closed: date
    away: date
    stretches: Mapping[str, tuple[Stretch, ...]]

    def at(self, index: int, clock: str) -> datetime:
        """Return a time on a working day; negative numbers count back from the newest."""
        return at(self.day(index), clock)

    def day(self, index: int) -> date:
        """Return a working day, also one of those ahead."""
        return (*self.days, *self.ahead)[index] if index >= 0 else self.days[index]

    def index_of(self, moment: datetime) -> int:
        """Return which working day a time falls on, or the next one."""
        local = moment.astimezone(ZONE).date()
        return bisect.bisect_left((*self.days, *self.ahead), local)

    def start_for(self, person: str, earliest: datetime, minutes: float, chore: bool) -> datetime:
        """Return when one person can begin an act that must fit between two breaks."""
        own = self.stretches[person]
        first = max(0, bisect.bisect_right(own, earliest, key=lambda s: s.opens) - 1)
        for stretch in own[first:]:
            starts = max(earliest, stretch.opens)
            kept = 0 if chore or not stretch.last_of_day else CHORES_MIN
            if starts + timedelta(minutes=minutes + kept) <= stretch.closes:
                return starts
        return datetime.max.replace(tzinfo=UTC)


def workdays(now: datetime) -> Workdays:
    """Lay out the working days of the six weeks up to now."""
    today = now.astimezone(ZONE).date()
    first = today - timedelta(days=7 * WEEKS)
    dates = [first + timedelta(days=i) for i in range(7 * WEEKS + AHEAD_DAYS + 1)]
    open_days = [d for d in dates if d.weekday() in HOURS]
    closed = open_days[13]
    kept = [d for d in open_days if d != closed]
    begun = tuple(d for d in kept if at(d, "07:30") <= now)
    away = begun[19]
    stretches = {
        FIRST: tuple(_stretches(kept)),
        SECOND: tuple(_stretches(d for d in kept if d != away)),
    }
    return Workdays(
        now=now, days=begun, ahead=tuple(kept[len(begun) :]), closed=closed, away=away,
        stretches=stretches,
    )  # fmt: skip


def at(day: date, clock: str) -> datetime:
    """Return a time on the shop's own clock in UTC."""
    return datetime.combine(day, time.fromisoformat(clock), ZONE).astimezone(UTC)


def open_hours() -> tuple[OpenHours, ...]:
    """Return the hours as the shop describes them."""
    return tuple(
        OpenHours(day=_DAYS[weekday], opens=opens, closes=closes)
        for weekday, stretches in HOURS.items()
        for opens, closes in stretches
    )


def _stretches(dates: Iterable[date]) -> Iterable[Stretch]:
    for day in dates:
        hours = HOURS[day.weekday()]
        for opens, closes in hours:
            yield Stretch(at(day, opens), at(day, closes), (opens, closes) == hours[-1])
