"""The day plan of a shop: nights, closures, absences, clock changes, and what it must be told."""

from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.day_plan.answer import Promised
from coatledger.answers.day_plan.plan import DAYS_MOST
from coatledger.events.coating import CoatApplied
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.setup import ClosureAnnounced, OpenHours, PersonAbsent
from msgspec import json
from planned import day, lines, planned, shop, waiting

LISBON = tuple(OpenHours(day=one, opens="07:00", closes="17:00") for one in ("sat", "sun", "mon"))


def test_a_day_is_laid_out_in_order_with_its_two_coats() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    plan = planned(bench)
    assert [line.act for line in plan.days[0].lines] == [
        "sand", "blow_off", "set_up", "coat", "scuff", "coat", "flush", "inspect",
    ]  # fmt: skip
    assert [line.act for line in plan.days[1].lines] == ["pack"]
    first = plan.days[0].lines[0]
    assert first.begins == on_day("1 07:00")
    assert first.ends == on_day("1 07:20")  # ten minutes each
    assert first.pieces == ("a", "b")


def test_a_night_passes_before_the_next_coat() -> None:
    bench = shop("1 13:30")
    bench.pieces("a", schedule="two")
    first, second = lines(planned(bench), "coat")
    # The first is on by 14:02; the sheet's three hours end after closing at 17:00.
    assert first.ends == on_day("1 14:02")
    assert second.begins == on_day("2 07:05")


def test_on_friday_the_next_day_is_monday_and_what_is_between_is_closed() -> None:
    bench = shop("5 16:00")
    bench.pieces("a", schedule="two")
    plan = planned(bench)
    assert [one.day for one in plan.days] == [day(5), day(6), day(7), day(8)]
    assert [bool(one.open) for one in plan.days] == [True, False, False, True]
    assert lines(plan, "scuff")[0].begins >= on_day("8 07:00")


def test_two_weeks_closed_are_passed_over() -> None:
    bench = shop("1 16:30")
    bench.pieces("a", schedule="two")
    bench.record(ClosureAnnounced, first_day=day(2), last_day=day(15))
    plan = planned(bench)
    assert plan.days[-1].day == day(16)
    away = on_day("2 00:00"), on_day("16 00:00")
    assert not any(away[0] <= line.begins < away[1] for line in lines(plan))
    assert lines(plan, "scuff")[0].begins >= on_day("16 07:00")


def test_a_public_holiday_is_a_closed_day() -> None:
    bench = shop("1 16:30")
    bench.pieces("a", schedule="two")
    plan = planned(bench, holidays=[day(2)])
    assert [bool(one.open) for one in plan.days] == [True, False, True]


def test_when_one_of_two_is_away_the_other_does_it_all() -> None:
    bench = shop(people=2)
    bench.pieces("a", schedule="two")
    bench.pieces("b", "c", schedule="two", species="oak")
    assert {line.by for line in lines(planned(bench), "sand")} == {1, 2}
    bench.record(PersonAbsent, person="kim", since=on_day("1 06:00"), until=on_day("2 12:00"))
    hands = {line.by for line in lines(planned(bench)) if line.begins < on_day("2 12:00")}
    assert len(hands - {None}) == 1


def test_when_nobody_is_here_nothing_is_planned_and_people_are_what_lacks() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.record(PersonAbsent, person="kim", since=on_day("1 06:00"))
    plan = planned(bench)
    assert lines(plan, "sand") == []
    (one,) = waiting(plan, "people")
    assert (one.says, one.needs) == ("nobody is here", "another pair of hands")


def test_with_nothing_to_do_there_are_days_and_no_lines() -> None:
    plan = planned(shop())
    assert len(plan.days) == 2
    assert lines(plan) == []
    assert plan.waiting == ()
    assert plan.valid_until is not None


@pytest.mark.parametrize(
    ("changed", "missing"),
    [({"hours": ()}, "hours in shop_described"), ({"people": 0}, "people in shop_described")],
)
def test_a_shop_that_cannot_be_planned_is_told_what_it_lacks(
    changed: dict[str, Any], missing: str
) -> None:
    bench = shop(**changed)
    bench.pieces("a", schedule="two")
    bench.coat("a")
    plan = planned(bench.later(0.1))
    assert plan.missing == (missing,)
    assert plan.days == ()
    assert plan.drying  # what dries is known all the same
    assert planned(Bench()).missing == ("shop_described",)


def test_a_shop_without_pick_up_days_still_has_work() -> None:
    bench = shop(pickup_days=())
    bench.pieces("a", schedule="two")
    plan = planned(bench)
    assert lines(plan, "coat")
    assert [one.pick_up_at for one in plan.days] == [None, None]


def test_the_clock_that_skips_an_hour_moves_no_film() -> None:
    """In Lisbon the clock went from 01:00 to 02:00 on Sunday 29 March 2026, day 28."""
    bench = shop("27 16:00", zone="Europe/Lisbon", hours=LISBON)
    bench.pieces("a", schedule="two")
    first, second = lines(planned(bench), "coat")
    assert first.begins == on_day("27 16:26")
    # Open until 17:00 WET; on Sunday from 07:00 WEST, which is 06:00 UTC.
    (scuff,) = lines(planned(bench), "scuff")
    assert scuff.begins == on_day("28 06:00")
    assert second.begins == on_day("28 06:05")
    assert scuff.begins.utcoffset() == on_day("1 07:00").utcoffset()


def test_what_is_due_first_is_first_and_its_promise_stands_beside_it() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=1),))
    bench.pieces("b", schedule="two")
    bench.record(PieceAllotted, pieces=("b",), order="o1")
    assert lines(planned(bench), "sand")[0].due == day(15)  # a fortnight where nobody was told
    bench.record(PromiseMade, order="o1", ships_by=day(3), level_pct=80.0)
    sanding = lines(planned(bench), "sand")
    assert [line.pieces for line in sanding] == [("b",), ("a",)]
    assert sanding[0].order == "o1"
    assert sanding[0].due == day(3)
    assert sanding[0].promise == Promised(ships_by=day(3), level_pct=80.0)
    assert sanding[1].due is None


def test_the_same_question_has_the_same_bytes_for_five_minutes() -> None:
    bench = shop("1 09:01")
    bench.pieces("a", "b", schedule="two")
    bench.coat("a")
    bench.at("1 09:02")
    first = json.encode(planned(bench))
    assert json.encode(planned(bench.at("1 09:05"))) == first
    assert json.encode(planned(bench.at("1 09:06"))) != first
    assert planned(bench).as_of == on_day("1 09:10")


def test_each_fact_plans_anew_and_the_past_is_planned_as_it_was_known() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    before = planned(bench)
    asked_at = bench.now
    bench.later(1.0).record(CoatApplied, pieces=("a",), lot="can-1", gun="g1", room="spray")
    assert lines(planned(bench), "sand") == []
    again = planned(bench, as_of=asked_at)
    assert lines(again) == lines(before)


def test_so_many_days_are_planned_as_are_asked_for() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    counts = [len(planned(bench, days=n).days) for n in (1, 2, DAYS_MOST)]
    assert counts == [1, 2, 9]  # a weekend lies within seven working days


def test_it_stays_valid_until_something_could_begin_or_a_film_is_ready() -> None:
    bench = shop("1 07:03", pickup_days=())
    bench.pieces("a", schedule="two")
    assert planned(bench).valid_until == on_day("1 07:05")
    assert planned(bench.at("1 18:00")).valid_until == on_day("2 00:00")
    assert planned(bench.at("2 06:00")).valid_until == on_day("2 07:00")
