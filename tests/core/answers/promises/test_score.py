"""How promises came out: kept by the first day told, levels, penalties, and what is added by it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from bench import Bench
from coatledger.answers.promises.score import LevelScore, PromiseScore, score
from coatledger.events.leaving import Shipped
from coatledger.events.orders import (
    OrderCancelled,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
)
from coatledger.subjects.asked import ask
from hypothesis import given
from hypothesis import strategies as st
from promise_shop import shop

TOLD = date(2026, 3, 2)
LEADS = (7, 9, 10, 11)  # of the days told at 50, 80, 90 and 95 %


def promise(bench: Bench, word: str, offering: str = "shelf", **more: Any) -> None:
    bench.at("1 07:00").record(
        OrderTaken, order=word, lines=(OrderLine(line="1", offering=offering),)
    )
    bench.pieces(f"{word}-p")
    bench.record(PieceAllotted, pieces=(f"{word}-p",), order=word, line="1")
    days = [TOLD + timedelta(days=lead) for lead in LEADS]
    told: dict[str, Any] = dict(zip(("p50", "p80", "p90", "p95"), days, strict=True))
    bench.record(
        PromiseMade, order=word, level_pct=80.0,
        **{"ships_by": days[1], "chance_pct": 84.0, **told, **more},
    )  # fmt: skip


def promised(lags: tuple[int | None, ...]) -> Bench:
    """Promise an order for each lag, and ship it so many days later; None is not shipped."""
    bench = shop()
    for n in range(len(lags)):
        promise(bench, f"o{n}")
    for n, lag in sorted(enumerate(lags), key=lambda one: one[1] or 0):
        if lag is not None:
            bench.at(f"{1 + lag} 12:00").record(Shipped, pieces=(f"o{n}-p",), order=f"o{n}")
    return bench


def told(bench: Bench, at: str = "30 12:00", **place: Any) -> PromiseScore:
    bench.at(at)
    with bench.store.reading() as reader:
        return score(reader, ask(reader, bench.now, **place))


def level(found: PromiseScore, pct: float) -> LevelScore:
    return next(one for one in found.levels if one.level_pct == pct)


def test_levels_are_counted_and_penalties_are_those_worked_by_hand() -> None:
    # Left after 5, 8, 10 and 14 days; told for 7 (50 %), 9 (80 %), 10 (90 %) and 11 (95 %).
    found = told(promised((5, 8, 10, 14)))
    assert (found.kept.count, found.kept.of, found.overdue, found.open) == (2, 4, 0, 0)
    assert [one.covered.count for one in found.levels] == [1, 2, 3, 3]
    # Pinball at 50 %: (2 + 1 + 3 + 7) / 2 / 4; at 80 %: (4 * .2 + 1 * .2 + 1 * .8 + 5 * .8) / 4;
    # as scikit-learn's mean_pinball_loss([5, 8, 10, 14], [9] * 4, alpha=0.8) has it.
    assert level(found, 50).pinball_days == pytest.approx(1.625)
    assert level(found, 80).pinball_days == pytest.approx(1.45)
    assert [one.lead_days for one in found.levels] == [7.0, 9.0, 10.0, 11.0]
    assert found.lead_days == 9.0
    # Wilson for 2 of 4, by the formula: 0.15, 0.85.
    assert found.kept.low == pytest.approx(0.15004, abs=1e-4)
    assert found.kept.high == pytest.approx(0.84996, abs=1e-4)
    # At 80 % two of four or fewer: 1 - .8**4 - 4 * .8**3 * .2
    assert level(found, 80).too_few_p == pytest.approx(0.1808)


def test_the_conformal_days_are_the_rank_that_covers_or_too_few_to_say() -> None:
    found = told(promised((5, 8, 10, 14)))
    # ceil(5 * 0.5) = 3rd smallest of -2, 1, 3, 7; ceil(5 * 0.8) = 4th of -4, -1, 1, 5.
    assert level(found, 50).conformal_days == 3.0
    assert level(found, 80).conformal_days == 5.0
    assert level(found, 90).conformal_days is None
    assert level(found, 90).outcomes == 4


def test_what_is_still_here_after_its_day_was_not_kept_and_costs_as_if_it_left_today() -> None:
    found = told(promised((5, None)), "20 12:00")
    assert (found.kept.count, found.kept.of, found.overdue) == (1, 2, 1)
    # 2 March is day 1: day 20 is 19 days after the word, ten after the day told at 80 %.
    assert level(found, 80).pinball_days == pytest.approx((4 * 0.2 + 10 * 0.8) / 2)


def test_a_promise_counts_when_its_day_is_over_and_no_sooner() -> None:
    bench = promised((3, None))
    early = told(bench, "10 12:00")
    assert (early.kept.of, early.open) == (0, 1)
    assert [one.covered.of for one in early.levels] == [2, 0, 0, 0]
    assert level(early, 80).pinball_days is None
    assert told(bench, "11 12:00").kept.of == 2


def test_cancelled_orders_count_for_nothing() -> None:
    bench = promised((5, None))
    bench.record(OrderCancelled, order="o1")
    found = told(bench)
    assert (found.kept.of, found.off, found.overdue) == (1, 1, 0)


def test_chances_months_and_offerings_are_told_apart() -> None:
    bench = promised((5, 8, 10, 14))
    promise(bench, "free", offering="lamp", ships_by=date(2026, 4, 2), chance_pct=100.0)
    bench.at("31 09:00").record(Shipped, pieces=("free-p",), order="free")
    found = told(bench, "40 12:00")
    said = [(one.from_pct, one.stated_pct, one.kept.count, one.kept.of) for one in found.stated]
    assert said == [(80.0, 84.0, 2, 4), (90.0, 100.0, 1, 1)]
    assert [(one.name, one.kept.count, one.kept.of) for one in found.months] == [
        ("2026-03", 2, 4), ("2026-04", 1, 1),
    ]  # fmt: skip
    assert [one.name for one in found.offerings] == ["lamp", "shelf"]
    assert found.offerings[1].lead_days == 9.0
    assert found.stated_pct == pytest.approx(87.2)


def test_a_past_place_is_judged_as_it_was_known() -> None:
    bench = promised((5, 14))
    bench.at("13 12:00")
    then = bench.now
    later = told(bench)
    assert (later.overdue, level(later, 95).covered.count) == (0, 1)
    before = told(bench, as_of=then)
    assert (before.overdue, before.kept.of) == (1, 2)


def test_the_correction_of_the_next_quote_is_shown_with_how_many_promises_made_it() -> None:
    alone = told(shop())
    assert alone.kept.of == 0
    assert alone.kept.value is None
    assert alone.correction.promises == 0
    assert alone.correction.level_pct == 80.0
    assert alone.correction.simulated_pct > 80.0  # simulated chances are believed to be bold
    bench = shop()
    for n in range(30):
        promise(bench, f"o{n}", chances_pct=(50.0, 80.0, 90.0, 95.0))
    late = told(bench)  # none of thirty has left
    assert late.correction.promises == 30
    assert late.correction.simulated_pct > alone.correction.simulated_pct


@given(st.lists(st.none() | st.integers(1, 20), min_size=1, max_size=6))
def test_counts_agree_however_it_came_out(lags: list[int | None]) -> None:
    found = told(promised(tuple(lags)))
    on_time = sum(lag is not None and lag <= LEADS[1] for lag in lags)
    assert (found.kept.count, found.kept.of) == (on_time, len(lags))
    covered = [one.covered.count for one in found.levels]
    assert covered == sorted(covered)
    assert sum(one.kept.of for one in found.months) == found.kept.of
    assert found.overdue == lags.count(None)


def test_what_no_level_was_told_for_is_said_in_words() -> None:
    bench = promised((5, 8))
    assert (told(bench).without_levels, told(bench).levels_say) == (0, "")
    nothing: dict[str, Any] = dict.fromkeys(("p50", "p80", "p90", "p95"))
    promise(bench.at("1 08:00"), "by-hand", **nothing)
    found = told(bench)
    assert [one.covered.of for one in found.levels] == [2, 2, 2, 2]
    assert found.without_levels == 1
    assert found.levels_say.startswith("1 of 3 promises were told as one day")
    alone = shop()
    promise(alone, "by-hand", **nothing)
    assert "cannot be said" in told(alone).levels_say
