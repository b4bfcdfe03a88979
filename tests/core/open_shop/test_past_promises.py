"""What became of earlier promises, as far as it was known: also of those that are still open."""

from collections.abc import Mapping
from datetime import date
from typing import Any

import pytest
from bench import Bench
from coatledger.computations.recalibration import Outcome, Recalibration, simulated
from coatledger.events.leaving import Shipped
from coatledger.events.orders import (
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
)
from coatledger.open_shop.past_promises import outcomes
from coatledger.open_shop.recent import recent
from coatledger.subjects.asked import ask

DAYS: Mapping[str, Any] = {
    f"p{pct}": date(2026, 3, day) for pct, day in ((50, 5), (80, 9), (90, 11), (95, 16))
}
CHANCES = (55.0, 84.0, 92.0, 97.0)


def promised(bench: Bench, word: str, **more: Any) -> None:
    bench.pieces(f"{word}-1")
    bench.record(OrderTaken, order=word, lines=(OrderLine(line="1"),))
    bench.record(PieceAllotted, pieces=(f"{word}-1",), order=word, line="1")
    told: dict[str, Any] = {**DAYS, "chances_pct": CHANCES, **more}
    bench.record(PromiseMade, order=word, level_pct=80.0, ships_by=DAYS["p80"], **told)


def found(bench: Bench) -> tuple[Outcome, ...]:
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        return outcomes(recent(reader, place), place.view(reader), "UTC")


def ship(bench: Bench, word: str, at: str) -> None:
    bench.at(at).record(Shipped, pieces=(f"{word}-1",), order=word)


@pytest.mark.parametrize(
    ("at", "low", "high"),
    [("4 09:00", 0.0, 0.55), ("5 23:00", 0.55, 0.84), ("8 09:00", 0.55, 0.84),
     ("9 09:00", 0.84, 0.92), ("30 09:00", 0.97, 1.0)],
)  # fmt: skip
def test_what_shipped_lies_between_two_days_that_were_told(
    at: str, low: float, high: float
) -> None:
    # Day 1 is 2 March, so that day 4 is the 5th, by which the customer was told of even odds.
    bench = Bench("1 07:00").open_shop()
    promised(bench, "o1")
    ship(bench, "o1", at)
    assert found(bench) == (Outcome(pytest.approx(low), pytest.approx(high)),)  # type: ignore[arg-type]


def test_what_is_open_has_missed_the_days_that_are_over_and_no_more_is_known() -> None:
    bench = Bench("1 07:00").open_shop()
    promised(bench, "o1")
    assert found(bench.at("4 12:00")) == (Outcome(0.0, 1.0),)  # the 5th is not over
    assert found(bench.at("5 07:00")) == (Outcome(pytest.approx(0.55), 1.0),)  # type: ignore[arg-type]
    assert found(bench.at("40 07:00"))[0].low == pytest.approx(0.97)


def test_an_order_of_which_a_part_is_left_has_not_shipped() -> None:
    bench = Bench("1 07:00").open_shop()
    bench.pieces("a", "b")
    bench.record(OrderTaken, order="o1", lines=(OrderLine(line="1", quantity=2),))
    bench.record(PieceAllotted, pieces=("a", "b"), order="o1", line="1")
    bench.record(
        PromiseMade, order="o1", level_pct=80.0, ships_by=DAYS["p80"], chances_pct=CHANCES, **DAYS
    )
    bench.at("3 07:00").record(Shipped, pieces=("a",), order="o1")
    assert found(bench) == (Outcome(0.0, 1.0),)
    bench.at("9 07:00").record(Shipped, pieces=("b",), order="o1")
    assert found(bench)[0].low == pytest.approx(0.84)


def test_the_first_promise_counts_and_a_cancelled_order_does_not() -> None:
    bench = Bench("1 07:00").open_shop()
    promised(bench, "o1")
    later: dict[str, Any] = {name: date(2026, 4, 20) for name in DAYS}
    bench.record(
        PromiseMade, order="o1", level_pct=80.0, ships_by=later["p80"], chances_pct=CHANCES, **later
    )
    promised(bench, "o2")
    ship(bench, "o1", "8 09:00")
    assert len(found(bench)) == 2
    bench.record(OrderCancelled, order="o2")
    assert found(bench) == (Outcome(pytest.approx(0.55), pytest.approx(0.84)),)  # type: ignore[arg-type]


def test_chances_that_had_been_put_right_are_led_back_to_what_was_simulated() -> None:
    bench = Bench("1 07:00").open_shop()
    promised(bench, "o1", odds_shift=-0.4, odds_stretch=0.8)
    ship(bench, "o1", "8 09:00")
    by = Recalibration(-0.4, 0.8)
    (one,) = found(bench)
    assert one.low == pytest.approx(simulated(0.55, by))
    assert one.high == pytest.approx(simulated(0.84, by))


def test_a_promise_that_said_no_chances_and_one_nobody_knew_of_say_nothing() -> None:
    bench = Bench("1 07:00").open_shop()
    promised(bench, "o1", chances_pct=())
    assert found(bench) == ()
    with bench.store.reading() as reader:
        assert recent(reader, ask(reader, bench.now, known_at=bench.at("1 00:00").now)) == ()
