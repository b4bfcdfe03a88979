"""What waits and why: the film, hands, the gun, finish, joinery, a hold, closed doors."""

from bench import on_day
from coatledger.answers.day_plan.answer import Waiting
from coatledger.answers.day_plan.waits import NEEDS
from coatledger.events.bare import PieceExpected
from coatledger.events.judging import Held
from coatledger.events.orders import OrderLine, OrderTaken
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.events.setup import OfferingDescribed
from planned import day, lines, planned, shop, waiting


def only(found: list[Waiting]) -> Waiting:
    (one,) = found
    return one


def test_a_film_that_dries_is_waited_for_with_its_three_times() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", schedule="two")
    bench.coat("a")
    one = only(waiting(planned(bench.at("1 09:00")), "clock"))
    assert one.act == "scuff"
    assert one.likely == on_day("1 11:00")
    assert one.earliest is not None
    assert one.sure is not None
    assert one.earliest < one.likely < one.sure
    assert one.until == on_day("1 11:00")
    assert one.today
    (scuff,) = lines(planned(bench), "scuff")
    assert scuff.try_first  # likely ready, not surely


def test_what_cannot_be_done_today_is_said_with_what_would_be_needed() -> None:
    bench = shop("1 16:00")
    bench.pieces("a", schedule="two")
    bench.coat("a")
    one = only(list(planned(bench.later(0.5)).waiting))
    assert not one.today
    assert one.until is not None
    assert one.until >= on_day("2 07:00")
    assert one.needs == NEEDS["clock"]


def test_the_second_batch_waits_for_hands() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.pieces("b", schedule="two", species="oak")
    one = only(waiting(planned(bench), "people"))
    assert one.pieces == ("b",)
    assert one.until == on_day("1 07:11")


def test_the_second_coat_waits_for_the_gun_when_hands_are_free() -> None:
    bench = shop(people=2)
    bench.pieces("a", schedule="two", coat_area_m2=0.5)
    bench.pieces("b", schedule="two", species="oak")
    for word in ("a", "b"):
        bench.record(Sanded, pieces=(word,), stage="bare", grit=150)
        bench.record(BlownOff, pieces=(word,), by="vacuum")
    one = only(waiting(planned(bench.later(0.1)), "gun"))
    assert one.pieces == ("b",)
    assert one.act == "coat"


def test_a_held_piece_waits_for_its_release_and_nothing_of_it_is_planned() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.record(Held, pieces=("a",), why="customer")
    plan = planned(bench)
    assert lines(plan) == []
    assert only(waiting(plan, "hold")).needs == "somebody to release them"
    assert "a piece that is held is released within days" not in plan.assumed


def test_what_the_joinery_has_yet_to_bring_is_planned_from_then_and_said_so() -> None:
    bench = shop()
    bench.record(PieceExpected, pieces=("a",), likely_on=day(2), kind="top", schedule="two")
    plan = planned(bench)
    one = only(waiting(plan, "joinery"))
    assert one.likely == on_day("2 12:00")
    assert {line.awaited for line in lines(plan, "sand")} == {True}
    assert lines(plan, "sand")[0].begins >= on_day("2 12:00")


def test_a_film_that_never_dries_in_this_air_waits_for_a_warmer_room() -> None:
    bench = shop()
    bench.climate(air_c=20.0, rh_pct=100.0)
    bench.pieces("a", schedule="two")
    bench.coat("a")
    plan = planned(bench.later(0.2))
    one = only(waiting(plan, "film"))
    assert "does not dry" in one.says or "void" in one.says
    assert lines(plan, "scuff") == []


def test_after_closing_it_waits_for_the_morning() -> None:
    bench = shop("1 18:00")
    bench.pieces("a", schedule="two")
    one = only(waiting(planned(bench), "closed"))
    assert one.until == on_day("2 07:00")
    assert one.needs == NEEDS["closed"]


def test_a_full_rack_holds_the_next_batch_back() -> None:
    bench = shop(people=3, rack_places=1)
    bench.pieces("a", schedule="two")
    bench.coat("a")
    bench.pieces("b", schedule="two", species="oak")
    bench.record(Sanded, pieces=("b",), stage="bare", grit=150)
    bench.record(BlownOff, pieces=("b",), by="vacuum")
    one = only(waiting(planned(bench.later(0.1)), "rack"))
    assert one.pieces == ("b",)


def test_ordered_pieces_without_names_are_planned_by_their_number() -> None:
    bench = shop()
    bench.record(
        OfferingDescribed, offering="top", skus=("t-1",), schedule="two", species="ash",
        coat_area_m2=0.5,
    )  # fmt: skip
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=2, offering="top"),))
    plan = planned(bench)
    first = lines(plan, "sand")[0]
    assert (first.pieces, first.unnamed, first.order) == ((), 2, "o1")
    assert "piece_started" in first.notes[0]
