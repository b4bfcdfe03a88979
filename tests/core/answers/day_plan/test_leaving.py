"""What leaves on the pick-up days, whole or in part, and the rags a day does not end without."""

from bench import Bench, on_day
from coatledger.answers.day_plan.leaving import RAGS
from coatledger.events.judging import Held
from coatledger.events.leaving import Packed
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.events.setup import ClosureAnnounced, ScheduleDescribed, Step
from planned import day, lines, planned, shop


def ordered(bench: Bench, *pieces: str, together: bool = True) -> Bench:
    line = OrderLine(line="1", quantity=len(pieces))
    bench.record(OrderTaken, order="o1", lines=(line,), together=together)
    bench.pieces(*pieces, schedule="two")
    bench.record(PieceAllotted, pieces=pieces, order="o1", line="1")
    return bench


def packed(bench: Bench, *pieces: str) -> None:
    bench.record(Packed, pieces=pieces, touching="paper")


def test_a_packed_order_leaves_at_the_next_cut_off() -> None:
    bench = ordered(shop(pickup_cutoff="15:00", pickup_days=("mon", "wed")), "a", "b")
    packed(bench, "a", "b")
    (ship,) = lines(planned(bench), "ship")
    assert (ship.begins, ship.pieces, ship.order) == (on_day("1 15:00"), ("a", "b"), "o1")
    assert lines(planned(bench.at("1 15:01")), "ship") == []  # not before Wednesday
    assert len(lines(planned(bench, days=3), "ship")) == 1


def test_no_pick_up_on_a_closed_day() -> None:
    bench = ordered(shop(pickup_cutoff="15:00"), "a")
    packed(bench, "a")
    bench.record(ClosureAnnounced, first_day=day(1), last_day=day(1))
    (ship,) = lines(planned(bench), "ship")
    assert ship.begins == on_day("2 15:00")


def test_an_order_that_goes_together_waits_for_its_last_piece() -> None:
    bench = ordered(shop(pickup_cutoff="15:00"), "a", "b")
    packed(bench, "a")
    assert lines(planned(bench, days=1), "ship") == []
    parts = ordered(shop(pickup_cutoff="15:00"), "a", "b", together=False)
    packed(parts, "a")
    assert [line.pieces for line in lines(planned(parts, days=1), "ship")] == [("a",)]


def test_what_is_packed_in_the_plan_leaves_after_that() -> None:
    bench = ordered(shop("1 07:00", pickup_cutoff="16:00"), "a")
    found = lines(planned(bench), "pack", "ship")
    assert [line.act for line in found] == ["pack", "ship"]
    assert found[1].begins == on_day("2 16:00")


def test_what_is_held_does_not_leave() -> None:
    bench = ordered(shop(pickup_cutoff="15:00"), "a")
    packed(bench, "a")
    bench.record(Held, pieces=("a",))
    assert lines(planned(bench), "ship") == []


def test_a_day_with_oil_does_not_end_without_its_rags() -> None:
    bench = shop()
    bench.clear("oil", kind="oil_based", recoat_h=1.0)
    bench.can("can-o", "oil")
    steps = (Step(act="coat", product="oil", by_hand=True),) * 2
    bench.record(ScheduleDescribed, schedule="oiled", steps=steps)
    bench.pieces("a", schedule="oiled")
    plan = planned(bench)
    coats, (rags,) = lines(plan, "coat"), lines(plan, "rags")
    assert RAGS in coats[-1].cautions
    assert rags.begins == max(line.ends for line in coats)
    assert RAGS in {caution.code for caution in plan.cautions}
