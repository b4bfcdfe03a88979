"""The shop's description as a calendar: hours, pick-up days, closures that may be taken back."""

from datetime import date, datetime, time, timedelta
from typing import Any

from bench import Bench
from coatledger.computations.calendar import next_open
from coatledger.events.setup import ClosureAnnounced, OpenHours, ShopDescribed
from coatledger.subjects.described import Shop
from coatledger.subjects.working import LAST_MINUTE, Working, working

MONDAY = date(2026, 3, 2)


def described(bench: Bench, **fields: Any) -> ShopDescribed:
    hours = (OpenHours(day="mon", opens="08:30", closes="12:00"),)
    return bench.fact(ShopDescribed, **{"zone": "Europe/Dublin", "hours": hours, **fields})


def closed(bench: Bench, first: date, last: date, cancelled: bool = False) -> ClosureAnnounced:
    return bench.fact(ClosureAnnounced, first_day=first, last_day=last, cancelled=cancelled)


def days_closed(found: Working) -> list[date]:
    return [closure.starts_at.date() for closure in found.closures]


def test_hours_and_pick_up_days_are_read_as_they_were_told() -> None:
    found = working(described(Bench(), pickup_days=("tue", "fri"), pickup_cutoff="15:30"), Shop())
    opening = found.hours.openings[0]
    assert (opening.weekday, opening.opens, opening.closes) == (1, time(8, 30), time(12))
    assert (found.pickup_days, found.cut_off) == ((2, 5), time(15, 30))


def test_without_a_cut_off_the_day_ends_it() -> None:
    assert working(described(Bench()), Shop()).cut_off == LAST_MINUTE


def test_closures_are_whole_days_and_a_later_word_takes_some_back() -> None:
    bench = Bench()
    week = closed(bench, MONDAY, MONDAY + timedelta(days=4))
    back = closed(bench, MONDAY + timedelta(days=2), MONDAY + timedelta(days=3), cancelled=True)
    found = working(described(bench), Shop(closures=(week, back)))
    assert days_closed(found) == [MONDAY, MONDAY + timedelta(days=1), MONDAY + timedelta(days=4)]


def test_a_public_holiday_is_closed_too() -> None:
    found = working(described(Bench()), Shop(), holidays=(MONDAY,))
    start = datetime.fromisoformat("2026-03-02T08:00:00+00:00")
    assert next_open(start, found.hours, found.closures).date() == MONDAY + timedelta(days=7)
