"""The course a plan is written from stops what lacks something, and nothing else."""

from bench import Bench
from coatledger.events.setup import PersonAbsent, ScheduleDescribed
from planned import lines, planned, shop, two, waiting


def scarce(litres: float) -> Bench:
    bench = shop()
    bench.clear("rare")
    bench.can("only", "rare", amount_l=litres)
    bench.record(ScheduleDescribed, schedule="rare", steps=two("rare"))
    for n in range(4):
        bench.pieces(f"p{n}", schedule="rare", species=f"s{n}")
    return bench


def test_finish_is_given_in_the_order_of_work_until_it_is_gone() -> None:
    one = lines(planned(scarce(5.0)), "coat")[0].finish
    assert one is not None
    assert one.needed_l is not None
    enough_for_three = 3.5 * one.needed_l.likely
    plan = planned(scarce(round(enough_for_three, 3)))
    coats = lines(plan, "coat")
    assert len(coats) == 3
    assert sorted(w.pieces[0] for w in waiting(plan, "finish")) == ["p0", "p1", "p2", "p3"]
    needs = {w.needs for w in waiting(plan, "finish")}
    assert all("rare" in text for text in needs)


def test_what_is_stopped_holds_nobody_else_up() -> None:
    bench = scarce(0.001)
    bench.pieces("free", schedule="two")
    plan = planned(bench)
    assert {line.pieces for line in lines(plan, "coat")} == {("free",)}
    assert len(lines(plan, "sand")) == 5


def test_who_is_away_without_an_end_is_not_planned_with() -> None:
    bench = shop(people=1)
    bench.pieces("a", schedule="two")
    bench.record(PersonAbsent, person="kim", since=bench.now)
    plan = planned(bench, days=7)
    assert lines(plan) == []
    assert "somebody who is away without an end comes back within a day" not in plan.assumed
