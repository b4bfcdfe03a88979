"""Days unlike others: clock changes, leap days, ends of months, holidays, closed weeks."""

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bench import Bench
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.quote import Quote
from coatledger.events.setup import (
    ClosureAnnounced,
    OfferingDescribed,
    OpenHours,
    ScheduleDescribed,
    ShopDescribed,
    Step,
    Weekday,
)
from coatledger.open_shop.asked_for import Wanted
from promise_shop import told

DAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri")
# One coat and a wrapping: begun in the morning, wrapped a day later, gone at the next pick-up.
STEPS = (Step(act="coat", product="clear-w", minutes=20.0), Step(act="pack", minutes=5.0))


def shop_at(when: datetime, zone: str = "Europe/Lisbon", **described: Any) -> Bench:
    """A shop that sells one thing of one coat, at a moment."""
    bench = Bench()
    bench.now = when - timedelta(days=1)
    bench.open_shop()
    hours = tuple(OpenHours(day=day, opens="08:00", closes="17:00") for day in DAYS)
    given = {"zone": zone, "hours": hours, "pickup_cutoff": "16:00", **described}
    bench.record(ShopDescribed, **given)
    bench.climate()
    bench.record(ScheduleDescribed, schedule="one", steps=STEPS)
    bench.record(OfferingDescribed, offering="tray", skus=("tr",), schedule="one")
    bench.now = when
    return bench


def quoted(bench: Bench, *holidays: date, replications: int = 400) -> Quote:
    world = World(holidays=frozenset(holidays))
    return told(bench, Wanted(offering="tray"), world=world, seed=1, replications=replications)


def median(bench: Bench, *holidays: date) -> date:
    return quoted(bench, *holidays).quantiles[0].ships_by


def morning(year: int, month: int, day: int) -> datetime:
    return datetime(year, month, day, 8, tzinfo=UTC)


@pytest.mark.parametrize(
    ("begun", "zone", "day"),
    [
        # An ordinary Monday: dry and wrapped on Tuesday morning, gone that afternoon.
        (morning(2026, 3, 2), "Europe/Lisbon", date(2026, 3, 3)),
        # On a Friday the film is ready on Saturday, and the shop on Monday.
        (morning(2026, 3, 6), "Europe/Lisbon", date(2026, 3, 9)),
        # The clocks go forward on Sunday 29 March 2026 and back on 25 October.
        (morning(2026, 3, 27), "Europe/Lisbon", date(2026, 3, 30)),
        (morning(2026, 10, 23), "Europe/Lisbon", date(2026, 10, 26)),
        # A leap day, and the day before there is none.
        (morning(2028, 2, 28), "Europe/Lisbon", date(2028, 2, 29)),
        (morning(2028, 2, 29), "Europe/Lisbon", date(2028, 3, 1)),
        (morning(2027, 2, 26), "Europe/Lisbon", date(2027, 3, 1)),
        # The end of a month, and of a year.
        (morning(2026, 3, 31), "Europe/Lisbon", date(2026, 4, 1)),
        (morning(2026, 12, 31), "Europe/Lisbon", date(2027, 1, 1)),
    ],
    ids=str,
)
def test_the_day_is_that_of_the_shops_calendar(begun: datetime, zone: str, day: date) -> None:
    assert median(shop_at(begun, zone)) == day


ALL_DAYS: tuple[Weekday, ...] = (*DAYS, "sat", "sun")
LISBON = ZoneInfo("Europe/Lisbon")
OFTEN = 10_000  # so that chance moves the middle by minutes only


def by_night(begun: datetime) -> Bench:
    """A shop that never closes and ships at noon of every day."""
    hours = tuple(OpenHours(day=day, opens="00:00", closes="23:59") for day in ALL_DAYS)
    return shop_at(begun, hours=hours, pickup_days=ALL_DAYS, pickup_cutoff="12:00")


def leaves(noon: datetime, wall: timedelta) -> date:
    """On which day it leaves that was begun so long before a noon, by the clock on the wall."""
    begun = noon.replace(tzinfo=LISBON) - wall
    return quoted(by_night(begun.astimezone(UTC)), replications=OFTEN).quantiles[0].ships_by


def needed() -> timedelta:
    """How long before noon it must be begun in a week in which no clock is changed."""
    noon, low, high = datetime(2026, 3, 20, 12, tzinfo=UTC), 12 * 60, 40 * 60
    while high - low > 5:
        middle = (low + high) // 2
        made = leaves(noon, timedelta(minutes=middle)) == noon.date()
        low, high = (low, middle) if made else (middle, high)
    return timedelta(minutes=high)


@pytest.mark.parametrize(
    ("noon", "spare_h", "made"),
    [
        # With half an hour to spare it makes the noon of an ordinary day,
        ("2026-03-20T12:00:00+00:00", 0.5, True),
        # but not when the night before skipped an hour.
        ("2026-03-29T12:00:00+01:00", 0.5, False),
        # With half an hour too little it misses it,
        ("2026-10-16T12:00:00+01:00", -0.5, False),
        # but not when the night before showed an hour twice.
        ("2026-10-25T12:00:00+00:00", -0.5, True),
    ],
)
def test_a_film_dries_by_hours_that_pass_and_not_by_the_clock(
    noon: str, spare_h: float, made: bool
) -> None:
    at = datetime.fromisoformat(noon)
    day = leaves(at, needed() + timedelta(hours=spare_h))
    assert day == at.date() + timedelta(days=0 if made else 1)


def test_the_shops_own_date_counts_where_it_is() -> None:
    # 16:00 in Auckland is 03:00 of the same day in UTC; its Tuesday pick-up is Monday night's here.
    begun = datetime(2026, 3, 1, 19, 0, tzinfo=UTC)  # Monday 08:00 in Auckland
    assert median(shop_at(begun, "Pacific/Auckland")) == date(2026, 3, 3)


def test_a_holiday_on_the_pick_up_day_moves_it_to_the_next() -> None:
    bench = shop_at(morning(2026, 3, 2), pickup_days=("tue", "fri"))
    assert median(bench) == date(2026, 3, 3)
    assert median(bench, date(2026, 3, 3)) == date(2026, 3, 6)
    assert median(bench, date(2026, 3, 3), date(2026, 3, 6)) == date(2026, 3, 10)


def test_two_closed_weeks_are_waited_for() -> None:
    bench = shop_at(morning(2026, 7, 31))  # a Friday
    assert median(bench) == date(2026, 8, 3)
    bench.record(ClosureAnnounced, first_day=date(2026, 8, 1), last_day=date(2026, 8, 14))
    assert median(bench) == date(2026, 8, 17)
    bench.record(
        ClosureAnnounced, first_day=date(2026, 8, 1), last_day=date(2026, 8, 14), cancelled=True
    )
    assert median(bench) == date(2026, 8, 3)


def test_a_shop_that_is_closed_for_good_has_no_day() -> None:
    bench = shop_at(morning(2026, 3, 2))
    for year in range(2026, 2037):
        bench.record(ClosureAnnounced, first_day=date(year, 1, 1), last_day=date(year, 12, 31))
    found = quoted(bench)
    assert found.ships_by is None
    assert found.missing
