"""What travels with a batch: steps in order, done or to do, targets, waits and cautions."""

from datetime import date
from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.traveller import TravellerAnswer, TravellerSheet, traveller
from coatledger.clocks.clocks import piece_clock
from coatledger.computations.drying import Spread
from coatledger.events.finish import LotDiscarded
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.preparing import BlownOff, Sanded
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.asked import ask

STEPS = (
    Step(act="sand", grit=150),
    Step(act="blow_off"),
    Step(act="coat", product="clear-w", role="sealer"),
    Step(act="scuff", grit=320),
    Step(act="coat", product="clear-w", role="top", wet_film_um=90.0),
    Step(act="inspect"),
    Step(act="pack"),
)


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.record(ScheduleDescribed, schedule="two", steps=STEPS, name="two coats")
    bench.climate()
    return bench


def told(bench: Bench, *words: str, order: str | None = None, **more: Any) -> TravellerAnswer:
    with bench.store.reading() as reader:
        return traveller(reader, ask(reader, bench.now), order, words, **more)


def sheet(bench: Bench, *words: str, **more: Any) -> TravellerSheet:
    (found,) = told(bench, *words, **more).sheets
    return found


def test_steps_come_in_order_with_their_targets_and_cans() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    bench.can("can-2", "clear-w")
    found = sheet(bench, "a", "b")
    assert (found.schedule, found.name, found.area_m2) == ("two", "two coats", 1.0)
    assert [(s.number, s.act) for s in found.steps] == list(enumerate((x.act for x in STEPS), 1))
    first, second = (step for step in found.steps if step.act == "coat")
    assert (first.wet_film_um, second.wet_film_um) == (100.0, 90.0)
    assert (first.wet_film_min_um, first.wet_film_max_um) == (75.0, 125.0)
    assert first.cans == ("can-1", "can-2")
    bench.later(1).record(LotDiscarded, lot="can-1", why="empty")
    assert sheet(bench, "a").steps[2].cans == ("can-2",)
    assert found.steps[0].cans == ()


def test_what_every_piece_has_behind_it_is_done_and_the_rest_is_not() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    bench.later(0.2).record(Sanded, pieces=("a", "b"), stage="bare", grit=150, by="machine")
    bench.later(0.1).record(BlownOff, pieces=("a",), by="vacuum")
    done = [step.done for step in sheet(bench, "a", "b").steps]
    assert done == [True, False, False, False, False, False, False]
    bench.later(0.1).coat("a", "b")
    done = [step.done for step in sheet(bench, "a", "b").steps]
    assert done == [True, True, True, False, False, False, False]
    assert [piece.coats_done for piece in sheet(bench, "a", "b").pieces] == [1, 1]
    assert sheet(bench, "a").steps[2].waits == (), "what is done waits for nothing here"


def test_a_film_waits_as_long_as_its_clock_will_say_once_it_is_on() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    waits = {wait.before: wait for wait in sheet(bench, "a").steps[2].waits}
    assert list(waits) == ["scuff"]
    bench.coat("a", wet_film_um=100.0)
    clock = piece_clock(bench.view(), bench.view().piece("a"), bench.now_us).on("show")
    assert clock is not None
    sandable = clock.at("sandable")
    for hours, when in ((waits["scuff"].likely_h, sandable.likely),
                        (waits["scuff"].sure_h, sandable.sure)):  # fmt: skip
        assert when is not None
        # The clock rounds its path to its own steps; both say the same to a few minutes.
        assert hours == pytest.approx((when - bench.now).total_seconds() / 3600, abs=0.1)
    last = sheet(bench, "a").steps[4].waits
    assert [wait.before for wait in last] == ["inspect", "pack"]
    assert all(w.likely_h is not None and w.sure_h is not None and w.likely_h <= w.sure_h
               for w in last)  # fmt: skip


def test_what_the_shop_has_learned_of_a_finish_stretches_its_waits() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    plain = sheet(bench, "a").steps[2].waits[0]
    slow = sheet(bench, "a", factors={"clear-w": Spread(1.8, 2.0, 2.2)}).steps[2].waits[0]
    assert plain.likely_h is not None
    assert slow.likely_h is not None
    assert slow.likely_h > 1.5 * plain.likely_h


def test_pieces_of_different_schedules_travel_on_sheets_of_their_own() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    bench.pieces("c")
    first, second = told(bench, "a", "b", "c").sheets
    assert [piece.piece for piece in first.pieces] == ["a", "b"]
    assert [piece.piece for piece in second.pieces] == ["c"]
    assert second.schedule is None
    assert "the usual one" in second.assumed[0]


def test_cautions_of_its_acts_come_once() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    codes = [caution.code for caution in sheet(bench, "a").cautions]
    assert len(codes) == len(set(codes))
    assert {"dust", "blow_off_dust", "spray_mist", "spray_residue"} <= set(codes)


def test_an_order_is_due_when_its_customer_was_told() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="two")
    bench.record(OrderTaken, order="O-1", wanted_by=date(2026, 3, 20),
                 lines=(OrderLine(line="1", sku="bt"),))  # fmt: skip
    bench.record(PieceAllotted, pieces=("b",), order="O-1", line="1")
    found = told(bench, order="O-1")
    assert (found.order, found.due) == ("O-1", "2026-03-20")
    assert [piece.piece for piece in found.sheets[0].pieces] == ["b"]
    bench.record(PromiseMade, order="O-1", ships_by=date(2026, 3, 25), level_pct=80)
    assert told(bench, order="O-1").due == "2026-03-25"
    assert told(bench, order="O-9").missing == ("O-9",)
    assert told(bench, "a", "x").missing == ("x",)


def test_it_is_asked_of_one_time() -> None:
    bench = shop()
    bench.pieces("a", schedule="two")
    bench.later(2).coat("a")
    with bench.store.reading() as reader:
        before = traveller(reader, ask(reader, bench.now, on_day("1 08:00")), None, ("a",))
    assert not before.sheets[0].steps[2].done
    assert sheet(bench, "a").steps[2].done
