"""Until when an order counts as come today, and the day that a shop's stated lead leads to."""

from datetime import date, datetime, time, timedelta

from coatledger.computations.calendar import (
    HORIZON_DAYS,
    NeverOpen,
    local_date,
    next_open,
    next_pick_up,
    wall_moment,
)
from coatledger.subjects.working import LAST_MINUTE, Working

_DAY = timedelta(days=1)
_MINUTE = timedelta(minutes=1)


def end_of_day(calendar: Working, now: datetime) -> datetime:
    """Return when the shop closes on the working day that is, or that comes next.

    *Reference:* the shop's hours; who orders later is looked at on the working day after.
    *Valid:* shops that open again; else `NeverOpen`.
    """
    opens = next_open(now, calendar.hours, calendar.closures)
    day = local_date(opens, calendar.hours.zone)
    closes = [_closing(calendar, day, one.closes) for one in calendar.hours.openings
              if one.weekday == day.isoweekday()]  # fmt: skip
    return max(closes)


def last_for_pick_up(calendar: Working, now: datetime) -> datetime:
    """Return until when something that stands packed can be ordered and leave with the next
    pick-up: its cut-off, and without one the closing of that day.

    *Reference:* the shop's pick-up days. *Valid:* shops that have them; else `NeverOpen`.
    """
    after = now
    for _ in range(HORIZON_DAYS):
        pick_up = next_pick_up(
            after, calendar.pickup_days, calendar.cut_off, calendar.hours.zone, calendar.closures
        )
        day = local_date(pick_up, calendar.hours.zone)
        closes = [_closing(calendar, day, one.closes) for one in calendar.hours.openings
                  if one.weekday == day.isoweekday()]  # fmt: skip
        last = max(closes) if closes and calendar.cut_off == LAST_MINUTE else pick_up
        if last > now:
            return last
        after = wall_moment(day + _DAY, time(0), calendar.hours.zone)
    raise NeverOpen("there is no pick-up that can still be made")


def stated_day(calendar: Working, now: datetime, lead_days: int) -> date:
    """Return the first pick-up day that a stated lead, counted in whole days from today, allows.

    *Reference:* the shop's own word. *Valid:* shops that have pick-up days; else `NeverOpen`.
    """
    zone = calendar.hours.zone
    first = wall_moment(local_date(now, zone) + lead_days * _DAY, time(0), zone)
    pick_up = next_pick_up(
        max(first, now + _MINUTE), calendar.pickup_days, calendar.cut_off, zone, calendar.closures
    )
    return local_date(pick_up, zone)


def _closing(calendar: Working, day: date, closes: time) -> datetime:
    last_day = day + _DAY if closes == time(0) else day
    return wall_moment(last_day, closes, calendar.hours.zone)
