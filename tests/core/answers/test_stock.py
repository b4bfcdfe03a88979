"""Finish on hand and needed: cans with their ends, litres with their range, where it runs out."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.stock import StockAnswer, stock
from coatledger.events.bare import PieceExpected
from coatledger.events.finish import LotFrozen, LotMeasured, LotMixed, LotReceived, Parent
from coatledger.events.leaving import Shipped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.events.setup import OfferingDescribed, ScheduleDescribed, Step
from coatledger.subjects.asked import ask


def shop(coats: int = 2) -> Bench:
    bench = Bench().open_shop()
    bench.climate()
    steps = (Step(act="coat", product="clear-w", wet_film_um=100.0),) * coats
    bench.record(ScheduleDescribed, schedule="s", steps=steps, faces=("all",))
    return bench


def told(bench: Bench, **times: datetime) -> StockAnswer:
    with bench.store.reading() as reader:
        return stock(reader, ask(reader, bench.now, **times))


def test_needed_litres_are_film_times_area_over_what_stays() -> None:
    """100 um on 2 m2 is 0.2 L on the wood, of which 65 % of what leaves an HVLP gun stays there
    (SCAQMD; 75 % and 50 % are the range): 0.267, 0.308, 0.4 L a coat, two coats."""
    bench = shop()
    bench.pieces("a", coat_area_m2=2.0, schedule="s")
    needed = told(bench).products[0].outlook.needed_l
    assert needed.low == pytest.approx(2 * 0.2 / 0.75)
    assert needed.likely == pytest.approx(2 * 0.2 / 0.65)
    assert needed.high == pytest.approx(2 * 0.2 / 0.50)


def test_it_runs_out_at_a_piece_and_a_time() -> None:
    bench = shop(coats=1)
    bench.pieces("a", "b", "c", coat_area_m2=2.0, schedule="s")
    bench.record(LotMeasured, lot="can-1", left_l=0.7)
    found = told(bench).products[0].outlook
    assert found.likely is not None
    assert found.likely.piece == "c"
    assert found.earliest is not None
    assert found.earliest.piece == "b"
    assert found.latest is not None
    assert found.latest.piece == "c"
    assert found.to_buy_l.likely == pytest.approx(3 * 0.2 / 0.65 - 0.7)


def test_a_can_ends_with_its_use_by_day_and_a_mix_with_its_pot_life() -> None:
    bench = shop()
    bench.record(LotReceived, lot="old", product="clear-w", amount_l=1.0, use_by=date(2026, 3, 1))
    bench.at("2 09:00").record(
        LotMixed, lot="mix", product="clear-w", pot_life_h=4.0,
        parents=(Parent(lot="can-1", amount_l=1.0),),
    )  # fmt: skip
    cans = {can.lot: can for can in told(bench).products[0].cans}
    assert cans["old"].usable_until == datetime(2026, 3, 2, tzinfo=UTC)
    assert cans["old"].unusable == "past use-by"
    assert (cans["mix"].usable_until, cans["mix"].unusable) == (on_day("2 13:00"), None)
    assert cans["can-1"].left_l == 4.0
    later = {can.lot: can for can in told(bench.at("2 14:00")).products[0].cans}
    assert later["mix"].unusable == "past pot life"


def test_frozen_and_unmeasured_cans_are_told() -> None:
    bench = shop()
    bench.can("can-2", "clear-w")
    bench.record(LotFrozen, lot="can-2")
    bench.pieces("a", schedule="s")
    bench.coat("a")
    product = told(bench).products[0]
    assert {can.lot: can.unusable for can in product.cans}["can-2"] == "frozen"
    assert any("without saying how much" in words for words in product.assumed)
    assert product.outlook.usable_l == 5.0


def test_pieces_whose_next_coat_names_no_product_are_listed() -> None:
    bench = Bench().open_shop()
    bench.climate()
    bench.pieces("a")
    assert told(bench).unplanned == ("a",)


def test_the_past_knows_what_was_left_then() -> None:
    bench = shop()
    then = bench.now
    bench.later(5).record(LotMeasured, lot="can-1", left_l=0.5)
    assert told(bench).products[0].cans[0].left_l == 0.5
    assert told(bench, as_of=then).products[0].cans[0].left_l == 5.0


def offered(bench: Bench, **order: Any) -> None:
    bench.record(OfferingDescribed, offering="shelf", skus=("S-1",), schedule="s", coat_area_m2=2.0)
    line = OrderLine(line="1", quantity=3, offering="shelf")
    bench.record(OrderTaken, order="O-1", lines=(line,), **order)


def test_ordered_work_that_has_not_begun_takes_finish_too() -> None:
    """Three shelves of 2 m2, one coat of 100 um: 0.6 L on the wood, 0.923 L at 65 %."""
    bench = shop(coats=1)
    offered(bench, wanted_by=date(2026, 3, 20))
    product = told(bench).products[0]
    assert product.promised_l.likely == pytest.approx(0.6 / 0.65)
    assert product.open_l.likely == 0.0
    assert product.outlook.needed_l.likely == product.promised_l.likely
    bench.record(LotMeasured, lot="can-1", left_l=0.1)
    short = told(bench).products[0].outlook.likely
    assert short is not None
    assert (short.piece, short.at) == ("order O-1, line 1", on_day("17 08:00"))
    assert any("2 days before its date" in words for words in told(bench).products[0].assumed)


def test_a_piece_that_was_allotted_is_no_longer_only_promised() -> None:
    bench = shop(coats=1)
    offered(bench)
    bench.pieces("a", coat_area_m2=2.0, schedule="s")
    bench.record(PieceAllotted, pieces=("a",), order="O-1", line="1")
    product = told(bench).products[0]
    assert product.promised_l.likely == pytest.approx(2 * 0.2 / 0.65)
    assert product.open_l.likely == pytest.approx(0.2 / 0.65)


def test_a_piece_due_from_the_joinery_takes_its_finish_when_it_comes() -> None:
    bench = shop(coats=1)
    bench.record(
        PieceExpected, pieces=("due",), likely_on=date(2026, 3, 9), coat_area_m2=2.0, schedule="s"
    )
    bench.record(LotMeasured, lot="can-1", left_l=0.0)
    short = told(bench).products[0].outlook.likely
    assert short is not None
    assert (short.piece, short.at) == ("due", on_day("8 08:00"))


def test_an_order_of_nobody_knows_what_is_listed() -> None:
    bench = shop()
    bench.record(OrderTaken, order="O-2", lines=(OrderLine(line="1", sku="X"),))
    assert told(bench).unplanned == ("order O-2, line 1",)


def two_part() -> Bench:
    bench = Bench().open_shop()
    bench.climate()
    bench.clear("hard", pot_life_h=2.0)
    bench.clear("hardener", use="crosslinker")
    bench.can("base-1", "hard")
    bench.can("h-1", "hardener", 0.02)
    parents = (
        Parent(lot="base-1", amount_l=0.9),
        Parent(lot="h-1", amount_l=0.1, part="crosslinker"),
    )
    bench.record(LotMixed, lot="mix", product="hard", parents=parents)
    steps = (Step(act="coat", product="hard", wet_film_um=100.0),)
    bench.record(ScheduleDescribed, schedule="s", steps=steps, faces=("all",))
    return bench


def test_a_mix_takes_each_part_from_its_own_cans() -> None:
    bench = two_part()
    bench.pieces("a", coat_area_m2=2.0, schedule="s")
    found = {product.product: product for product in told(bench).products}
    assert found["hard"].open_l.likely == pytest.approx(0.9 * 0.2 / 0.65)
    assert found["hardener"].open_l.likely == pytest.approx(0.1 * 0.2 / 0.65)
    assert found["hardener"].outlook.likely is not None
    assert found["hardener"].outlook.likely.piece == "a"


def test_the_next_batch_says_what_to_mix_and_until_when() -> None:
    """0.308 L of mix and 0.05 L for the cup; nine parts to one; two hours by the sheet."""
    bench = two_part()
    bench.pieces("a", coat_area_m2=2.0, schedule="s")
    found = {product.product: product for product in told(bench).products}
    batch = found["hard"].next_batch
    assert batch is not None
    assert (batch.on, batch.pieces, batch.as_lot) == (date(2026, 3, 2), ("a",), "mix")
    (pot,) = batch.pots
    assert pot.litres == pytest.approx(0.2 / 0.65 + 0.05)
    assert [(p.product, p.part) for p in pot.parts] == [
        ("hard", "base"), ("hardener", "crosslinker"),
    ]  # fmt: skip
    assert pot.parts[0].litres == pytest.approx(0.9 * pot.litres)
    assert pot.use_until == on_day("1 09:00")
    assert batch.lost_l == pytest.approx(0.05)


def test_what_comes_from_the_can_is_not_mixed() -> None:
    bench = shop()
    bench.pieces("a", coat_area_m2=2.0, schedule="s")
    batch = told(bench).products[0].next_batch
    assert batch is not None
    assert (batch.pots, batch.as_lot) == ((), None)


def test_an_order_that_has_left_wants_nothing_more() -> None:
    bench = shop(coats=1)
    offered(bench)
    bench.pieces("a", "b", "c", coat_area_m2=2.0, schedule="s")
    bench.record(PieceAllotted, pieces=("a", "b", "c"), order="O-1", line="1")
    bench.coat("a", "b", "c", faces=("all",))
    bench.later(40).record(Shipped, pieces=("a", "b", "c"), order="O-1")
    assert told(bench).products[0].outlook.needed_l.likely == 0.0
    with bench.store.reading() as reader:
        assert [stored.subject for stored in reader.shelf("order", ("done",), "", 10)] == [
            "order:O-1"
        ]
