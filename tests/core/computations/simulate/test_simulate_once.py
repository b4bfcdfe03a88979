"""One course of the shop: the same rules as in many, every duration at its median."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from coatledger.computations.calendar import Hours, NeverOpen, Opening
from coatledger.computations.simulate.forward import simulate
from coatledger.computations.simulate.once import Job, course, median
from coatledger.computations.simulate.shop import (
    Batch,
    Hand,
    Impossible,
    Likely,
    OpenShop,
    Operation,
    Sprayer,
    Unforeseen,
)
from msgspec.structs import replace

MONDAY = datetime(2026, 3, 2, 7, tzinfo=UTC)
WEEK = Hours("UTC", tuple(Opening(day, time(7), time(17)) for day in range(1, 6)))
SAND = Operation(name="sand", needs="person", piece_min=30.0, spread=0.5)
COAT = Operation(
    name="coat", needs="spray", piece_min=20.0, product="clear", spread=0.3,
    wait=Likely(120.0, 180.0, 400.0),
)  # fmt: skip
LOOK = Operation(name="inspect", needs="person", piece_min=5.0, rework_chance=0.4, back=1, rounds=3)


def batch(name: str, due: int = 9, **more: object) -> Batch:
    given = {"pieces": 2, "operations": (SAND, COAT, LOOK), "ordered_at": MONDAY}
    return Batch(id=name, order=name, due=date(2026, 3, due), **{**given, **more})  # type: ignore[arg-type]


def shop(*batches: Batch, **more: object) -> OpenShop:
    given = {
        "now": MONDAY, "hours": WEEK, "people": (Hand("p"),), "guns": (Sprayer("g"),),
        "pick_up_weekdays": (1, 2, 3, 4, 5), "cut_off": time(16), "changeover_min": 15.0,
    }  # fmt: skip
    return OpenShop(batches=batches, **{**given, **more})  # type: ignore[arg-type]


def run(one: OpenShop, days: float = 5.0) -> list[Job]:
    return list(course(one, one.now + timedelta(days=days)))


def test_each_job_takes_its_median_and_nothing_comes_back() -> None:
    jobs = run(shop(batch("a")))
    assert [job.operation for job in jobs] == [0, 1, 2]
    assert [job.begins for job in jobs] == [
        MONDAY, MONDAY + timedelta(minutes=60), MONDAY + timedelta(minutes=60 + 15 + 40 + 180),
    ]  # fmt: skip
    assert jobs[1].ready == jobs[2].begins
    assert (jobs[1].gun, jobs[1].changeover_min) == ("g", 15.0)


def test_it_ends_as_a_simulation_without_spread_does() -> None:
    one = median(shop(batch("a"), batch("b", due=4), batch("c", due=4, pieces=5)))
    jobs = run(one, 30.0)
    found = simulate(one, seed=3, replications=2)
    for row, order in enumerate(found.orders):
        last = max(job.ready for job in jobs if job.batch == order)
        assert int(found.ready_min[row, 0]) == (last - MONDAY) / timedelta(minutes=1)


def test_due_date_then_what_the_gun_holds_then_age() -> None:
    other = replace(COAT, product="other")
    late = batch("late", due=9, operations=(COAT,))
    held = batch("held", due=4, operations=(other,))
    older = batch("older", due=4, operations=(COAT,), ordered_at=MONDAY - timedelta(days=1))
    jobs = run(shop(late, held, older, guns=(Sprayer("g", "other"),)))
    assert [job.batch for job in jobs] == ["held", "older", "late"]
    assert [job.changeover_min for job in jobs] == [0.0, 15.0, 0.0]


def test_two_people_are_told_apart() -> None:
    jobs = run(shop(batch("a"), batch("b"), people=(Hand("p"), Hand("q"))))
    assert [(job.batch, job.person) for job in jobs[:2]] == [("a", 0), ("b", 1)]


def test_only_what_begins_before_the_end_is_told_but_to_its_end() -> None:
    jobs = run(shop(batch("a", pieces=30)), 0.2)
    (job,) = jobs
    assert job.ends == datetime(2026, 3, 3, 12, tzinfo=UTC)  # 15 working hours


def test_what_only_may_happen_is_not_planned_with() -> None:
    sick = Unforeseen(0.9, (3,))
    one = shop(batch("a"), batch("maybe", due=3, chance=0.5), away=sick, shut=sick)
    assert run(one) == run(shop(batch("a")))


def test_a_shop_without_work_has_an_empty_course() -> None:
    assert run(shop()) == []


def test_what_is_impossible_or_never_open_is_refused() -> None:
    with pytest.raises(Impossible):
        run(shop(batch("a"), people=()))
    endless = batch("a", operations=(replace(SAND, piece_min=1e7),))
    with pytest.raises(NeverOpen):
        run(shop(endless))
