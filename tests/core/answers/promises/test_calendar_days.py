"""Days unlike others: clock changes, leap days, ends of months, holidays, closed weeks."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

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
    ("begun", "zone", "leaves"),
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
def test_the_day_is_that_of_the_shops_calendar(begun: datetime, zone: str, leaves: date) -> None:
    assert median(shop_at(begun, zone)) == leaves


@pytest.mark.parametrize(
    ("begun", "leaves"),
    [
        # It takes 24.6 h in the middle. Begun at 10:50 it makes the cut-off at noon a day later,
        ("2026-03-26T10:50:00+00:00", date(2026, 3, 27)),
        # but for the night in which an hour is skipped.
        ("2026-03-28T10:50:00+00:00", date(2026, 3, 30)),
        # Begun at 11:50 it is ready too late for noon,
        ("2026-10-22T11:50:00+01:00", date(2026, 10, 24)),
        # but for the night in which an hour is shown twice.
        ("2026-10-24T11:50:00+01:00", date(2026, 10, 25)),
    ],
)
def test_a_film_dries_by_hours_that_pass_and_not_by_the_clock(begun: str, leaves: date) -> None:
    all_days: tuple[Weekday, ...] = (*DAYS, "sat", "sun")
    hours = tuple(OpenHours(day=day, opens="00:00", closes="23:59") for day in all_days)
    bench = shop_at(
        datetime.fromisoformat(begun), hours=hours, pickup_days=all_days, pickup_cutoff="12:00"
    )
    # So often that chance moves the middle by a few minutes only.
    assert quoted(bench, replications=10_000).quantiles[0].ships_by == leaves


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
