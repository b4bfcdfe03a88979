"""Plans of many shops, played as they were planned: every act is possible where it stands.

The facts of a plan are recorded at their planned times into the ledger it was made from. None may
be refused or disputed, no film may be touched before it is likely ready by its own clock, and no
gun or pair of hands may do two things at once.
"""

import random
from collections.abc import Iterable, Iterator
from datetime import timedelta
from functools import lru_cache
from itertools import pairwise
from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.day_plan.answer import DayPlan, Line
from coatledger.events.bare import PieceExpected
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.judging import Held, ReworkStarted
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.events.setup import (
    ClosureAnnounced,
    GunDescribed,
    OfferingDescribed,
    OpenHours,
    PersonAbsent,
    ScheduleDescribed,
    Step,
)
from planned import Playing, day, lines, planned, shop, two

SEEDS = range(30)
SPLIT = tuple(
    OpenHours(day=one, opens=opens, closes=closes)
    for one in ("mon", "tue", "wed", "thu", "sat")
    for opens, closes in (("08:00", "12:00"), ("13:00", "17:30"))
)  # fmt: skip
FILLED = (
    Step(act="sand", grit=120), Step(act="raise_grain"), Step(act="sand", grit=180),
    Step(act="blow_off"), Step(act="stain", product="dye"), Step(act="fill_grain", product="fill"),
    Step(act="coat", product="sealer"), Step(act="scuff"), Step(act="coat", product="two-k"),
    Step(act="cure", minutes=0.0), Step(act="rub_out"), Step(act="polish"), Step(act="inspect"),
    Step(act="pack"),
)  # fmt: skip
OILED = (
    Step(act="sand"), Step(act="coat", product="oil", by_hand=True), Step(act="scuff"),
    Step(act="coat", product="oil", by_hand=True), Step(act="pack"),
)  # fmt: skip
SCHEDULES = ("two", "sealed", "filled", "oiled", None)


def some_shop(rng: random.Random) -> Bench:
    """A shop of one's own: hours, hands, guns, cans, work at every place of its way."""
    described: dict[str, Any] = {
        "people": rng.choice((1, 2, 2, 3)), "pickup_cutoff": "15:00",
        "rack_places": rng.choice((None, None, 4, 9)),
    }  # fmt: skip
    if rng.random() < 0.4:
        described["hours"] = SPLIT
    if rng.random() < 0.3:
        described["zone"] = "America/New_York"
    start = f"{rng.randint(1, 5)} {rng.randint(7, 15):02}:{rng.randint(0, 59):02}"
    bench = shop(start, **described)
    _finishes(bench, rng)
    for n in range(rng.randint(3, 9)):
        _work(bench, rng, n)
    if rng.random() < 0.3:
        bench.record(PersonAbsent, person="kim", since=bench.now, until=None)
    if rng.random() < 0.3:
        first, more = rng.randint(2, 7), rng.randint(0, 9)
        bench.record(ClosureAnnounced, first_day=day(first), last_day=day(first + more))
    return bench.later(rng.random() * rng.choice((2.0, 30.0)))


def _finishes(bench: Bench, rng: random.Random) -> None:
    if rng.random() < 0.5:
        bench.record(GunDescribed, gun="g2", method="air_assisted")
    bench.clear("sealer", wrap_h=12.0, strain_um=125.0)
    bench.clear("two-k")
    bench.clear("oil", kind="oil_based", recoat_h=6.0, wrap_h=20.0)
    bench.clear("dye", use="stain", recoat_h=2.0)
    bench.clear("fill", use="filler", recoat_h=4.0)
    for word in ("sealer", "two-k", "oil", "dye", "fill", "hard"):
        for n in range(rng.randint(0, 2)):
            bench.can(f"{word}-{n}", word, amount_l=rng.choice((0.05, 0.3, 2.0)))
    if rng.random() < 0.7:
        bench.can("base-x", "two-k", amount_l=3.0)
        bench.can("hard-x", "hard", amount_l=0.3)
        parts = (
            Parent(lot="base-x", amount_l=0.9),
            Parent(lot="hard-x", amount_l=0.1, part="crosslinker"),
        )
        bench.record(LotMixed, lot="m-0", product="two-k", parents=parts, pot_life_h=4.0)
    bench.record(ScheduleDescribed, schedule="sealed", steps=two("sealer"))
    bench.record(ScheduleDescribed, schedule="filled", steps=FILLED)
    bench.record(ScheduleDescribed, schedule="oiled", steps=OILED)
    bench.record(
        OfferingDescribed, offering="top", skus=("t-1",), schedule="two", species="ash",
        coat_area_m2=0.5,
    )  # fmt: skip


def _work(bench: Bench, rng: random.Random, n: int) -> None:
    """Add one batch, somewhere on its way."""
    words = tuple(f"w{n}-{k}" for k in range(rng.randint(1, 4)))
    if rng.random() < 0.15:
        bench.record(PieceExpected, pieces=words, likely_on=day(rng.randint(1, 8)), schedule="two")
        return
    if rng.random() < 0.15:
        line = OrderLine(line="1", quantity=len(words), offering="top")
        bench.record(OrderTaken, order=f"n{n}", lines=(line,))
        return
    schedule = rng.choice(SCHEDULES)
    bench.pieces(*words, schedule=schedule, coat_area_m2=rng.choice((0.2, 0.5, 1.8)))
    if rng.random() < 0.6:
        line = OrderLine(line="1", quantity=len(words))
        bench.record(OrderTaken, order=f"o{n}", lines=(line,), together=rng.random() < 0.7)
        bench.record(PieceAllotted, pieces=words, order=f"o{n}", line="1")
        if rng.random() < 0.5:
            bench.record(
                PromiseMade, order=f"o{n}", ships_by=day(rng.randint(3, 20)), level_pct=80.0
            )
    if rng.random() < 0.5:
        bench.record(Sanded, pieces=words, stage="bare", grit=150)
    if rng.random() < 0.5:
        bench.record(BlownOff, pieces=words, by="vacuum")
    # The engine waits for the last film only: none is put on here that dries before the one below.
    if schedule == "two" and rng.random() < 0.8:
        bench.later(0.2).coat(*words)
        if rng.random() < 0.2:
            bench.record(ReworkStarted, pieces=words, remedy=rng.choice(("recoat", "rub_out")))
    if rng.random() < 0.1:
        bench.record(Held, pieces=words)


@lru_cache(maxsize=len(SEEDS))
def plan_of(seed: int) -> DayPlan:
    """Return the plan of one shop; it is looked at from several sides."""
    return planned(some_shop(random.Random(seed)))


@pytest.mark.parametrize("seed", SEEDS)
def test_every_planned_act_is_possible_at_its_place(seed: int) -> None:
    bench = some_shop(random.Random(seed))
    plan = planned(bench)
    assert plan.missing == ()
    played = Playing(bench).play(plan)  # a refusal would be raised
    assert played.early == []
    for word in {word for line in lines(plan) for word in line.pieces}:
        assert bench.view().piece(word).disputed == (), word


@pytest.mark.parametrize("seed", SEEDS)
def test_nobody_and_no_gun_does_two_things_at_once_or_outside_the_hours(seed: int) -> None:
    plan = plan_of(seed)
    acts = [line for line in lines(plan) if line.act not in ("ship", "rags")]
    for by in {line.by for line in acts}:
        apart(line for line in acts if line.by == by)
    for gun in {line.gun for line in acts if line.gun}:
        apart(line for line in acts if line.gun == gun)
    open_ = [(span.begins, span.ends) for one in plan.days for span in one.open]
    for line in acts:
        assert any(opens <= line.begins <= closes for opens, closes in open_), line


@pytest.mark.parametrize("seed", SEEDS)
def test_no_batch_is_in_two_acts_at_once_and_all_keep_their_schedule_s_order(seed: int) -> None:
    plan = plan_of(seed)
    words = {word for line in lines(plan) for word in line.pieces}
    for word in words:
        mine = [line for line in lines(plan) if word in line.pieces]
        apart(mine)
        numbers = [line.coat_number for line in mine if line.coat_number is not None]
        assert numbers == sorted(set(numbers))


@pytest.mark.parametrize("seed", SEEDS)
def test_everything_open_is_either_planned_or_waits_for_something_named(seed: int) -> None:
    bench = some_shop(random.Random(seed))
    plan = planned(bench)
    told = set(_told(plan))
    for piece in _open(bench):
        assert piece in told or bench.view().piece(piece).stage == "packed", piece
    assert all(one.says and one.needs for one in plan.waiting)


def apart(found: Iterable[Line]) -> None:
    ordered = sorted(found, key=lambda line: (line.begins, line.ends))
    for first, second in pairwise(ordered):
        assert second.begins >= first.ends - timedelta(seconds=1), (first, second)


def _told(plan: DayPlan) -> Iterator[str]:
    for line in lines(plan):
        yield from line.pieces
    for one in plan.waiting:
        yield from one.pieces


def _open(bench: Bench) -> Iterator[str]:
    with bench.store.reading() as reader:
        for stored in reader.shelf("piece", None, "", 500):
            yield stored.subject.removeprefix("piece:")


def test_the_days_are_drawn_alike_on_every_run() -> None:
    first, again = (planned(some_shop(random.Random(3))) for _ in range(2))
    assert first == again
    assert on_day("1 00:00") < first.as_of
