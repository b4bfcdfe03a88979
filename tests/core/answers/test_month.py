"""What a month came to: the weeks it is made of, what left, promises kept, finish used."""

from datetime import date, timedelta

import pytest
from bench import on_day
from coatledger.answers.month import MonthAnswer, month, month_weeks
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived
from coatledger.events.leaving import Scrapped
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.subjects.asked import ask
from story import Story, fact, given, inspected, returned, rework, shipped, started


def answer(story: Story, which: str = "2026-03", as_of: str | None = None) -> MonthAnswer:
    with story.bench.store.reading() as reader:
        return month(reader, ask(reader, story.bench.now, on_day(as_of) if as_of else None), which)


@pytest.mark.parametrize(
    ("which", "weeks"),
    [
        ("2026-11", ("2026-W45", "2026-W48")),
        ("2026-01", ("2026-W01", "2026-W05")),
        ("2024-12", ("2024-W49", "2024-W52")),
        ("2026-12", ("2026-W49", "2026-W53")),
    ],
)
def test_a_month_is_the_weeks_whose_thursday_lies_in_it(which: str, weeks: tuple[str, str]) -> None:
    assert month_weeks(which) == weeks


def test_every_week_belongs_to_one_month() -> None:
    day = date(2019, 1, 3)  # a Thursday
    while day.year < 2031:
        first, last = month_weeks(f"{day:%Y-%m}")
        year, number, _ = day.isocalendar()
        assert first <= f"{year}-W{number:02}" <= last
        day += timedelta(weeks=1)


def march() -> Story:
    """a leaves in time, b late, c without a promise and comes back, d is given up, e stays."""
    story: Story = given(
        fact(LotReceived, "1 07:00", lot="L1", product="clear-w", amount_l=5.0),
        fact(
            OrderTaken, "1 07:30", order="o-1",
            lines=(OrderLine(line="1", sku="table", quantity=2),),
        ),
        fact(PromiseMade, "1 07:40", order="o-1", ships_by=date(2026, 3, 5), level_pct=80.0),
        started("a", "b", "c", "d", "e", at="1 08:00"),
        fact(PieceAllotted, "1 08:10", pieces=("a", "b"), order="o-1", line="1"),
        fact(CoatApplied, "1 09:00", pieces=("a", "b", "c", "d"), lot="L1", amount_l=0.8),
        rework("b", at="2 09:00"),
        fact(CoatApplied, "2 10:00", pieces=("b",), lot="L1", amount_l=0.2),
        fact(CoatApplied, "2 11:00", pieces=("e",), lot="L1"),
        inspected("a", "c", at="2 12:00"),
        shipped("a", at="4 09:00"),
        shipped("b", at="5 09:00"),
        shipped("c", at="5 10:00"),
        fact(Scrapped, "5 11:00", pieces=("d",)),
        returned("c", at="8 09:00"),
    )  # fmt: skip
    return story


def test_what_left_came_back_and_was_given_up() -> None:
    told = answer(march())
    assert [(row.kind, row.wood, row.pieces) for row in told.left] == [("bedside table", "ash", 3)]
    assert (told.scrapped, told.came_back) == (1, 1)


def test_a_promise_is_kept_or_not_by_the_first_date_told() -> None:
    story = march()
    story.when(
        fact(PromiseMade, "4 12:00", order="o-1", ships_by=date(2026, 3, 9), level_pct=80.0)
    ).accepted()
    told = answer(story)
    assert (told.promises_kept.count, told.promises_kept.of) == (1, 2)
    assert (told.promises_due.count, told.promises_due.of) == (0, 1)
    assert answer(story, as_of="4 07:00").promises_due.of == 0
    assert [(late.piece, late.left) for late in told.late] == [("b", date(2026, 3, 6))]


def test_finish_is_what_the_acts_told_each_piece_its_share() -> None:
    (used,) = answer(march()).finish
    assert (used.product, used.coats, used.litres) == ("clear-w", 6, 1.0)
    assert (used.rework_litres, used.unsaid) == (0.2, 1)


def test_another_month_and_an_earlier_time_know_nothing_of_it() -> None:
    assert answer(march(), "2026-02").left == ()
    assert sum(row.pieces for row in answer(march(), as_of="4 12:00").left) == 1
