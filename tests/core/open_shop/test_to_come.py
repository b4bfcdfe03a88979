"""Orders to come: such as came in the last weeks, as often, and only where they may come first."""

from datetime import timedelta

import pytest
from bench import Bench
from coatledger.computations.simulate.shop import Batch, OpenShop, require_possible
from coatledger.events.bare import PieceStarted
from coatledger.events.orders import OrderCancelled, OrderLine, OrderTaken, PieceAllotted
from coatledger.events.setup import OfferingDescribed, ScheduleDescribed, Step
from coatledger.open_shop.known import known
from coatledger.open_shop.shop_now import shop_now
from coatledger.open_shop.to_come import PER_ORDER, past_orders, with_what_may_come
from coatledger.subjects.asked import ask

STEPS = (Step(act="sand"), Step(act="coat", product="clear-w"), Step(act="pack"))
DUE_DAYS = 12


def shop() -> Bench:
    bench = Bench("1 06:00").open_shop()
    bench.climate()
    bench.record(ScheduleDescribed, schedule="one", steps=STEPS)
    bench.record(
        OfferingDescribed, offering="box", skus=("box",), schedule="one", species="cherry",
        coat_area_m2=0.3,
    )  # fmt: skip
    return bench


def take(bench: Bench, word: str, due_days: int = DUE_DAYS, quantity: int = 2) -> None:
    bench.record(
        OrderTaken, order=word, wanted_by=bench.now.date() + timedelta(days=due_days),
        lines=(OrderLine(line="1", quantity=quantity, offering="box"),),
    )  # fmt: skip


def ahead(bench: Bench) -> tuple[OpenShop, tuple[Batch, ...], tuple[str, ...]]:
    """Return the shop with what may come, those batches, and what was assumed."""
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        facts = known(reader, place, described, {})
        found = with_what_may_come(facts, shop_now(reader, place, facts, (), {}))
    return found, tuple(b for b in found.batches if b.chance < 1.0), tuple(facts.assumed)


def traded(every_days: float, days: float = 28.0) -> Bench:
    """Return a shop that took an order so often, for so many days."""
    bench = shop()
    for number in range(int(days / every_days)):
        bench.later(24.0 * every_days)
        take(bench, f"o{number}")
    return bench


def test_a_young_order_book_says_nothing_and_that_is_said() -> None:
    bench = shop()
    for number in range(9):
        take(bench, f"o{number}")
    _, coming, assumed = ahead(bench)
    assert coming == ()
    assert any("orders still to come are not counted" in text for text in assumed)


@pytest.mark.parametrize("every_days", [0.5, 2.0])
def test_as_many_come_as_came_and_all_are_due_before_the_last(every_days: float) -> None:
    found, coming, assumed = ahead(traded(every_days))
    require_possible(found)
    sure = [batch for batch in found.batches if batch.chance == 1.0]
    last = max(batch.due for batch in sure)
    assert last == found.now.date() + timedelta(days=DUE_DAYS)
    assert all(batch.due <= last for batch in coming)
    assert all(batch.chance == pytest.approx(1.0 / PER_ORDER) for batch in coming)
    # Who comes before midnight is due by then: that much of a day's trade.
    assert sum(b.chance for b in coming) == pytest.approx(0.75 / every_days, abs=0.4)
    assert not any("orders still to come" in text for text in assumed)


def test_only_who_is_due_sooner_than_the_last_comes_before_it() -> None:
    bench = traded(0.5)
    take(bench, "far", due_days=DUE_DAYS + 10)
    found, coming, _ = ahead(bench)
    days = sum(batch.chance for batch in coming) * 0.5
    assert days == pytest.approx(10.0, abs=1.5)
    assert min(b.ready_in.p50 for b in coming) < 1_440.0
    assert max(b.ready_in.p50 for b in coming) < 12 * 1_440.0
    assert max(b.due for b in coming) <= max(b.due for b in found.batches if b.chance == 1.0)


def test_an_order_to_come_waits_for_its_pieces_as_long_as_those_before_it_did() -> None:
    bench = shop()
    for number in range(20):
        take(bench, f"o{number}", quantity=1, due_days=20)
        bench.later(24.0)
        bench.record(
            PieceStarted, pieces=(f"p{number}",), kind="box", species="cherry",
            coat_area_m2=0.3, use="box", schedule="one",
        )  # fmt: skip
        bench.record(PieceAllotted, pieces=(f"p{number}",), order=f"o{number}", line="1")
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        past, days = past_orders(known(reader, place, described, {}))
    assert len(past) == 20
    assert days == pytest.approx(20.0, abs=0.1)
    assert {one.due_days for one in past} == {20}
    assert [m for one in past for m in one.supply_min] == pytest.approx([1_440.0] * 20)


def test_who_cancelled_did_not_come() -> None:
    bench = traded(1.0)
    before = len(ahead(bench)[1])
    for number in range(20):
        bench.record(OrderCancelled, order=f"o{number}")
    assert len(ahead(bench)[1]) < before
