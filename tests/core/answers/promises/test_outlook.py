"""What open promises are worth now, and what endangers them, in words."""

from datetime import date

import pytest
from bench import Bench, on_day
from coatledger.answers.promises.ahead import World, ahead
from coatledger.answers.promises.endangers import endangers
from coatledger.answers.promises.outlook import OpenPromise, Outlook, outlook
from coatledger.events.bare import PieceExpected
from coatledger.events.judging import Held, Inspected, ReworkStarted
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import (
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)
from coatledger.events.setup import ClosureAnnounced, PersonAbsent
from coatledger.subjects.asked import ask
from promise_shop import shop

FAR = date(2026, 4, 30)


def ordered(bench: Bench, *, by: date, quantity: int = 4, pieces: tuple[str, ...] = ()) -> Bench:
    lines = (OrderLine(line="1", quantity=quantity, offering="shelf"),)
    bench.record(OrderTaken, order="o1", lines=lines)
    if pieces:
        bench.record(PieceAllotted, pieces=pieces, order="o1")
    bench.record(PromiseMade, order="o1", ships_by=by, level_pct=80.0)
    return bench


def look(bench: Bench) -> Outlook:
    with bench.store.reading() as reader:
        return outlook(reader, ask(reader, bench.now), world=World(), replications=200)


def one(bench: Bench) -> OpenPromise:
    (found,) = look(bench).promises
    return found


def test_a_promise_with_time_to_spare_is_safe() -> None:
    found = one(ordered(shop(), by=FAR))
    assert found.chance == 1.0
    assert not found.in_danger
    assert found.because == ()
    assert found.likely is not None
    assert found.likely < FAR
    assert (found.quantity, found.not_begun, found.shipped) == (4, 4, 0)


def test_one_that_cannot_be_kept_is_in_danger_and_says_of_what() -> None:
    found = one(ordered(shop(), by=date(2026, 3, 2)))
    assert found.chance == 0.0
    assert found.in_danger
    assert "line 1: 4 of 4 not begun" in found.because
    assert any("curing before it may be packed" in text for text in found.because)
    assert found.ships_by is not None
    assert found.ships_by > date(2026, 3, 2)


def test_holds_rework_the_joiner_closures_and_absences_count_and_are_named() -> None:
    bench = shop()
    bench.pieces("a", "b", "c", schedule="three")
    bench.record(
        PieceExpected, pieces=("x",), likely_on=date(2026, 3, 9), schedule="three",
        coat_area_m2=0.5,
    )  # fmt: skip
    safe = one(ordered(bench, by=date(2026, 3, 10), pieces=("a", "b", "c", "x")))
    assert safe.chance is not None
    for n in range(3):
        bench.at(f"{1} {9 + 4 * n:02}:00").coat("a", "b", "c")
    bench.record(Held, pieces=("a",), why="customer")
    bench.record(ReworkStarted, pieces=("b",), remedy="strip", because="wrinkling")
    bench.record(ClosureAnnounced, first_day=date(2026, 3, 5), last_day=date(2026, 3, 6))
    bench.record(PersonAbsent, person="ann", since=bench.now, until=on_day("8 06:00"))
    found = one(bench)
    assert found.chance is not None
    assert found.chance < safe.chance
    assert found.in_danger
    for says in (
        "held: a", "in rework: b", "expected from the joinery on 2026-03-09: x",
        "closed on 2026-03-05, 2026-03-06", "ann is away until 2026-03-09",
    ):  # fmt: skip
        assert says in found.because


@pytest.mark.parametrize("what", ["held", "absent", "expected late", "stock allotted"])
def test_each_supply_changes_the_chance_by_itself(what: str) -> None:
    bench = shop()
    bench.pieces("a", "b", "c", "d", "stock", schedule="three")
    for n in range(3):
        bench.at(f"1 {8 + 4 * n:02}:00").coat("stock")
    bench.at("1 17:00").record(Inspected, pieces=("stock",), point="final", passed=True)
    ordered(bench, by=date(2026, 3, 5), pieces=("a", "b", "c"))
    before = one(bench).chance
    assert before is not None
    match what:
        case "held":
            bench.record(Held, pieces=("a",), why="customer")
        case "absent":
            bench.record(PersonAbsent, person="ann", since=bench.now, until=on_day("4 17:00"))
        case "expected late":
            bench.record(
                PieceExpected, pieces=("x",), likely_on=date(2026, 3, 16), schedule="three"
            )
            bench.record(PieceAllotted, pieces=("x",), order="o1")
        case _:
            bench.record(PieceAllotted, pieces=("stock",), order="o1")
    after = one(bench).chance
    assert after is not None
    assert after > before if what == "stock allotted" else after < before


def test_first_and_latest_day_are_priced_apart() -> None:
    bench = ordered(shop(), by=date(2026, 3, 2))
    bench.record(PromiseRevised, order="o1", ships_by=FAR, level_pct=80.0, why="joinery")
    found = one(bench)
    assert (found.first.ships_by, found.latest.ships_by) == (date(2026, 3, 2), FAR)
    assert (found.first_chance, found.chance, found.times_told) == (0.0, 1.0, 2)
    assert not found.in_danger


def test_what_is_packed_leaves_at_the_next_pick_up_and_what_has_left_is_no_longer_open() -> None:
    bench = shop()
    bench.pieces("a", schedule="three")
    ordered(bench, by=date(2026, 3, 3), quantity=1, pieces=("a",))
    bench.record(Packed, pieces=("a",), touching="paper")
    assert (one(bench).chance, one(bench).packed) == (1.0, 1)
    assert one(bench.at("6 12:00")).overdue
    bench.record(Shipped, pieces=("a",), order="o1")
    assert look(bench).promises == ()


def test_cancelled_orders_and_those_nobody_was_told_a_day_for_are_left_out() -> None:
    bench = ordered(shop(), by=FAR)
    bench.record(OrderTaken, order="o2", lines=(OrderLine(line="1", offering="shelf"),))
    assert [found.order for found in look(bench).promises] == ["o1"]
    bench.record(OrderCancelled, order="o1")
    assert look(bench).promises == ()


def test_lines_that_ship_alone_are_promised_alone() -> None:
    bench = shop()
    lines = (
        OrderLine(line="few", offering="shelf"),
        OrderLine(line="many", quantity=30, offering="shelf"),
    )
    bench.record(OrderTaken, order="o1", lines=lines, together=False)
    for line, by in (("few", date(2026, 3, 6)), ("many", date(2026, 3, 6))):
        bench.record(PromiseMade, order="o1", line=line, ships_by=by, level_pct=80.0)
    few, many = look(bench).promises
    assert (few.line, many.line) == ("few", "many")
    assert few.chance is not None
    assert many.chance is not None
    assert few.chance > many.chance


def test_a_shop_that_cannot_be_simulated_says_what_it_lacks() -> None:
    found = look(ordered(shop(people=0), by=FAR))
    assert found.missing == ("people in shop_described",)
    assert found.promises[0].chance is None


def test_nothing_is_said_of_what_takes_no_time() -> None:
    bench = shop()
    with bench.store.reading() as reader:
        found = ahead(reader, ask(reader, bench.now), World())
        assert found is not None
        assert endangers(found, (), (), FAR) == ()
