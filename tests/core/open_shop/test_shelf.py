"""What stands packed and is nobody's, counted before it is sold off the shelf."""

from typing import Any

from bench import Bench
from coatledger.events.bare import PieceStarted
from coatledger.events.judging import Held
from coatledger.events.leaving import Packed, Unpacked
from coatledger.events.orders import (
    HoldBefore,
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
)
from coatledger.open_shop.shelf import made_as, on_shelf
from coatledger.subjects.asked import ask
from promise_shop import shop

MATTE = {"sheen": "matte"}
LINE = OrderLine(line="1", sku="sh-90", options=MATTE)


def stocked(*words: str, **started: Any) -> Bench:
    """A shop with packed shelves that nobody ordered."""
    bench = shop()
    given = {"sku": "sh-90", "options": MATTE, **started}
    bench.record(
        PieceStarted, pieces=words, kind="shelf", species="ash", coat_area_m2=0.6, use="shelf",
        **given,
    )  # fmt: skip
    bench.record(Packed, pieces=words, touching="paper")
    return bench


def free(bench: Bench, line: OrderLine = LINE, *holds: HoldBefore) -> int:
    """How many of a line could be sold off the shelf."""
    with bench.store.reading() as reader:
        found = on_shelf(
            reader, ask(reader, bench.now), holds, (made_as(line.sku or "", line.options),)
        )
    return found[made_as(line.sku or "", line.options)]


def test_packed_pieces_of_the_same_sku_and_options_count_and_no_others() -> None:
    bench = stocked("s-1", "s-2")
    assert free(bench) == 2
    assert free(bench, OrderLine(line="1", sku="sh-90", options={"sheen": "satin"})) == 0
    assert free(bench, OrderLine(line="1", sku="sh-60", options=MATTE)) == 0
    assert free(stocked("s-1", sku=None, options={})) == 0


def test_a_piece_that_is_held_unpacked_or_allotted_is_not_for_sale() -> None:
    bench = stocked("s-1", "s-2", "s-3", "s-4")
    bench.record(Held, pieces=("s-1",), why="question")
    assert free(bench) == 3
    bench.record(Unpacked, pieces=("s-2",))
    assert free(bench) == 2
    bench.record(OrderTaken, order="o-1", lines=(LINE,))
    bench.record(PieceAllotted, pieces=("s-3",), order="o-1", line="1")
    assert free(bench) == 1


def test_what_orders_and_holds_still_lack_of_the_same_is_taken_off_first() -> None:
    bench = stocked("s-1", "s-2", "s-3")
    bench.record(OrderTaken, order="o-1", lines=(LINE,))
    assert free(bench) == 2
    hold = HoldBefore(hold="c-1", placed_at=bench.now, ships_by=bench.now.date(), lines=(LINE,))
    assert free(bench, LINE, hold) == 1
    assert free(bench, LINE, hold, hold, hold) == 0


def test_pieces_of_an_order_that_is_off_go_back_to_the_shelf() -> None:
    bench = stocked("s-1")
    bench.record(OrderTaken, order="o-1", lines=(LINE,))
    bench.record(PieceAllotted, pieces=("s-1",), order="o-1", line="1")
    assert free(bench) == 0
    bench.record(OrderCancelled, order="o-1")
    assert free(bench) == 1
