"""What all batches share: by when an order is due, and what a piece still asks for."""

from datetime import date

from bench import Bench
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.preparing import Sanded
from coatledger.events.setup import ScheduleDescribed, ShopDescribed, Step
from coatledger.open_shop.known import LEAD_DAYS, STOCK_DUE, due_of, known, work_of
from coatledger.subjects.asked import ask
from msgspec.structs import replace

STEPS = (Step(act="sand"), Step(act="coat", product="clear-w"), Step(act="pack"))


def described(bench: Bench) -> ShopDescribed:
    found = bench.view().shop()
    assert found is not None
    return found


def test_an_order_is_due_when_told_else_wished_else_the_usual_days_later() -> None:
    bench = Bench("1 06:00").open_shop()
    line = (OrderLine(line="1"),)
    bench.record(OrderTaken, order="usual", lines=line)
    bench.record(OrderTaken, order="wished", lines=line, wanted_by=date(2026, 3, 9))
    bench.record(OrderTaken, order="told", lines=line, wanted_by=date(2026, 3, 9))
    for day in (12, 13):
        bench.record(PromiseMade, order="told", level_pct=80.0, ships_by=date(2026, 3, day))
    shop = described(bench)
    days = {word: due_of(bench.view().order(word), shop) for word in ("usual", "wished", "told")}
    assert days == {
        "usual": date(2026, 3, 2 + LEAD_DAYS),
        "wished": date(2026, 3, 9),
        "told": date(2026, 3, 13),
    }
    usual = bench.view().order("usual")
    assert due_of(usual, replace(shop, fallback_lead_days=5)) == date(2026, 3, 7)
    assert due_of(None, shop) == STOCK_DUE


def test_what_a_piece_asks_for_is_its_schedule_less_what_is_done() -> None:
    bench = Bench("1 06:00").open_shop()
    bench.climate()
    bench.record(ScheduleDescribed, schedule="one", steps=STEPS)
    bench.pieces("a", "b", schedule="one")
    bench.pieces("c")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=2),))
    bench.record(PieceAllotted, pieces=("a", "b"), order="o1")
    bench.record(Sanded, pieces=("b",), stage="bare", grit=150)
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        facts = known(reader, place, described(bench), {})
        whole, remaining = work_of(facts, facts.view.piece("a"))
        assert whole.steps == remaining == STEPS
        assert [step.act for step in work_of(facts, facts.view.piece("b"))[1]] == ["coat", "pack"]
        assert "a piece without a schedule goes the usual way of its use" not in facts.assumed
        assert work_of(facts, facts.view.piece("c"))[0].steps
        assert "a piece without a schedule goes the usual way of its use" in facts.assumed
        assert whole.rack == ""
        with_rack = replace(facts, described=replace(facts.described, rack_places=9))
        assert work_of(with_rack, facts.view.piece("a"))[0].rack == "rack"
