"""Rules of packing and shipping, each seen to fire and to stay silent."""

from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.events.coating import CoatApplied
from coatledger.events.judging import DefectFound, Held, Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import HandedOver, Packed, RubbedOut, Shipped
from coatledger.events.orders import OrderCancelled, OrderLine, OrderTaken
from coatledger.findings import leaving
from judged import Case, codes, judge, ready, scuffed


def finished(bench: Bench, word: str = "T-1", count: int = 3, **fields: Any) -> CoatApplied:
    """Coats four hours apart from 8 on, then a passed final look an hour later."""
    coat = bench.coat(word, **fields)
    for _ in range(count - 1):
        scuffed(bench.later(4), word)
        coat = bench.coat(word, **fields)
    bench.later(1).record(Inspected, pieces=(word,), point="final", passed=True, lighting="raking")
    return coat


def pack(bench: Bench, word: str = "T-1", touching: str = "paper") -> Packed:
    return bench.fact(Packed, pieces=(word,), touching=touching)


def packed(bench: Bench, word: str = "T-1") -> Packed:
    return bench.record(Packed, pieces=(word,), touching="paper")


def ship(bench: Bench, word: str = "T-1", **fields: Any) -> Shipped:
    return bench.fact(Shipped, pieces=(word,), **fields)


def order(bench: Bench) -> OrderTaken:
    return bench.record(OrderTaken, order="O-1", lines=(OrderLine(line="1"),))


def rework(bench: Bench) -> ReworkStarted:
    return bench.record(ReworkStarted, pieces=("T-1",), remedy="rub_out")


def top(bench: Bench) -> Any:
    return bench.pieces("B-1", use="table")


def panel(bench: Bench) -> Any:
    return bench.pieces("W-1", width_mm=450.0)


CASES = (
    Case(
        "packed_before_ready",
        lambda b: (finished(b), pack(b.at("2 07:00"))),
        lambda b: (finished(b), pack(b.at("2 16:30"))),
    ),
    Case(
        "shipped_before_ready",
        lambda b: (finished(b), packed(b), ship(b.at("2 07:00"))),
        lambda b: (finished(b), packed(b), ship(b.at("2 16:30"))),
    ),
    Case(
        "table_left_too_soon",
        lambda b: (top(b), finished(b, "B-1", 4), ship(b.at("3 16:00"), "B-1")),
        lambda b: (top(b), finished(b, "B-1", 4), ship(b.at("5 16:00"), "B-1")),
    ),
    Case(
        "clinging_wrap",
        lambda b: (finished(b), pack(b.at("3 08:00"), touching="bubble")),
        lambda b: (finished(b), pack(b.at("9 16:00"), touching="bubble")),
    ),
    Case(
        "too_few_coats",
        lambda b: (finished(b, count=2), pack(b.at("3 08:00"))),
        lambda b: (finished(b, count=3), pack(b.at("3 08:00"))),
    ),
    Case(
        "panel_unbalanced",
        lambda b: (panel(b), finished(b, "W-1", faces=("show",)), pack(b.at("3 08:00"), "W-1")),
        lambda b: (panel(b), finished(b, "W-1"), pack(b.at("3 08:00"), "W-1")),
    ),
    Case(
        "packed_without_final_look",
        lambda b: (b.coat("T-1"), pack(b.at("3 08:00"))),
        lambda b: (finished(b), pack(b.at("3 08:00"))),
    ),
    Case(
        "left_in_rework",
        lambda b: (finished(b), rework(b), pack(b.at("3 08:00"))),
        lambda b: (
            finished(b),
            rework(b),
            b.record(ReworkFinished, pieces=("T-1",), done="rub_out"),
            pack(b.at("3 08:00")),
        ),
    ),
    Case(
        "left_with_defect",
        lambda b: (
            finished(b),
            b.later(1).record(DefectFound, pieces=("T-1",), kind="nib"),
            pack(b.at("3 08:00")),
        ),
        lambda b: (
            b.record(DefectFound, pieces=("T-1",), kind="nib"),
            finished(b),
            pack(b.at("3 08:00")),
        ),
    ),
    Case(
        "left_while_held",
        lambda b: (finished(b), b.record(Held, pieces=("T-1",)), pack(b.at("3 08:00"))),
        lambda b: (finished(b), b.record(Held, pieces=("T-2",)), pack(b.at("3 08:00"))),
    ),
    Case(
        "shipped_unpacked",
        lambda b: (finished(b), ship(b.at("3 08:00"))),
        lambda b: (finished(b), packed(b.at("3 08:00")), ship(b)),
    ),
    Case(
        "left_for_cancelled_order",
        lambda b: (
            order(b),
            b.record(OrderCancelled, order="O-1"),
            finished(b),
            ship(b.at("3 08:00"), order="O-1"),
        ),
        lambda b: (order(b), finished(b), ship(b.at("3 08:00"), order="O-1")),
    ),
    Case(
        "rubbed_before_hard",
        lambda b: (finished(b), b.at("2 07:00").fact(RubbedOut, pieces=("T-1",))),
        lambda b: (finished(b), b.at("2 16:30").fact(RubbedOut, pieces=("T-1",))),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in leaving.RULES}


def test_work_in_order_leaves_without_a_word() -> None:
    bench = ready()
    finished(bench)
    bench.at("3 08:00").climate()
    assert judge(bench, pack(bench)) == ()
    packed(bench)
    assert judge(bench, ship(bench)) == ()


def test_a_table_wants_four_coats_and_the_sheet_may_say_otherwise() -> None:
    bench = ready()
    top(bench)
    finished(bench, "B-1", 3)
    (found,) = judge(bench, pack(bench.at("5 08:00"), "B-1"))
    assert found.code == "too_few_coats"
    assert found.seen[0].says == "3 coat(s), at least 4 for table"
    assert found.source == "common practice, no published source"
    bench.clear("few", coats_min=2)
    bench.can("can-2", "few")
    bench.pieces("B-2", use="table")
    finished(bench.at("5 08:00"), "B-2", 2, lot="can-2")
    assert judge(bench, pack(bench.at("9 08:00"), "B-2")) == ()


def test_a_piece_handed_over_after_shipping_is_not_told_again() -> None:
    bench = ready()
    finished(bench)
    packed(bench)
    shipped = ship(bench.at("2 07:00"))
    bench.take(shipped)
    assert judge(bench, bench.at("2 09:00").fact(HandedOver, pieces=("T-1",))) == ()


def test_an_early_packing_says_when_it_would_have_been_ready() -> None:
    bench = ready()
    coat = finished(bench)
    found = judge(bench, pack(bench.at("2 07:00")))[0]
    assert (found.code, found.severity) == ("packed_before_ready", "serious")
    assert found.seen[0].says == "packed 15 h after its last coat; wrap-safe 2026-03-03 16:00Z"
    assert found.seen[0].event == coat.id
    assert coat.occurred_at == on_day("1 16:00")
