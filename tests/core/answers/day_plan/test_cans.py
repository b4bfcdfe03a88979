"""Which can a coat comes from, what is done to it first, what is mixed, what is too little."""

import pytest
from bench import Bench, on_day
from coatledger.answers.day_plan.answer import Finish
from coatledger.answers.day_plan.cans import Shelf, Use
from coatledger.computations.viscosity import Range
from coatledger.events.finish import LotFrozen, LotMixed, LotOpened, Parent
from coatledger.events.room_gun import GunSetUp
from coatledger.events.setup import ScheduleDescribed
from coatledger.subjects.asked import ask
from planned import lines, planned, shop, two, waiting


def shelf(bench: Bench) -> Shelf:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        return Shelf(place.view(reader), reader, place, "UTC")


def use(litres: float, product: str = "clear-w", at: str = "1 09:00", **more: object) -> Use:
    begins = on_day(at)
    wanted = Range(litres / 2, litres, litres * 2)
    return Use(product=product, litres=wanted, begins=begins, ends=begins, **more)  # type: ignore[arg-type]


def taken(bench: Bench, *uses: Use) -> list[Finish]:
    with bench.store.reading():
        found, short = shelf(bench).allot(uses)
    assert short == ()
    return [found[n] for n in range(len(uses))]


def test_the_film_computation_says_how_much() -> None:
    """100 um on half a square metre is 50 mL, all faces weighed; 65 % of a sprayed coat stays."""
    bench = shop()
    bench.pieces("a", schedule="two")
    finish = lines(planned(bench), "coat")[0].finish
    assert finish is not None
    assert finish.needed_l is not None
    assert finish.needed_l.low < finish.needed_l.likely < finish.needed_l.high
    assert 0.02 < finish.needed_l.likely < 0.1
    assert finish.on_hand_l == 5.0


def test_a_can_is_stirred_once_a_day_and_strained_where_the_sheet_says_so() -> None:
    bench = shop()
    bench.clear("clear-w", strain_um=190.0)
    first, again, tomorrow = taken(bench, use(0.1), use(0.1), use(0.1, at="2 09:00"))
    assert (first.stir_first, again.stir_first, tomorrow.stir_first) == (False, False, True)
    assert (first.strain_um, again.strain_um, tomorrow.strain_um) == (190.0, None, 190.0)
    assert (first.open_first, again.open_first) == (True, False)


def test_the_can_in_the_gun_comes_first_then_an_open_one_then_what_ends_soonest() -> None:
    bench = shop()
    bench.can("can-2", "clear-w", use_by="2026-04-01")
    bench.can("can-3", "clear-w", use_by="2026-05-01")
    assert taken(bench, use(0.1))[0].can == "can-2"
    bench.record(LotOpened, lot="can-3")
    assert taken(bench, use(0.1))[0].can == "can-3"
    bench.record(GunSetUp, gun="g1", lot="can-1")
    sprayed = (use(0.1, gun="g1", held="can-1"), use(4.95, gun="g1"), use(0.04, gun="g1"))
    found = taken(bench, *sprayed)
    assert [one.can for one in found] == ["can-1", "can-3", "can-3"]


def test_a_can_too_small_is_followed_by_the_next() -> None:
    bench = shop()
    bench.can("can-2", "clear-w", amount_l=1.0)
    (one,) = taken(bench, use(5.5))
    assert (one.can, one.also) == ("can-1", ("can-2",))


def test_what_froze_or_is_past_its_day_is_not_counted() -> None:
    bench = shop()
    bench.can("old", "other", use_by="2026-03-01")
    bench.can("cold", "other")
    bench.record(LotFrozen, lot="cold")
    _, short = shelf(bench).allot((use(0.1, "other"),))
    assert [(one.product, one.on_hand_l) for one in short] == [("other", 0.0)]


def two_part(bench: Bench, life_h: float = 4.0) -> Bench:
    bench.clear("two-k")
    bench.clear("hard", use="crosslinker")
    bench.can("base-1", "two-k", amount_l=2.0)
    bench.can("hard-1", "hard", amount_l=0.2)
    parts = (
        Parent(lot="base-1", amount_l=0.9),
        Parent(lot="hard-1", amount_l=0.1, part="crosslinker"),
    )
    bench.record(LotMixed, lot="m-1", product="two-k", parents=parts, pot_life_h=life_h)
    return bench.at("2 08:00")


def test_what_has_a_pot_life_is_mixed_as_last_time_for_all_that_follows_within_it() -> None:
    bench = two_part(shop())
    uses = [use(0.2, "two-k", at, gun="g1") for at in ("2 09:00", "2 10:00", "2 14:00")]
    first, second, third = taken(bench, *uses)
    assert {part.product: part.litres for part in first.mix} == {"two-k": 0.36, "hard": 0.04}
    assert first.mix_for_lines == 1
    assert first.use_until == on_day("2 13:00")
    assert second.mix == ()
    assert third.mix  # the first mix is over by then
    assert {part.can for part in first.mix} == {"base-1", "hard-1"}


def test_a_mix_that_lacks_a_part_is_short() -> None:
    bench = two_part(shop())
    _, short = shelf(bench).allot((use(1.05, "two-k", "2 09:00"),))
    # A tenth of it is crosslinker, of which 0.1 L are left after the last mix.
    assert [(one.product, one.needed_l, one.on_hand_l) for one in short] == [("hard", 0.105, 0.1)]


def test_without_finish_the_coat_waits_for_it_and_the_sanding_does_not() -> None:
    bench = shop()
    bench.can("small", "sparse", amount_l=0.001)
    bench.clear("sparse")
    bench.record(ScheduleDescribed, schedule="sparse", steps=two("sparse"))
    bench.pieces("a", schedule="sparse")
    bench.pieces("b", schedule="two")
    plan = planned(bench)
    assert {line.pieces for line in lines(plan, "coat")} == {("b",)}
    assert ("a",) in {line.pieces for line in lines(plan, "sand")}
    (one,) = waiting(plan, "finish")
    assert one.pieces == ("a",)
    assert one.act == "coat"
    assert "sparse" in one.needs


@pytest.mark.parametrize("litres", [0.0005, 1.0])
def test_what_is_left_is_what_was_there_less_what_was_taken(litres: float) -> None:
    bench = shop()
    found = taken(bench, use(litres), use(litres))
    assert found[0].on_hand_l == 5.0
    assert found[1].on_hand_l == pytest.approx(5.0 - litres, abs=1e-3)


def test_each_course_takes_from_what_is_here_anew() -> None:
    bench = two_part(shop())
    here = shelf(bench)
    uses = (use(4.0, at="2 09:00"), use(0.5, "two-k", "2 10:00", gun="g1", held="m-1"))
    assert here.allot(uses) == here.allot(uses)
