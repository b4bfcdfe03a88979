"""What is in the box: pieces by line, what touches their film, when they were packed and left."""

from bench import Bench
from coatledger.answers.packing_slip import PackingSlip, packing_slip
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.ledger.record import moment
from coatledger.subjects.asked import ask


def told(bench: Bench, order: str | None, *words: str) -> PackingSlip:
    with bench.store.reading() as reader:
        return packing_slip(reader, ask(reader, bench.now), order, words)


def test_a_slip_counts_what_is_here_of_each_line_and_names_no_customer() -> None:
    bench = Bench().open_shop()
    bench.pieces("a", "b", "c")
    lines = (OrderLine(line="1", quantity=2, sku="bt"), OrderLine(line="2", offering="shelf"))
    bench.record(OrderTaken, order="O-1", customer="c9", lines=lines)
    bench.record(PieceAllotted, pieces=("a", "b"), order="O-1", line="1")
    found = told(bench, "O-1")
    assert [(x.line, x.quantity, x.here, x.sku, x.offering) for x in found.lines] == [
        ("1", 2, 2, "bt", None), ("2", 1, 0, None, "shelf"),
    ]  # fmt: skip
    assert [piece.piece for piece in found.pieces] == ["a", "b"]
    assert "c9" not in str(found)


def test_how_it_was_packed_and_when_it_left_is_told() -> None:
    bench = Bench().open_shop()
    bench.pieces("a")
    (piece,) = told(bench, None, "a").pieces
    assert (piece.packed_at, piece.touching, piece.shipped_at) == (None, None, None)
    bench.later(5).record(Packed, pieces=("a",), touching="paper")
    packed_us = bench.now_us
    bench.later(1).record(Shipped, pieces=("a",))
    (piece,) = told(bench, None, "a").pieces
    assert (piece.packed_at, piece.touching) == (moment(packed_us), "paper")
    assert piece.shipped_at == moment(bench.now_us)
    assert told(bench, None, "x").missing == ("x",)
