"""Schedules as operations, and what a shop's history says of minutes and of what comes back."""

from collections.abc import Mapping

import pytest
from bench import Bench
from coatledger.computations.simulate.shop import Operation
from coatledger.events.preparing import Sanded
from coatledger.events.setup import Step
from coatledger.ledger.store import Reader
from coatledger.open_shop.crew import people
from coatledger.open_shop.drying import Films
from coatledger.open_shop.learned import Chances
from coatledger.open_shop.pace import (
    SPREAD_PRIOR,
    Pace,
    paces,
    recent_work,
    usual_minutes,
)
from coatledger.open_shop.recent import recent
from coatledger.open_shop.steps import Laid, Work, back_to, laid_out, position
from coatledger.subjects.asked import ask

CHANCES = Chances(0.1, 0.01)


def laid(*acts: str, paces: Mapping[str, Pace] | None = None) -> Laid:
    """Lay out acts whose films are the bench's clear: sandable after 3 h, wrap-safe after 24."""
    bench = Bench().open_shop()
    bench.climate()
    steps = tuple(
        Step(act=act, product="clear-w") if act in ("coat", "stain") else Step(act=act)  # type: ignore[arg-type]
        for act in acts
    )
    work = Work(steps=steps, area_m2=1.0, chances=CHANCES, paces=paces or {}, rack="rack")
    with bench.store.reading() as reader:
        return laid_out(work, Films(ask(reader, bench.now).view(reader), {}))


def named(found: Laid) -> list[str]:
    return [operation.name for operation in found.operations]


def wait_h(operation: Operation) -> float:
    assert operation.wait is not None
    return round(operation.wait.p50 / 60.0)


def test_what_one_person_does_in_one_go_is_one_operation() -> None:
    found = laid("sand", "blow_off", "coat", "scuff", "blow_off", "coat", "inspect", "pack")
    assert named(found) == [
        "sand+blow_off", "coat", "scuff+blow_off", "coat", "inspect", "until wrap_safe", "pack",
    ]  # fmt: skip
    assert [o.needs for o in found.operations] == [
        "person", "spray", "person", "spray", "person", "nobody", "person",
    ]  # fmt: skip
    assert found.operations[0].piece_min == usual_minutes("sand", 1.0) + usual_minutes(
        "blow_off", 1.0
    )


def test_a_film_waits_for_what_comes_after_it() -> None:
    coat, last = (laid("coat", "scuff", "coat", "inspect", "pack").operations[n] for n in (0, 2))
    assert (wait_h(coat), wait_h(last)) == (3, 1)  # sandable, tack-free
    assert coat.place == last.place == "rack"
    gap = laid("coat", "inspect", "pack").operations[2]
    assert wait_h(gap) == 23  # from tack-free to wrap-safe


def test_curing_is_no_work_but_packing_waits_for_it() -> None:
    found = laid("coat", "inspect", "cure", "pack")
    assert named(found) == ["coat", "inspect", "until cured", "cure+pack"]
    assert wait_h(found.operations[2]) == 167


def test_a_film_is_left_alone_until_it_is_tack_free() -> None:
    assert wait_h(laid("coat", "blow_off", "pack").operations[0]) == 1


def test_the_last_film_may_be_followed_by_nothing() -> None:
    assert named(laid("sand", "coat")) == ["sand", "coat"]
    assert laid("sand", "coat").operations[1].wait is None


def over_each_other(*products: str) -> Laid:
    """Lay out coats of a slow varnish and a very fast clear, one over the other, then packing."""
    bench = Bench().open_shop()
    bench.climate()
    bench.clear("slow", tack_free_h=8.0, recoat_h=24.0, stack_h=60.0, wrap_h=120.0, cure_h=500.0)
    bench.clear("fast", recoat_h=1.0, stack_h=2.0, wrap_h=4.0, cure_h=24.0)
    coats = tuple(Step(act="coat", product=product) for product in products)
    work = Work(steps=(*coats, Step(act="pack")), area_m2=1.0, chances=CHANCES, paces={})
    with bench.store.reading() as reader:
        return laid_out(work, Films(ask(reader, bench.now).view(reader), {}))


def test_a_fast_film_over_a_slow_one_waits_for_the_slow_one() -> None:
    found = over_each_other("slow", "fast")
    assert [wait_h(found.operations[n]) for n in (0, 1)] == [24, 120 - 24]
    assert found.below_counts
    assert [wait_h(one) for one in over_each_other("fast", "slow").operations[:2]] == [1, 120]


def test_below_two_fast_films_a_slow_one_still_counts() -> None:
    found = over_each_other("slow", "fast", "fast")
    assert [wait_h(found.operations[n]) for n in range(3)] == [24, 1, 120 - 24 - 1]


def test_films_of_one_product_wait_for_the_last_of_them() -> None:
    found = over_each_other("fast", "fast", "fast")
    assert [wait_h(found.operations[n]) for n in range(3)] == [1, 1, 4]
    assert not found.below_counts


def test_an_inspection_sends_back_to_the_scuff_before_the_last_coat() -> None:
    found = laid("sand", "coat", "scuff", "coat", "inspect", "pack")
    look = found.operations[4]
    assert (look.rework_chance, look.scrap_chance, look.back) == (0.1, 0.01, 2)
    assert back_to(found) == 2
    assert back_to(laid("sand", "coat", "pack")) is None
    assert laid("coat", "inspect").operations[1].back == 1
    assert laid("inspect", "pack").operations[0].back == 0


def test_the_next_operation_is_the_first_of_which_something_remains() -> None:
    acts = ("sand", "blow_off", "coat", "scuff", "blow_off", "coat", "inspect", "pack")
    steps = [Step(act=act, product="clear-w" if act == "coat" else None) for act in acts]  # type: ignore[arg-type]
    found = laid(*acts)
    assert position(found, steps, steps) == 0
    assert position(found, steps, steps[1:]) == 0
    assert position(found, steps, steps[2:]) == 1
    assert position(found, steps, [steps[4], *steps[5:]]) == 2
    assert position(found, steps, steps[7:]) == 6
    assert position(found, steps, []) is None


def learned(reader: Reader, bench: Bench) -> Mapping[str, Pace]:
    place = ask(reader, bench.now)
    return paces(reader, place, recent_work(recent(reader, place), bench.now_us))


def test_without_history_an_act_takes_its_usual_time() -> None:
    bench = Bench().open_shop()
    with bench.store.reading() as reader:
        assert learned(reader, bench) == {}


def test_a_shop_that_takes_twice_as_long_is_believed_by_and_by() -> None:
    bench = Bench().open_shop()
    bench.pieces("a", "b", coat_area_m2=1.0)
    usual = 2 * usual_minutes("sand", 1.0)
    believed = []
    for count in (1, 39):
        for _ in range(count):
            bench.later(0.1).record(
                Sanded, pieces=("a", "b"), stage="bare", grit=150, hands_on_min=2 * usual
            )
        with bench.store.reading() as reader:
            found = learned(reader, bench)["sand"]
        believed.append(found.setup_min + found.factor * usual)
        assert found.spread > 0.0
    assert usual < believed[0] < 1.3 * usual < 1.8 * usual < believed[1] < 2.0 * usual
    assert found.spread < SPREAD_PRIOR


def test_work_that_never_happened_or_was_told_wrong_teaches_nothing() -> None:
    bench = Bench().open_shop()
    bench.pieces("a", coat_area_m2=1.0)
    usual = usual_minutes("sand", 1.0)
    one = bench.record(Sanded, pieces=("a",), stage="bare", grit=120, hands_on_min=9 * usual)
    two = bench.record(Sanded, pieces=("a",), stage="bare", grit=150, hands_on_min=9 * usual)
    bench.void(one)
    bench.amend(two, hands_on_min=usual)
    with bench.store.reading() as reader:
        assert learned(reader, bench)["sand"].factor == pytest.approx(1.0)


def test_a_shop_of_one_has_one_pair_of_hands() -> None:
    bench = Bench().open_shop()
    assumed: dict[str, None] = {}
    view = bench.view()
    described = view.shop()
    assert described is not None
    assert [hand.id for hand in people(view, described, assumed)] == ["person:0"]
    assert not assumed
