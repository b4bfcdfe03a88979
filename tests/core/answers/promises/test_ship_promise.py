"""Ship promises for strangers: true until the cut-off, never past, never more than a day."""

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from bench import FIRST_DAY, Bench
from coatledger.answers.promises.ship_promise import ShipLine, ShipPromise, joined, ship_promise
from coatledger.computations.calendar import local_date
from coatledger.events.orders import OrderLine
from coatledger.events.setup import OpenHours
from coatledger.open_shop.asked_for import Wanted
from coatledger.subjects.asked import ask
from hypothesis import given, settings
from hypothesis import strategies as st
from promise_shop import shop, told

WEEK = tuple(
    OpenHours(day=day, opens="07:00", closes="17:00") for day in ("mon", "tue", "wed", "thu", "fri")
)


def asked(bench: Bench, quantity: int = 2, **more: Any) -> ShipPromise:
    """Ask for shelves."""
    line = OrderLine(line="1", sku="sh-90", quantity=quantity)
    with bench.store.reading() as reader:
        return ship_promise(reader, ask(reader, bench.now), (line,), **more)


def test_the_day_is_that_of_an_order_which_comes_at_the_cut_off() -> None:
    bench = shop("2 08:00", hours=WEEK)
    found = asked(bench)
    assert found.order_before is not None
    at_once = told(bench, Wanted(quantity=2, offering="shelf"))
    assert at_once.ships_by is not None
    assert found.ships_by is not None
    assert found.ships_by >= at_once.ships_by
    bench.now = found.order_before - timedelta(minutes=5)
    late = told(bench, Wanted(quantity=2, offering="shelf"))
    assert late.ships_by is not None
    assert late.ships_by <= found.ships_by


def test_a_shop_nobody_described_has_no_day_and_says_what_to_do() -> None:
    bench = Bench()
    found = asked(bench)
    assert (found.status, found.ships_by) == ("ask_us", None)
    assert found.text.startswith("Ask us")


def test_one_question_joined_with_itself_is_told_line_by_line() -> None:
    bench = shop("2 08:00", hours=WEEK)
    few, many = asked(bench, 1), asked(bench, 40)
    both = joined((few, many))
    assert [line.ships_by for line in both.lines] == [few.ships_by, many.ships_by]
    assert (both.ships_by, both.text) == (many.ships_by, many.text)
    assert both.json_ld is None
    assert joined((few,)) is few


@pytest.mark.parametrize("engine", [True, False])
@pytest.mark.parametrize("zone", ["Europe/Lisbon", "Pacific/Auckland"])
@given(minutes=st.integers(420, 400 * 1_440), lead=st.integers(0, 40) | st.none())
@settings(max_examples=12, deadline=None)
def test_no_clock_makes_it_tell_a_past_day(
    minutes: int, lead: int | None, zone: str, engine: bool
) -> None:
    bench = shop("1 06:00", hours=WEEK, zone=zone, pickup_days=("tue", "fri"))
    bench.now = FIRST_DAY + timedelta(minutes=minutes)
    found = asked(bench, lead_days=lead, engine=engine)
    today = local_date(bench.now, zone)
    assert found.text
    assert bench.now < found.valid_until <= bench.now + timedelta(days=1, hours=1)
    shown_last = local_date(found.valid_until - timedelta(seconds=1), zone)
    days: list[ShipPromise | ShipLine] = [found, *found.lines]
    for line in days:
        if line.ships_by is not None:
            assert today <= shown_last <= line.ships_by
            assert line.order_before is None or bench.now < line.order_before
            assert line.likely is None or today <= line.likely <= line.ships_by
    assert found.ships_by is not None or (lead is None and not engine)


def test_the_stated_lead_of_the_shop_goes_before_that_of_the_service() -> None:
    bench = shop("1 08:00", hours=WEEK, fallback_lead_days=7)
    found = asked(bench, engine=False, lead_days=30)
    assert (found.basis, found.ships_by) == ("stated", date(2026, 3, 9))
    assert found.level_pct is None
    assert found.order_before is None
    assert isinstance(found.valid_until, datetime)
