"""Quotes from a ledger: what is open, what is asked for, what is missing, what would be sooner."""

from datetime import date
from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.quote import quote
from coatledger.computations.simulate.shop import AT_ONCE, OpenShop
from coatledger.events.bare import PieceExpected
from coatledger.events.judging import Held, Inspected, ReworkStarted
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import (
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
)
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import GunSetUp
from coatledger.events.setup import (
    ClosureAnnounced,
    PersonAbsent,
    ScheduleDescribed,
    Step,
)
from coatledger.open_shop.asked_for import Wanted
from coatledger.open_shop.known import Known, known
from coatledger.open_shop.shop_now import shop_now
from coatledger.subjects.asked import ask
from msgspec.structs import replace
from promise_shop import SHELF, shop, told


def open_shop(bench: Bench) -> tuple[OpenShop, Known]:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        facts = known(reader, place, described, {})
        return shop_now(reader, place, facts, (), {}), facts


def test_an_empty_shop_ships_shelves_in_two_days_or_three() -> None:
    """Two dryings of 3 h in a day of 10 h, the third coat in the afternoon; the sheet's 24 h until
    it may be wrapped end the next afternoon, and the pick-up is at the end of a day."""
    found = told(shop())
    assert found.quantiles[0].ships_by in (date(2026, 3, 3), date(2026, 3, 4))
    assert found.ships_by is not None
    assert found.ships_by <= date(2026, 3, 5)
    days = [one.ships_by for one in found.quantiles]
    assert days == sorted(days)
    assert found.missing == ()


def test_the_same_question_has_the_same_answer_and_another_seed_another() -> None:
    bench = shop()
    first, again, other = (told(bench, seed=seed) for seed in (5, 5, 6))
    assert first == again
    assert first.takes != other.takes


def test_the_parts_of_the_time_add_up_to_it() -> None:
    takes = told(shop()).takes
    assert takes is not None
    assert takes.drying_days > 0.25 - 0.05  # two waits of about 3 h
    assert takes.cure_days > 0.5
    assert takes.hands_on_days > 0.0
    assert takes.queue_days >= 0.0


def test_what_is_open_comes_first_and_makes_it_later() -> None:
    bench = shop()
    alone = told(bench)
    bench.pieces(*(f"t{n}" for n in range(60)), use="table", schedule="three", coat_area_m2=2.0)
    # Made for stock: it stands behind what is asked for, but a bench holds it up all the same.
    assert told(bench).ships_by >= alone.ships_by  # type: ignore[operator]
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=60),))
    bench.record(PieceAllotted, pieces=tuple(f"t{n}" for n in range(60)), order="o1")
    behind = told(bench)
    assert behind.ships_by > alone.ships_by  # type: ignore[operator]
    assert behind.takes is not None
    assert alone.takes is not None
    assert behind.takes.queue_days > alone.takes.queue_days + 2.0


@pytest.mark.parametrize(
    ("changed", "missing"),
    [
        ({"hours": ()}, "hours in shop_described"),
        ({"people": 0}, "people in shop_described"),
        ({"pickup_days": ()}, "pick-up days in shop_described"),
    ],
)
def test_a_shop_that_cannot_ship_is_told_by_what_it_lacks(
    changed: dict[str, Any], missing: str
) -> None:
    found = told(shop(**changed))
    assert found.missing == (missing,)
    assert found.ships_by is None


def test_nothing_is_promised_of_what_nobody_described() -> None:
    assert told(Bench()).missing == ("shop_described",)
    bench = shop()
    assert told(bench, Wanted(offering="lamp")).missing == ("the description of offering lamp",)
    bench.record(ScheduleDescribed, schedule="odd", steps=(Step(act="coat", product="mist"),))
    assert told(bench, Wanted(schedule="odd")).missing == ("the data sheet of product mist",)
    assert told(bench, Wanted(schedule="none")).missing == ("the description of schedule none",)
    with bench.store.reading() as reader:
        nothing = quote(reader, ask(reader, bench.now), ())
    assert nothing.missing == ("what is asked for",)


def test_more_than_the_rack_holds_is_made_in_turns() -> None:
    bench = shop(rack_places=6)
    many = told(bench, replace(SHELF, quantity=15))
    assert many.missing == ()
    assert many.ships_by >= told(bench).ships_by  # type: ignore[operator]


def test_a_schedule_in_which_nothing_is_done_is_told() -> None:
    bench = shop()
    bench.record(ScheduleDescribed, schedule="idle", steps=(Step(act="cure"),))
    found = told(bench, Wanted(schedule="idle"))
    assert found.missing == ("work in the schedule of what is asked for",)


def test_a_sku_names_its_offering() -> None:
    bench = shop()
    assert told(bench, Wanted(quantity=2, offering="sh-90")).ships_by == told(bench).ships_by


def test_a_closure_and_a_joiner_make_it_later() -> None:
    bench = shop()
    bench.record(ClosureAnnounced, first_day=date(2026, 3, 2), last_day=date(2026, 3, 13))
    later = told(bench)
    assert later.quantiles[0].ships_by >= date(2026, 3, 17)
    assert told(bench, replace(SHELF, joinery_days=20)).ships_by > later.ships_by  # type: ignore[operator]


def test_holidays_are_the_callers_and_close_the_shop() -> None:
    bench = shop()
    free = tuple(date(2026, 3, day) for day in range(2, 10))
    assert told(bench, world=World(holidays=frozenset(free))).quantiles[0].ships_by >= date(
        2026, 3, 11
    )


def test_a_saturday_a_coat_less_and_a_part_make_it_earlier() -> None:
    bench = shop().at("5 12:00")  # Friday
    wanted = replace(SHELF, quantity=44)
    base = told(bench, wanted)
    found = told(bench, wanted, ways=("saturday", "coat_less", "split", "natural_look"))
    ways = {one.way: one.ships_by for one in found.earlier}
    assert {"saturday", "split"} <= set(ways)
    assert all(day < base.quantiles[-1].ships_by for day in ways.values())
    assert "natural_look" not in ways


def test_a_quote_of_the_past_knows_what_was_known_then() -> None:
    bench = shop()
    before = told(bench)
    at = bench.now
    bench.later(1.0).record(
        ClosureAnnounced, first_day=date(2026, 3, 2), last_day=date(2026, 3, 13)
    )
    now = told(bench)
    assert now.ships_by != before.ships_by
    then = told(bench, as_of=at, known_at=at)
    assert then.quantiles == before.quantiles


# ---- the shop that is simulated


def test_pieces_of_one_order_at_one_place_move_together() -> None:
    bench = shop()
    bench.pieces("a", "b", "c", "d", schedule="three")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=2),))
    bench.record(PieceAllotted, pieces=("a", "b"), order="o1")
    bench.record(PromiseMade, order="o1", ships_by=date(2026, 3, 9), level_pct=80.0)
    batches = {batch.id: batch for batch in open_shop(bench)[0].batches}
    assert {name: batch.pieces for name, batch in batches.items()} == {"piece:a": 2, "piece:c": 2}
    assert batches["piece:a"].due == date(2026, 3, 9)
    assert [step.name for step in batches["piece:a"].operations] == [
        "sand", "coat", "scuff", "coat", "scuff", "coat", "inspect", "until wrap_safe", "pack",
    ]  # fmt: skip


def test_a_coated_piece_waits_as_its_clock_says_and_holds_its_place() -> None:
    bench = shop(rack_places=10)
    bench.pieces("a", schedule="three")
    bench.record(Sanded, pieces=("a",), stage="bare", grit=150)
    bench.coat("a")
    (batch,) = open_shop(bench)[0].batches
    assert batch.operations[batch.position].name == "scuff"
    assert batch.place_held == "rack"
    assert batch.ready_in.p50 == pytest.approx(180.0, rel=0.05)  # the sheet's 3 h
    assert batch.ready_in.p10 < batch.ready_in.p50 < batch.ready_in.p90
    bench.later(40.0)
    (dry,) = open_shop(bench)[0].batches
    assert dry.ready_in == AT_ONCE
    assert dry.place_held == ""


def test_an_inspected_piece_waits_for_its_wrapping_only() -> None:
    bench = shop()
    bench.pieces("a", schedule="three")
    for _ in range(3):
        bench.later(4.0)
        bench.coat("a")
    bench.later(2.0)
    bench.record(Inspected, pieces=("a",), point="final", passed=True)
    (batch,) = open_shop(bench)[0].batches
    assert batch.operations[batch.position].name == "pack"
    assert batch.ready_in.p50 == pytest.approx(24 * 60, rel=0.05)  # the sheet's
    assert batch.passed_min == 120.0


def test_rework_goes_back_to_the_last_coat_and_rubbing_out_to_another_look() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="three")
    for _ in range(3):
        bench.later(4.0)
        bench.coat("a", "b")
    bench.later(20.0)
    bench.record(ReworkStarted, pieces=("a",), remedy="recoat", because="nib")
    bench.record(ReworkStarted, pieces=("b",), remedy="rub_out", because="nib")
    found = {b.id: b.operations[b.position].name for b in open_shop(bench)[0].batches}
    assert found == {"piece:a": "scuff", "piece:b": "inspect"}


def test_expected_and_held_pieces_come_later_and_packed_ones_not_at_all() -> None:
    bench = shop()
    bench.record(
        PieceExpected, pieces=("x",), likely_on=date(2026, 3, 6), earliest_on=date(2026, 3, 5),
        latest_on=date(2026, 3, 12), schedule="three", coat_area_m2=0.5,
    )  # fmt: skip
    bench.pieces("h", "p", schedule="three")
    bench.record(Held, pieces=("h",), why="other")
    bench.record(Packed, pieces=("p",), touching="paper")
    batches = {batch.id: batch for batch in open_shop(bench)[0].batches}
    assert set(batches) == {"piece:x", "piece:h"}
    noon = (on_day("5 12:00") - bench.now).total_seconds() / 60.0
    assert batches["piece:x"].ready_in.p50 - batches["piece:x"].passed_min == noon
    assert batches["piece:h"].ready_in.p50 == 1_440.0


def test_what_was_ordered_and_has_no_piece_yet_is_open_work_too() -> None:
    bench = shop()
    bench.record(
        OrderTaken, order="o1", wanted_by=date(2026, 3, 20),
        lines=(OrderLine(line="1", quantity=3, offering="shelf"),),
    )  # fmt: skip
    (batch,) = open_shop(bench)[0].batches
    assert (batch.pieces, batch.due) == (3, date(2026, 3, 20))
    bench.pieces("a", schedule="three")
    bench.record(PieceAllotted, pieces=("a",), order="o1", line="1")
    assert sorted(batch.pieces for batch in open_shop(bench)[0].batches) == [1, 2]
    bench.record(Packed, pieces=("a",), touching="paper")
    bench.record(Shipped, pieces=("a",), order="o1")
    assert [batch.pieces for batch in open_shop(bench)[0].batches] == [2]
    bench.record(OrderCancelled, order="o1")
    assert open_shop(bench)[0].batches == ()


def test_who_is_away_does_not_begin_and_the_gun_holds_what_it_was_filled_with() -> None:
    bench = shop(people=2)
    bench.record(PersonAbsent, person="ann", since=on_day("1 06:00"), until=on_day("3 06:00"))
    bench.record(GunSetUp, gun="g1", lot="can-1")
    found, _ = open_shop(bench)
    assert [(hand.id, len(hand.absences)) for hand in found.people] == [("ann", 1), ("person:0", 0)]
    assert [(gun.id, gun.holds) for gun in found.guns] == [("g1", "clear-w")]
