"""How an order's pieces lie along its lines."""

import pytest
from bench import Bench
from coatledger.events.judging import Inspected
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.subjects.order_lines import LineStands, lines_of


def ordered() -> Bench:
    bench = Bench("1 07:00").open_shop()
    bench.pieces("a", "b", "c", "d")
    bench.record(
        OrderTaken, order="o", lines=(OrderLine(line="1", quantity=2), OrderLine(line="2")),
        together=False,
    )  # fmt: skip
    return bench


def stands(bench: Bench) -> tuple[LineStands, ...]:
    view = bench.view()
    with bench.store.reading():
        return lines_of(view.order("o"), view.piece)


def test_an_order_of_which_nothing_is_begun_lacks_everything() -> None:
    assert [(one.line, one.not_begun, one.rest) for one in stands(ordered())] == [
        ("1", 2, 2), ("2", 1, 1),
    ]  # fmt: skip


def test_pieces_count_for_their_line_and_others_fill_the_lines_in_order() -> None:
    bench = ordered()
    bench.record(PieceAllotted, pieces=("c",), order="o", line="2")
    bench.record(PieceAllotted, pieces=("a",), order="o")
    first, second = stands(bench)
    assert (first.under_way, first.not_begun) == (("a",), 1)
    assert (second.under_way, second.not_begun) == (("c",), 0)


@pytest.mark.parametrize("order", [None, "other"])
def test_a_piece_that_was_given_to_another_no_longer_counts(order: str | None) -> None:
    bench = ordered()
    bench.record(PieceAllotted, pieces=("a",), order="o", line="1")
    bench.record(OrderTaken, order="other", lines=(OrderLine(line="1"),))
    bench.record(PieceAllotted, pieces=("a",), order=order)
    assert stands(bench)[0].under_way == ()


def test_what_is_packed_and_what_has_left_are_told_apart() -> None:
    bench = ordered()
    bench.record(PieceAllotted, pieces=("a", "b"), order="o", line="1")
    bench.record(Inspected, pieces=("a", "b"), point="final", passed=True)
    bench.record(Packed, pieces=("a", "b"), touching="paper")
    bench.record(Shipped, pieces=("b",), order="o")
    first, _ = stands(bench)
    assert (first.packed, first.shipped, first.rest, first.not_begun) == (("a",), ("b",), 1, 0)


def test_more_pieces_than_ordered_stay_with_the_first_line() -> None:
    bench = ordered()
    bench.record(PieceAllotted, pieces=("a", "b", "c", "d"), order="o")
    first, second = stands(bench)
    assert (first.under_way, second.under_way) == (("a", "b", "d"), ("c",))
