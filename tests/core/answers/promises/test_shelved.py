"""What stands on the shelf leaves with the next pick-up, alone and beside what is made."""

from datetime import date
from typing import Any

from bench import Bench
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.shelved import made_of, shelved
from coatledger.events.bare import PieceStarted
from coatledger.events.leaving import Packed
from coatledger.events.orders import OrderLine
from coatledger.open_shop.asked_for import Wanted
from coatledger.open_shop.shelf import made_as
from coatledger.subjects.asked import ask
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
    assert (found.turns, found.day) == (frozenset((0, 2)), date(2026, 3, 2))


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


def test_after_closing_it_leaves_with_the_pick_up_after_it() -> None:
    bench = stocked(1)
    bench.at("1 17:30")
    assert told(bench, ONE).ships_by == date(2026, 3, 3)


def test_lines_without_a_sku_name_nothing_on_the_shelf() -> None:
    lines = (OrderLine(line="1", offering="shelf"), OrderLine(line="2", sku="sh-90"))
    assert made_of(lines) == {"2": made_as("sh-90", {})}
