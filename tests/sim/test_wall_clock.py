"""The reference model's calendar against hand-counted days and against the product's calendar."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from coatledger.computations import calendar
from shop_cases import TEN_SHOPS
from shop_spec import Opening, Shop, Stretch
from wall_clock import MINUTE, NeverAgain, WallClock

DAY = 1440 * MINUTE


def shop(zone: str, now: str, openings: tuple[Opening, ...], **more: object) -> Shop:
    moment = datetime.fromisoformat(now).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    plain = Shop(zone, moment, openings, (), (), (1, 2, 3, 4, 5), time(15))
    return replace(plain, **more)  # type: ignore[arg-type]


WORKDAYS = tuple(Opening(day, time(9), time(17)) for day in range(1, 6))


def local(clock: WallClock, at: int) -> str:
    return clock.moment(at).astimezone(clock.zone).strftime("%a %d %H:%M")


def test_work_begun_before_closing_goes_on_after_the_weekend() -> None:
    clock = WallClock(shop("UTC", "2026-03-06T16:50", WORKDAYS))
    assert local(clock, clock.after_work(0, 30 * MINUTE)) == "Mon 09 09:20"
    assert local(clock, clock.after_work(0, 10 * MINUTE)) == "Fri 06 17:00"
    assert local(clock, clock.next_open(10 * MINUTE)) == "Mon 09 09:00"
    assert not clock.is_open(10 * MINUTE)


def test_a_night_shift_loses_the_hour_that_the_clock_skips() -> None:
    night = (Opening(7, time(0), time(8)),)
    clock = WallClock(shop("Europe/Dublin", "2026-03-29T00:30", night))
    # 00:30 to 01:00, then 02:00 on: four hours of work end at 05:30 by the wall clock.
    assert local(clock, clock.after_work(0, 240 * MINUTE)) == "Sun 29 05:30"
    assert clock.closes[0] == 390 * MINUTE


def test_an_opening_in_the_skipped_hour_is_read_with_the_offset_before_it() -> None:
    clock = WallClock(
        shop("Europe/Dublin", "2026-03-29T00:00", (Opening(7, time(1, 30), time(3)),))
    )
    assert local(clock, clock.next_open(0)) == "Sun 29 02:30"


def test_a_pick_up_on_a_holiday_is_the_next_one_and_the_cut_off_itself_is_in_time() -> None:
    holiday = Stretch(datetime(2026, 3, 3, tzinfo=UTC), datetime(2026, 3, 4, tzinfo=UTC))
    clock = WallClock(shop("UTC", "2026-03-02T15:00", WORKDAYS, closures=(holiday,)))
    assert local(clock, clock.pick_up(0)) == "Mon 02 15:00"
    assert local(clock, clock.pick_up(1)) == "Wed 04 15:00"


def test_closures_that_overlap_are_closed_once() -> None:
    closures = tuple(
        Stretch(datetime(2026, 3, 2, a, tzinfo=UTC), datetime(2026, 3, 2, b, tzinfo=UTC))
        for a, b in ((10, 14), (11, 12), (13, 15))
    )
    clock = WallClock(shop("UTC", "2026-03-02T09:00", WORKDAYS, closures=closures))
    assert local(clock, clock.after_work(0, 61 * MINUTE)) == "Mon 02 15:01"


def test_a_shop_that_never_opens_again_is_told_not_waited_for() -> None:
    with pytest.raises(NeverAgain):
        WallClock(shop("UTC", "2026-03-02T09:00", ())).next_open(0)


@pytest.mark.parametrize("case", range(len(TEN_SHOPS)))
def test_both_calendars_agree_on_work_openings_and_pick_ups(case: int) -> None:
    given = TEN_SHOPS[case]
    hours = calendar.Hours(
        given.zone, tuple(calendar.Opening(o.weekday, o.opens, o.closes) for o in given.openings)
    )
    closures = tuple(calendar.Closure(c.starts_at, c.ends_at) for c in given.closures)
    clock = WallClock(given)
    for step in range(60):
        at = step * (DAY // 3 + 17 * MINUTE)
        moment = given.now + timedelta(microseconds=at)
        assert clock.moment(clock.next_open(at)) == calendar.next_open(moment, hours, closures)
        minutes = 7.0 * step * step
        done = calendar.add_working_minutes(moment, minutes, hours, closures)
        if step:
            assert clock.moment(clock.after_work(at, round(minutes * MINUTE))) == done
        goes = calendar.next_pick_up(
            moment, given.pick_up_weekdays, given.cut_off, given.zone, closures
        )
        assert clock.moment(clock.pick_up(at)) == goes
