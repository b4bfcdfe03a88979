"""The open shop as its ledger tells of it: batches where they stand, and how they fit the rack."""

from datetime import date, timedelta

import pytest
from bench import Bench
from coatledger.computations.simulate.shop import AT_ONCE, Batch, OpenShop, require_possible
from coatledger.events.bare import PieceExpected
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted
from coatledger.events.setup import ClosureAnnounced, ScheduleDescribed, Step
from coatledger.open_shop.known import STOCK_DUE, known
from coatledger.open_shop.shop_now import shop_now, that_fit
from coatledger.subjects.asked import ask

STEPS = (
    Step(act="sand"), Step(act="coat", product="clear-w"), Step(act="scuff"),
    Step(act="coat", product="clear-w"), Step(act="inspect"), Step(act="pack"),
)  # fmt: skip


def shop(**described: object) -> Bench:
    bench = Bench("1 06:00").open_shop(**described)
    bench.climate()
    bench.record(ScheduleDescribed, schedule="two", steps=STEPS)
    return bench


def now_of(bench: Bench) -> OpenShop:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        described = place.view(reader).shop()
        assert described is not None
        return shop_now(reader, place, known(reader, place, described, {}), (), {})


def by_order(found: OpenShop) -> dict[str, list[Batch]]:
    rows: dict[str, list[Batch]] = {}
    for batch in found.batches:
        rows.setdefault(batch.order, []).append(batch)
    return rows


def test_pieces_of_one_order_at_one_place_move_together_and_stock_comes_last() -> None:
    bench = shop()
    bench.pieces("a", "b", "c", schedule="two")
    bench.pieces("s", schedule="two")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=3),))
    bench.record(PieceAllotted, pieces=("a", "b", "c"), order="o1")
    bench.coat("a", "b")
    bench.later(0.5)
    found = now_of(bench)
    require_possible(found)
    rows = by_order(found)
    assert sorted(batch.pieces for batch in rows["order:o1"]) == [1, 2]
    assert [batch.due for batch in rows["stock:s"]] == [STOCK_DUE]
    wet = next(batch for batch in rows["order:o1"] if batch.pieces == 2)
    assert wet.ready_is_wait
    assert wet.passed_min == pytest.approx(30.0)
    assert wet.operations[wet.position].name == "scuff"


def test_what_was_ordered_and_not_begun_is_there_too_and_not_twice() -> None:
    bench = shop()
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=3),))
    assert [batch.pieces for batch in by_order(now_of(bench))["order:o1"]] == [3]
    bench.pieces("a", schedule="two")
    bench.record(PieceAllotted, pieces=("a",), order="o1")
    assert sorted(batch.pieces for batch in by_order(now_of(bench))["order:o1"]) == [1, 2]


def test_a_piece_that_is_expected_comes_on_its_day_and_a_late_one_tomorrow() -> None:
    bench = shop()
    for word, day in (("a", 12), ("late", 1)):
        bench.record(
            PieceExpected, pieces=(word,), likely_on=date(2026, 3, day), schedule="two",
            species="ash", coat_area_m2=0.5,
        )  # fmt: skip
    rows = by_order(now_of(bench))
    left = {
        word: batch.ready_in.p50 - batch.passed_min
        for word in ("a", "late")
        for batch in rows[f"stock:{word}"]
    }
    assert left == {"a": 10 * 1_440.0 + 360.0, "late": 1_440.0}


def test_the_shop_has_the_hours_closures_and_places_that_were_described() -> None:
    bench = shop(rack_places=7, pickup_cutoff="15:30", people=2)
    bench.record(ClosureAnnounced, first_day=date(2026, 3, 5), last_day=date(2026, 3, 6))
    found = now_of(bench)
    assert (found.rack_places, len(found.people), str(found.cut_off)) == (7, 2, "15:30:00")
    assert sum((c.ends_at - c.starts_at for c in found.closures), timedelta()).days == 2
    assert found.now == bench.now


def test_more_than_the_rack_holds_is_cut_into_batches_that_fit() -> None:
    bench = shop(rack_places=4)
    bench.pieces(*(f"p{n}" for n in range(10)), schedule="two")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=10),))
    bench.record(PieceAllotted, pieces=tuple(f"p{n}" for n in range(10)), order="o1")
    found = now_of(bench)
    require_possible(found)
    assert [batch.pieces for batch in found.batches] == [4, 4, 2]
    assert len({batch.id for batch in found.batches}) == 3
    assert that_fit(found.batches, None) == found.batches


def test_a_batch_that_waits_for_nothing_begins_at_once() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    (batch,) = now_of(bench).batches
    assert batch.ready_in == AT_ONCE


def test_what_lies_on_a_piece_has_dried_meanwhile_below_what_is_put_over_it() -> None:
    bench = shop()
    bench.clear("slow", recoat_h=24.0, stack_h=60.0, wrap_h=120.0, cure_h=500.0)
    bench.clear("fast", recoat_h=1.0, stack_h=2.0, wrap_h=4.0, cure_h=24.0)
    bench.can("can-s", "slow")
    coats = (Step(act="coat", product="slow"), Step(act="coat", product="fast"))
    bench.record(ScheduleDescribed, schedule="both", steps=(*coats, Step(act="pack")))
    bench.pieces("a", schedule="both")
    bench.coat("a", lot="can-s")

    def wait_h() -> float:
        (batch,) = now_of(bench).batches
        assert batch.operations[batch.position].product == "fast"
        wait = batch.operations[batch.position].wait
        assert wait is not None
        return wait.p50 / 60.0

    bench.later(1.0)
    assert wait_h() == pytest.approx(120 - 24, abs=0.1)
    bench.later(79.0)
    assert wait_h() == pytest.approx(120 - 80, abs=0.1)
    bench.later(50.0)
    assert wait_h() == pytest.approx(4, abs=0.1)
