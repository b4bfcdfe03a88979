"""Pieces that are only asked for: what is missing, what they become, what an order still lacks."""

from datetime import date

import pytest
from bench import Bench
from coatledger.computations.simulate.shop import AT_ONCE
from coatledger.events.orders import OrderLine, OrderTaken
from coatledger.events.setup import OfferingDescribed, ScheduleDescribed, Step
from coatledger.open_shop.asked_for import Wanted, batch_of, lacking, pieces_of_line
from coatledger.open_shop.known import AGAIN_FROM_JOINERY, Known, known
from coatledger.subjects.asked import ask

STEPS = (Step(act="sand"), Step(act="coat", product="clear-w"), Step(act="pack"))


def shop() -> Bench:
    """Return a shop that sells shelves it has and boxes the joiner makes in six days."""
    bench = Bench("1 06:00").open_shop()
    bench.climate()
    bench.record(ScheduleDescribed, schedule="one", steps=STEPS)
    for offering, days in (("shelf", None), ("box", 6)):
        bench.record(
            OfferingDescribed, offering=offering, skus=(f"{offering}-1",), schedule="one",
            species="ash", coat_area_m2=0.6, joinery_days=days,
        )  # fmt: skip
    return bench


def facts_of(bench: Bench) -> Known:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        return known(reader, place, described, {})


@pytest.mark.parametrize(
    ("wanted", "missing"),
    [
        (Wanted(offering="stool"), "the description of offering stool"),
        (Wanted(schedule="nine", coat_area_m2=1.0), "the description of schedule nine"),
    ],
)
def test_what_is_missing_before_a_date_can_be_given_is_named(wanted: Wanted, missing: str) -> None:
    assert lacking(facts_of(shop()), wanted) == (missing,)


def test_a_schedule_whose_product_nobody_described_lacks_its_data_sheet() -> None:
    bench = shop()
    steps = (Step(act="coat", product="mystery"), Step(act="pack"))
    bench.record(ScheduleDescribed, schedule="odd", steps=steps)
    lacks = lacking(facts_of(bench), Wanted(schedule="odd", coat_area_m2=1.0))
    assert lacks == ("the data sheet of product mystery",)
    assert lacking(facts_of(bench), Wanted(offering="shelf-1")) == ()


def test_an_offering_is_found_by_its_word_and_by_its_sku() -> None:
    facts = facts_of(shop())
    now, due = Bench("1 06:00").now, date(2026, 3, 20)
    by_word, by_sku = (
        batch_of(facts, Wanted(offering=word, quantity=3), "x", "order", now, due)
        for word in ("shelf", "shelf-1")
    )
    assert by_word == by_sku
    assert by_word is not None
    assert (by_word.pieces, by_word.due, by_word.position) == (3, due, 0)
    assert by_word.operations[-1].name == "pack"


def test_only_what_the_joiner_makes_waits_for_him() -> None:
    facts = facts_of(shop())
    now, due = Bench("1 06:00").now, date(2026, 3, 20)
    shelf = batch_of(facts, Wanted(offering="shelf"), "x", "order", now, due)
    box = batch_of(facts, Wanted(offering="box"), "x", "order", now, due)
    sooner = batch_of(facts, Wanted(offering="box", joinery_days=2), "x", "order", now, due)
    assert shelf is not None
    assert shelf.ready_in == AT_ONCE
    assert shelf.joinery_lead == AGAIN_FROM_JOINERY
    assert box is not None
    assert sooner is not None
    assert box.ready_in.p50 == pytest.approx(3.0 * sooner.ready_in.p50)


def test_of_the_joiners_days_those_since_the_order_have_passed() -> None:
    bench = shop()
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=4, offering="box"),))
    bench.later(48.0)
    facts = facts_of(bench)
    order = facts.view.order("o1")
    (batch,) = pieces_of_line(facts, order, order.lines[0], 3)
    assert (batch.id, batch.order, batch.pieces) == ("order:o1/1", "order:o1", 3)
    assert batch.passed_min == 48.0 * 60.0


def test_a_line_that_names_nothing_described_is_left_out_and_said() -> None:
    bench = shop()
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", offering="stool"),))
    facts = facts_of(bench)
    order = facts.view.order("o1")
    assert list(pieces_of_line(facts, order, order.lines[0], 1)) == []
    assert any("offering stool is missing" in text for text in facts.assumed)
