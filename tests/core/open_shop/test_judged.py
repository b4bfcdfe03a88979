"""What became of promises: by the first day told, when the last of it left, corrections and all."""

from __future__ import annotations

from datetime import date
from typing import Any

from bench import Bench
from coatledger.events.leaving import HandedOver, Shipped
from coatledger.events.orders import (
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)
from coatledger.open_shop.judged import FREE, Judged, judged
from coatledger.subjects.asked import ask
from promise_shop import shop

DAYS: dict[str, Any] = {
    "p50": date(2026, 3, 9), "p80": date(2026, 3, 11), "p90": date(2026, 3, 12),
    "p95": date(2026, 3, 13),
}  # fmt: skip


def ordered(bench: Bench, word: str, *lines: OrderLine, together: bool = True) -> None:
    lines = lines or (OrderLine(line="1", quantity=1, offering="shelf"),)
    bench.record(OrderTaken, order=word, lines=lines, together=together)
    for line in lines:
        pieces = tuple(f"{word}-{line.line}{n}" for n in range(line.quantity))
        bench.pieces(*pieces)
        bench.record(PieceAllotted, pieces=pieces, order=word, line=line.line)


def promise(bench: Bench, word: str, by: date, **more: Any) -> PromiseMade:
    return bench.record(PromiseMade, order=word, ships_by=by, level_pct=80.0, **more)


def all_of(bench: Bench, **place: Any) -> list[Judged]:
    with bench.store.reading() as reader:
        return list(judged(reader, ask(reader, bench.now, **place), "UTC"))


def test_the_first_word_counts_and_the_day_the_last_piece_left() -> None:
    bench = shop()
    ordered(bench, "o1", OrderLine(line="1", quantity=2, sku="sh-90"))
    promise(bench, "o1", date(2026, 3, 11), chance_pct=84.0, **DAYS)
    bench.record(PromiseRevised, order="o1", ships_by=date(2026, 3, 20), level_pct=80.0)
    bench.at("5 09:00").record(Shipped, pieces=("o1-10",), order="o1")
    (here,) = all_of(bench)
    assert here.left_on is None
    bench.at("11 09:00").record(HandedOver, pieces=("o1-11",), order="o1")
    (one,) = all_of(bench)
    assert (one.ships_by, one.left_on, one.is_kept) == (date(2026, 3, 11), date(2026, 3, 12), False)
    assert (one.told_on, one.chance_pct) == (date(2026, 3, 2), 84.0)
    assert one.days == tuple(DAYS.values())
    assert one.offerings == ("shelf",)


def test_lines_with_days_of_their_own_are_judged_each() -> None:
    bench = shop()
    few = OrderLine(line="few", quantity=1, offering="shelf")
    free = OrderLine(line="free", quantity=1, coat_area_m2=0.5)
    ordered(bench, "o1", few, free, together=False)
    promise(bench, "o1", date(2026, 3, 4), line="few")
    promise(bench, "o1", date(2026, 3, 9), line="free")
    bench.at("3 09:00").record(Shipped, pieces=("o1-few0",), order="o1")
    bench.record(OrderCancelled, order="o1")
    first, second = all_of(bench)
    assert (first.line, first.is_kept, first.is_off, first.days) == ("few", True, False, ())
    assert (second.line, second.left_on, second.is_off) == ("free", None, True)
    assert second.offerings == (FREE,)


def test_a_shipment_that_never_was_keeps_no_promise_and_the_past_is_known_as_it_was() -> None:
    bench = shop()
    ordered(bench, "o1")
    promise(bench, "o1", date(2026, 3, 11))
    left = bench.at("5 09:00").record(Shipped, pieces=("o1-10",), order="o1")
    then = bench.now
    assert all_of(bench)[0].is_kept
    bench.later(2).void(left)
    assert all_of(bench)[0].left_on is None
    assert all_of(bench, known_at=then)[0].left_on == date(2026, 3, 6)
    assert all_of(bench, as_of=then)[0].left_on is None
    ordered(bench, "o2")
    assert [one.order for one in all_of(bench)] == ["o1"]
