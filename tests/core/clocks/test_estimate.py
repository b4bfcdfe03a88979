"""The first ship estimate: remaining steps, the films' clocks and the shop's own hours and days."""

from datetime import date
from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.pieces import piece_answer
from coatledger.clocks.estimate import ShipEstimate
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.setup import (
    ClosureAnnounced,
    OpenHours,
    ScheduleDescribed,
    ShopDescribed,
    Step,
    Weekday,
)
from coatledger.subjects.asked import ask


def estimated(bench: Bench, piece: str = "a", holidays: tuple[date, ...] = ()) -> ShipEstimate:
    with bench.store.reading() as reader:
        told = piece_answer(reader, piece, ask(reader, bench.now), holidays)
    assert told is not None
    return told.ship_estimate


def bench_with(*steps: Step, **shop: Any) -> Bench:
    bench = Bench().open_shop()
    if shop:
        days: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri")
        hours = tuple(OpenHours(day=day, opens="07:00", closes="17:00") for day in days)
        bench.record(ShopDescribed, **{"zone": "UTC", "hours": hours, **shop})
    bench.record(ScheduleDescribed, schedule="s", steps=steps)
    bench.climate()
    bench.pieces("a", schedule="s")
    return bench


ONE_COAT = (
    Step(act="sand", minutes=20.0),
    Step(act="blow_off", minutes=10.0),
    Step(act="coat", product="clear-w", minutes=30.0),
    Step(act="inspect", minutes=5.0),
    Step(act="pack", minutes=15.0),
)


def test_the_steps_follow_one_another_in_hours_and_wait_for_the_film() -> None:
    """Monday 07:00: an hour of work, then 24 h until the sheet's film may be wrapped, at its own
    climate and film; bare wood widens the range and leaves its middle."""
    told = estimated(bench_with(*ONE_COAT).at("1 07:00"))
    assert [step.act for step in told.steps] == ["sand", "blow_off", "coat", "inspect", "pack"]
    coat, inspect, pack = told.steps[2:]
    assert (coat.begins, coat.ends) == (on_day("1 07:30"), on_day("1 08:00"))
    assert inspect.begins == on_day("1 09:00")
    assert (pack.begins, pack.waits_for) == (on_day("2 08:00"), "wrap_safe")
    assert told.likely == date(2026, 3, 3)
    assert told.sure == date(2026, 3, 4)  # the slow tenth of a sheet nobody has checked here yet


def test_a_film_that_is_there_is_waited_for_by_its_own_clock() -> None:
    bench = bench_with(*ONE_COAT).at("1 08:00")
    bench.coat("a")
    pack = estimated(bench.at("1 12:00")).steps[-1]
    assert pack.begins == on_day("2 08:00")


def test_work_waits_for_the_shop_to_open_and_shipping_for_a_pick_up_day() -> None:
    bench = bench_with(*ONE_COAT, pickup_days=("thu",)).at("1 16:30")
    told = estimated(bench)
    assert told.steps[2].begins == on_day("2 07:00")
    assert told.likely == date(2026, 3, 5)


def test_closures_and_holidays_move_the_date() -> None:
    bench = bench_with(*ONE_COAT).at("1 07:00")
    assert estimated(bench, holidays=(date(2026, 3, 3),)).likely == date(2026, 3, 4)
    closed: dict[str, Any] = {"first_day": date(2026, 3, 3), "last_day": date(2026, 3, 6)}
    bench.record(ClosureAnnounced, **closed)
    assert estimated(bench).likely == date(2026, 3, 9)
    bench.record(ClosureAnnounced, cancelled=True, **closed)
    assert estimated(bench).likely == date(2026, 3, 3)


def test_damp_air_moves_the_date_and_the_sure_one_first() -> None:
    bench = bench_with(*ONE_COAT).at("1 07:00")
    bench.climate(air_c=18.0, rh_pct=68.0)
    told = estimated(bench)
    assert told.likely is not None
    assert told.sure is not None
    assert told.likely <= told.sure
    assert told.steps[-1].begins > on_day("2 08:00")


def test_without_a_schedule_the_usual_one_is_taken_and_said() -> None:
    bench = Bench().open_shop()
    bench.climate()
    bench.pieces("a", use="table")
    told = estimated(bench)
    assert sum(1 for step in told.steps if step.act == "coat") == 4
    assert any("no schedule" in words for words in told.assumed)


def test_packed_waits_only_for_the_carrier_and_gone_has_no_estimate() -> None:
    bench = bench_with(*ONE_COAT).at("1 08:00")
    bench.record(Packed, pieces=("a",), touching="paper")
    assert (estimated(bench).steps, estimated(bench).likely) == ((), date(2026, 3, 2))
    bench.record(Shipped, pieces=("a",))
    assert estimated(bench).missing == ("the piece is shipped",)


@pytest.mark.parametrize(
    ("shop", "missing"),
    [
        ({"hours": ()}, "shop_described with hours"),
        ({"people": 0}, "people and pick-up days in shop_described"),
        ({"pickup_days": ()}, "people and pick-up days in shop_described"),
    ],
)
def test_what_is_missing_is_named(shop: dict[str, Any], missing: str) -> None:
    assert estimated(bench_with(*ONE_COAT, **shop)).missing == (missing,)


def test_an_undescribed_shop_is_named_as_missing() -> None:
    bench = Bench()
    bench.pieces("a")
    assert estimated(bench).missing == ("shop_described with hours",)


def test_a_fast_finish_over_a_slow_one_is_packed_when_the_slow_one_may_be() -> None:
    coats = (Step(act="coat", product="slow"), Step(act="coat", product="fast"))
    bench = bench_with(*coats, Step(act="pack", minutes=15.0))
    bench.clear("slow", recoat_h=3.0, stack_h=60.0, wrap_h=96.0, cure_h=500.0)
    bench.clear("fast", recoat_h=1.0, stack_h=2.0, wrap_h=4.0, cure_h=24.0)
    first, _, pack = estimated(bench.at("1 07:00")).steps
    assert (pack.begins - first.ends).total_seconds() / 3600.0 >= 96.0
    assert pack.waits_for == "wrap_safe"
