"""Until when an order counts, on the wall clock of the shop, whatever the clocks do."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from coatledger.answers.promises.order_before import end_of_day, last_for_pick_up, stated_day
from coatledger.computations.calendar import Hours, NeverOpen, Opening, closed_days
from coatledger.subjects.working import LAST_MINUTE, Working
from hypothesis import given
from hypothesis import strategies as st

LISBON = "Europe/Lisbon"
WEEK = tuple(
    Opening(day, opens, closes)
    for day in (1, 2, 3, 4, 5)
    for opens, closes in ((time(8), time(12)), (time(13), time(17)))
)


def calendar(*closed: date, pick_up: tuple[int, ...] = (2, 5), cut_off: time = time(15)) -> Working:
    """A week with a lunch break, closed days and pick-ups on Tuesdays and Fridays."""
    return Working(
        hours=Hours(LISBON, WEEK), closures=closed_days(closed, LISBON), pickup_days=pick_up,
        cut_off=cut_off,
    )  # fmt: skip


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2026-03-02 07:00", "2026-03-02 17:00"),
        ("2026-03-02 12:30", "2026-03-02 17:00"),  # the lunch break ends no day
        ("2026-03-02 16:59", "2026-03-02 17:00"),
        ("2026-03-02 17:00", "2026-03-03 17:00"),
        ("2026-03-27 18:00", "2026-03-30 16:00"),  # Friday; the clocks change on Sunday
        ("2026-10-23 17:00", "2026-10-26 17:00"),
    ],
)
def test_an_order_counts_as_come_today_until_the_shop_closes(now: str, ends: str) -> None:
    assert end_of_day(calendar(), at(now)) == at(ends)


def test_days_on_which_the_shop_is_closed_are_passed_over() -> None:
    shut = calendar(date(2026, 3, 3), date(2026, 3, 4))
    assert end_of_day(shut, at("2026-03-02 18:00")) == at("2026-03-05 17:00")
    assert last_for_pick_up(shut, at("2026-03-02 18:00")) == at("2026-03-06 15:00")


def test_what_stands_packed_is_ordered_before_the_cut_off_of_the_next_pick_up() -> None:
    assert last_for_pick_up(calendar(), at("2026-03-02 09:00")) == at("2026-03-03 15:00")
    assert last_for_pick_up(calendar(), at("2026-03-03 15:00")) == at("2026-03-06 15:00")
    open_end = calendar(cut_off=LAST_MINUTE)
    assert last_for_pick_up(open_end, at("2026-03-03 16:00")) == at("2026-03-03 17:00")
    assert last_for_pick_up(open_end, at("2026-03-03 18:00")) == at("2026-03-06 17:00")
    saturday = calendar(pick_up=(6,), cut_off=LAST_MINUTE)  # nobody works then
    assert last_for_pick_up(saturday, at("2026-03-03 18:00")) == at("2026-03-07 23:59")


def test_a_stated_lead_leads_to_the_first_pick_up_after_it() -> None:
    assert stated_day(calendar(), at("2026-03-02 09:00"), 10) == date(2026, 3, 13)
    assert stated_day(calendar(), at("2026-03-02 09:00"), 0) == date(2026, 3, 3)
    assert stated_day(calendar(), at("2026-03-03 15:30"), 0) == date(2026, 3, 6)


def test_a_shop_that_never_opens_has_neither() -> None:
    shut = Working(hours=Hours(LISBON, ()), closures=(), pickup_days=(), cut_off=time(15))
    with pytest.raises(NeverOpen):
        end_of_day(shut, at("2026-03-02 09:00"))
    with pytest.raises(NeverOpen):
        stated_day(shut, at("2026-03-02 09:00"), 3)


@given(
    st.integers(0, 6 * 365 * 1_440), st.integers(0, 60),
    st.sampled_from([time(0, 30), time(15), LAST_MINUTE]),
)  # fmt: skip
def test_a_cut_off_and_a_stated_day_never_lie_in_the_past(
    minutes: int, lead: int, cut_off: time
) -> None:
    now = at("2024-01-01 00:00") + timedelta(minutes=minutes)
    shop = calendar(cut_off=cut_off)
    assert now < end_of_day(shop, now) < now + timedelta(days=4)
    assert now < last_for_pick_up(shop, now) < now + timedelta(days=6)
    assert stated_day(shop, now, lead) >= now.date() + timedelta(days=lead)
