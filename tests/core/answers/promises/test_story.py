"""What an order was told, what left when, and whether the promise was kept."""

from datetime import date
from typing import Any

import pytest
from bench import Bench
from coatledger.answers.promises.story import PromiseStory, story
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import (
    CustomerTold,
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)
from coatledger.subjects.asked import ask
from promise_shop import shop

DAY = date(2026, 3, 4)


def ordered(**described: Any) -> Bench:
    bench = shop(**described)
    bench.pieces("a", "b", "c", schedule="three")
    bench.record(
        OrderTaken, order="o1", wanted_by=DAY,
        lines=(OrderLine(line="1", quantity=2, offering="shelf"), OrderLine(line="2")),
    )  # fmt: skip
    bench.record(PieceAllotted, pieces=("a", "b"), order="o1", line="1")
    bench.record(PieceAllotted, pieces=("c",), order="o1", line="2")
    bench.record(PromiseMade, order="o1", ships_by=DAY, level_pct=80.0, chance_pct=84.0)
    return bench


def leave(bench: Bench, *pieces: str) -> None:
    bench.record(Packed, pieces=pieces, touching="paper")
    bench.record(Shipped, pieces=pieces, order="o1")


def tell(bench: Bench, **asked: Any) -> PromiseStory:
    with bench.store.reading() as reader:
        found = story(reader, ask(reader, bench.now, **asked), "o1", ())
    assert found is not None
    return found


def test_nobody_tells_of_an_order_that_was_not_taken() -> None:
    bench = shop()
    with bench.store.reading() as reader:
        assert story(reader, ask(reader, bench.now), "o1", ()) is None


def test_every_word_to_the_customer_is_told_in_its_order() -> None:
    bench = ordered().later(2.0)
    bench.record(PromiseRevised, order="o1", ships_by=date(2026, 3, 6), level_pct=80.0, why="clock")
    bench.record(CustomerTold, order="o1", about="delay", chose="split")
    made, revised, told = tell(bench).told
    assert (made.ships_by, made.chance_pct) == (DAY, 84.0)
    assert (revised.ships_by, revised.why) == (date(2026, 3, 6), "clock")
    assert (told.about, told.chose) == ("delay", "split")


def test_parts_leave_on_days_of_their_own_and_the_rest_keeps_its_date() -> None:
    bench = ordered()
    leave(bench.at("2 12:00"), "a")
    bench.record(PromiseRevised, order="o1", ships_by=date(2026, 3, 9), level_pct=80.0)
    first, second = tell(bench).lines
    assert [(one.shipped_on, one.pieces) for one in first.parts] == [(date(2026, 3, 3), ("a",))]
    assert (first.rest, first.latest, first.outcome) == (1, date(2026, 3, 9), "open")
    assert (second.rest, second.under_way) == (1, ("c",))


@pytest.mark.parametrize(
    ("left", "outcome"), [("3 16:00", "kept"), ("3 23:30", "kept"), ("4 08:00", "late")]
)
def test_it_is_kept_when_the_last_of_it_left_by_the_first_day_told(left: str, outcome: str) -> None:
    bench = ordered()
    leave(bench.at("2 12:00"), "a", "c")
    bench.record(PromiseRevised, order="o1", ships_by=date(2026, 3, 20), level_pct=80.0)
    leave(bench.at(left), "b")
    found = tell(bench)
    assert found.outcome == outcome
    assert found.stage == "done"


def test_the_shops_own_midnight_decides() -> None:
    # 23:30 in UTC is the next day where the shop is.
    bench = ordered(zone="Europe/Helsinki")
    leave(bench.at("2 12:00"), "a", "c")
    leave(bench.at("3 23:30"), "b")
    assert tell(bench).outcome == "late"


def test_an_open_order_whose_day_is_over_is_overdue() -> None:
    bench = ordered()
    leave(bench.at("2 12:00"), "a", "b")
    assert [line.outcome for line in tell(bench.at("3 12:00")).lines] == ["kept", "open"]
    assert tell(bench.at("4 00:30")).outcome == "overdue"


def test_what_was_cancelled_is_neither_kept_nor_late() -> None:
    bench = ordered()
    bench.record(OrderCancelled, order="o1")
    assert tell(bench).outcome == "cancelled"


def test_the_past_does_not_know_what_left_since() -> None:
    bench = ordered()
    at = bench.at("2 12:00").now
    leave(bench.later(1.0), "a", "b", "c")
    assert tell(bench).outcome == "kept"
    assert tell(bench, as_of=at).outcome == "open"
