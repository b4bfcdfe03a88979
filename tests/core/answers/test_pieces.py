"""One piece and many: what is told, in what order, as of when, and when nothing is."""

from datetime import date, timedelta
from typing import Any

from bench import Bench, on_day
from coatledger.answers.pieces import PieceAnswer, clock_list, piece_answer, piece_list
from coatledger.events.coating import Moved
from coatledger.events.judging import DefectFound, Held
from coatledger.events.leaving import Scrapped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.orders import PromiseRevised as Revised
from coatledger.events.preparing import Sanded
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.asked import ask

STEPS = (
    Step(act="sand", grit=150),
    Step(act="coat", product="clear-w"),
    Step(act="scuff", grit=320),
    Step(act="coat", product="clear-w", role="top"),
    Step(act="pack"),
)


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.record(ScheduleDescribed, schedule="s", steps=STEPS)
    bench.climate()
    return bench


def answer(bench: Bench, piece: str = "a", **times: str) -> PieceAnswer | None:
    with bench.store.reading() as reader:
        placed = {name: on_day(words) for name, words in times.items()}
        return piece_answer(reader, piece, ask(reader, bench.now, **placed))


def told(bench: Bench, piece: str = "a", **times: str) -> PieceAnswer:
    found = answer(bench, piece, **times)
    assert found is not None
    return found


def test_the_schedule_proposes_and_the_film_allows() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    assert told(bench).next.act == "sand"
    bench.record(Sanded, pieces=("a",), stage="bare", grit=150)
    assert told(bench).next.act == "coat"
    bench.at("1 08:00").coat("a")
    next_step = told(bench.at("1 09:00")).next
    assert (next_step.act, next_step.grit) == ("scuff", 320)
    assert (next_step.waits_for, next_step.from_likely) == ("recoat", on_day("1 11:00"))
    assert told(bench.at("1 14:00")).next.waits_for is None
    assert (told(bench).coats_done, told(bench).coats_wanted) == (1, 2)


def test_the_steps_after_the_next_are_told_for_a_device_that_cannot_ask_again() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    assert [step.act for step in told(bench).next.then] == ["coat", "scuff", "coat", "pack"]
    bench.record(Sanded, pieces=("a",), stage="bare", grit=150)
    assert [step.act for step in told(bench).next.then] == ["scuff", "coat", "pack"]


def test_as_of_and_known_at_are_two_questions() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    bench.at("1 12:00").coat("a")
    bench.at("2 09:00").coat("a", at="1 16:00")
    assert told(bench, as_of="1 13:00").coats_done == 1
    assert told(bench, as_of="1 17:00").coats_done == 2
    assert told(bench, as_of="1 17:00", known_at="1 18:00").coats_done == 1
    assert answer(bench, as_of="1 06:00") is None
    assert told(bench, known_at="1 18:00").position == told(bench).position - 1


def test_a_held_piece_says_so_and_a_promise_is_told_as_last_given() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    bench.record(OrderTaken, order="o", lines=(OrderLine(line="1"),))
    bench.record(PieceAllotted, pieces=("a",), order="o", line="1")
    assert told(bench).promised is None
    bench.record(PromiseMade, order="o", ships_by=date(2026, 3, 6), level_pct=80.0)
    bench.record(Revised, order="o", ships_by=date(2026, 3, 9), level_pct=80.0)
    bench.record(Held, pieces=("a",))
    found = told(bench)
    assert (found.order, found.promised) == ("o", date(2026, 3, 9))
    assert found.held
    assert found.next.held


def test_findings_come_with_the_piece() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    bench.coat("a")
    bench.later(0.5).coat("a")
    codes = {finding.code for finding in told(bench).findings}
    assert any("recoat" in code for code in codes), codes


def test_an_unknown_piece_has_no_answer() -> None:
    assert answer(shop(), "nobody") is None


def listed(bench: Bench, **asked_for: Any) -> tuple[str, ...]:
    with bench.store.reading() as reader:
        rows = piece_list(reader, ask(reader, bench.now), **asked_for)
    return tuple(row.piece for row in rows.pieces)


def test_a_list_filters_and_pages_in_order_of_words() -> None:
    bench = shop()
    bench.pieces("c", "a", "b", "d", schedule="s")
    bench.record(Moved, pieces=("a",), room="rack-room", place="3")
    bench.coat("b")
    bench.record(Scrapped, pieces=("d",))
    assert listed(bench) == ("a", "b", "c")
    assert listed(bench, stages=("scrapped",)) == ("d",)
    assert listed(bench, stages=("coated",)) == ("b",)
    assert listed(bench, room="rack-room") == ("a",)
    assert listed(bench, after="a", limit=1) == ("b",)
    with bench.store.reading() as reader:
        first = piece_list(reader, ask(reader, bench.now), limit=2)
    assert first.next_after == "b"
    assert first.pieces[0].place == "3"
    with bench.store.reading() as reader:
        assert piece_list(reader, ask(reader, bench.now), limit=3).next_after is None


def test_the_past_list_is_of_the_stages_of_then() -> None:
    bench = shop()
    bench.pieces("a", "b")
    bench.at("1 12:00").coat("b")
    with bench.store.reading() as reader:
        place = ask(reader, bench.now, on_day("1 11:00"))
        rows = piece_list(reader, place, stages=("bare",)).pieces
    assert [row.piece for row in rows] == ["a", "b"]


def test_clocks_list_what_dries_the_soonest_ready_first() -> None:
    bench = shop()
    bench.pieces("a", "b", "c")
    bench.at("1 08:00").coat("b")
    bench.at("1 10:00").coat("a")
    with bench.store.reading() as reader:
        found = clock_list(reader, ask(reader, bench.now))
    assert {clock.piece for clock in found.clocks} == {"a", "b"}
    ready = [clock.next_ready for clock in found.clocks if clock.next_ready]
    assert ready == sorted(ready)
    assert found.valid_until == ready[0]


def test_a_cured_piece_is_no_longer_among_the_clocks() -> None:
    bench = shop()
    bench.pieces("a")
    bench.coat("a")
    bench.now += timedelta(days=40)
    with bench.store.reading() as reader:
        assert clock_list(reader, ask(reader, bench.now)).clocks == ()


def test_a_defect_is_judged_before_the_schedule_goes_on() -> None:
    bench = shop()
    bench.pieces("a", schedule="s")
    bench.coat("a")
    bench.later(4).record(DefectFound, pieces=("a",), kind="fish_eye")
    assert told(bench).next.act == "judge_defect"
    assumed = told(bench).ship_estimate.assumed
    assert "rework for what was found is not counted: fish eye" in assumed
    bench.later(0.1).record(Sanded, pieces=("a",), stage="between_coats", grit=320)
    assert told(bench).next.act == "coat"
    assert not any("rework" in words for words in told(bench).ship_estimate.assumed)
