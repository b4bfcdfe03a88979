"""Which pieces are meant: an order's, but for those scrapped, or those that are named."""

from bench import Bench
from coatledger.events.leaving import Scrapped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.subjects.whose import Meant, meant


def bench_with_an_order() -> Bench:
    bench = Bench().open_shop()
    bench.pieces("c", "a", "b", "d")
    bench.record(OrderTaken, order="O-1", lines=(OrderLine(line="1", quantity=3, sku="bt"),))
    bench.record(PieceAllotted, pieces=("c", "a", "b"), order="O-1", line="1")
    return bench


def words(found: Meant) -> list[str]:
    return [piece.piece for piece in found.pieces]


def test_an_orders_pieces_come_by_their_words_without_those_scrapped() -> None:
    bench = bench_with_an_order()
    found = meant(bench.view(), "O-1", ())
    assert words(found) == ["a", "b", "c"]
    assert found.order is not None
    bench.later(1).record(Scrapped, pieces=("b",))
    assert words(meant(bench.view(), "O-1", ())) == ["a", "c"]


def test_named_pieces_come_as_they_were_named() -> None:
    found = meant(bench_with_an_order().view(), None, ("d", "a"))
    assert words(found) == ["d", "a"]
    assert found.missing == ()


def test_an_order_and_pieces_come_together_each_once() -> None:
    bench = bench_with_an_order()
    assert words(meant(bench.view(), "O-1", ("d", "a"))) == ["a", "b", "c", "d"]
    bench.later(1).record(Scrapped, pieces=("d",))
    assert words(meant(bench.view(), None, ("d",))) == ["d"], "who is named is meant"


def test_words_nobody_used_are_named() -> None:
    bench = bench_with_an_order()
    assert meant(bench.view(), "O-9", ()) == Meant((), None, ("O-9",))
    found = meant(bench.view(), None, ("a", "x", "y"))
    assert (words(found), found.missing) == (["a"], ("x", "y"))
