"""What stands on the shelf leaves with the next pick-up, alone and beside what is made."""

from datetime import date
from typing import Any

from bench import Bench, on_day
from coatledger.answers.promises.ahead import World, ahead
from coatledger.answers.promises.shelved import made_of, shelved
from coatledger.events.bare import PieceStarted
from coatledger.events.leaving import Packed
from coatledger.events.orders import HoldBefore, OrderLine
from coatledger.open_shop.asked_for import Wanted
from coatledger.open_shop.shelf import made_as
from coatledger.subjects.asked import ask
from msgspec.structs import replace
from promise_shop import shop, told

ONE = Wanted(quantity=1, offering="sh-90", sku="sh-90")
MANY = Wanted(quantity=5, offering="sh-90", sku="sh-90")


def stocked(count: int, **described: Any) -> Bench:
    """A shop with packed shelves that nobody ordered."""
    bench = shop("1 08:00", **described)
    words = tuple(f"s-{n}" for n in range(count))
    bench.record(
        PieceStarted, pieces=words, kind="shelf", species="ash", coat_area_m2=0.6, use="shelf",
        sku="sh-90",
    )  # fmt: skip
    bench.record(Packed, pieces=words, touching="paper")
    return bench


def test_each_line_takes_what_the_lines_before_it_left() -> None:
    bench = stocked(2)
    with bench.store.reading() as reader:
        found = shelved(reader, ask(reader, bench.now), World(), (ONE, MANY, ONE, ONE))
    assert (found.taken, found.day) == ({0: 1, 1: 1}, date(2026, 3, 2))
    rest = found.rest(("a", "b", "c", "d"), (ONE, MANY, ONE, ONE))
    assert {word: one.quantity for word, one in rest.items()} == {"b": 4, "c": 1, "d": 1}


def test_what_stands_there_leaves_today_for_sure() -> None:
    quote = told(stocked(1), ONE, wanted_by=date(2026, 3, 2))
    assert (quote.ships_by, quote.chance, quote.wanted_chance) == (date(2026, 3, 2), 1.0, 1.0)
    assert {(one.ships_by, one.chance) for one in quote.quantiles} == {(date(2026, 3, 2), 1.0)}
    assert quote.on_shelf == ("1",)
    assert told(shop("1 08:00"), ONE).on_shelf == ()


def test_beside_what_is_made_it_waits_for_it_or_goes_ahead_of_it() -> None:
    bench = stocked(1)
    together = told(bench, ONE, MANY)
    assert together.ships_by == told(bench, MANY).ships_by
    assert together.lines == ()
    split = told(bench, ONE, MANY, together=False, lines=("a", "b"))
    assert [one.line for one in split.lines] == ["a", "b"]
    assert split.lines[0].ships_by < split.lines[1].ships_by == split.ships_by
    assert split.on_shelf == ("a",)


def test_of_a_line_of_which_some_stand_there_only_the_rest_is_made() -> None:
    many, three = (replace(MANY, quantity=quantity) for quantity in (33, 3))
    some = told(stocked(30), many)
    assert (some.on_shelf, some.from_shelf) == ((), {"1": 30})
    assert some.quantiles == told(shop("1 08:00"), three).quantiles
    whole = told(shop("1 08:00"), many)
    assert some.quantiles[0].ships_by < whole.quantiles[0].ships_by
    split = told(stocked(2), MANY, ONE, together=False, lines=("a", "b"))
    assert split.from_shelf == {"a": 2}
    assert date(2026, 3, 2) < split.lines[0].ships_by


def held(bench: Bench, *quantities: int) -> list[int]:
    """How many pieces of each hold are work to do."""
    holds = tuple(
        HoldBefore(
            hold=f"h{n}", placed_at=bench.now, ships_by=date(2026, 3, 20),
            lines=(OrderLine(line="1", sku="sh-90", quantity=quantity),),
        )
        for n, quantity in enumerate(quantities)
    )  # fmt: skip
    with bench.store.reading() as reader:
        found = ahead(reader, ask(reader, bench.now), World(holds=holds))
    assert found is not None
    return [
        sum(b.pieces for b in found.shop.batches if b.order == f"hold:h{n}")
        for n in range(len(quantities))
    ]


def test_what_is_held_and_stands_there_is_no_work_and_the_first_hold_takes_first() -> None:
    assert held(shop("1 08:00"), 2, 1) == [2, 1]
    assert held(stocked(2), 2, 1) == [0, 1]
    assert held(stocked(4), 6) == [2]
    assert held(stocked(4), 3, 3, 3) == [0, 2, 3]


def test_who_asks_behind_a_hold_off_the_shelf_does_not_wait_for_it() -> None:
    holds = (
        HoldBefore(
            hold="h", placed_at=on_day("1 08:00"), ships_by=date(2026, 3, 2),
            lines=(OrderLine(line="1", sku="sh-90", quantity=5),),
        ),
    )  # fmt: skip
    bench = stocked(5)
    behind = told(bench, ONE, world=World(holds=holds))
    assert behind.on_shelf == ()
    assert behind.ships_by == told(shop("1 08:00"), ONE).ships_by


def test_after_closing_it_leaves_with_the_pick_up_after_it() -> None:
    bench = stocked(1)
    bench.at("1 17:30")
    assert told(bench, ONE).ships_by == date(2026, 3, 3)


def test_lines_without_a_sku_name_nothing_on_the_shelf() -> None:
    lines = (OrderLine(line="1", offering="shelf"), OrderLine(line="2", sku="sh-90"))
    assert made_of(lines) == {"2": made_as("sh-90", {})}
