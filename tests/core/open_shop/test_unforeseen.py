"""Spells nobody told of: how often they come is learned from those that did."""

from datetime import date, timedelta

import pytest
from bench import Bench
from coatledger.computations.simulate.shop import Unforeseen
from coatledger.events.setup import ClosureAnnounced, PersonAbsent, ShopDescribed
from coatledger.open_shop.unforeseen import (
    AWAY_A_DAY,
    AWAY_DAYS,
    AWAY_WEIGHT_DAYS,
    SHUT_A_DAY,
    SHUT_DAYS,
    SHUT_WEIGHT_DAYS,
    unforeseen,
)


def found(bench: Bench) -> tuple[Unforeseen, Unforeseen]:
    view = bench.view()
    described = view.shop()
    assert isinstance(described, ShopDescribed)
    return unforeseen(view, described)


def later(bench: Bench, days: float) -> Bench:
    return bench.later(24.0 * days)


def away(bench: Bench, person: str, days: float, notice_days: float = 0.0) -> None:
    since = bench.now + timedelta(days=notice_days)
    until = since + timedelta(days=days)
    bench.record(PersonAbsent, person=person, since=since, until=until)


def shut(bench: Bench, day: int, length: int) -> None:
    first = date(2026, 3, 1) + timedelta(days=day - 1)
    last = first + timedelta(days=length - 1)
    bench.record(ClosureAnnounced, first_day=first, last_day=last)


def test_on_the_first_day_it_is_common_practice() -> None:
    assert found(Bench().open_shop()) == (
        Unforeseen(AWAY_A_DAY, AWAY_DAYS),
        Unforeseen(SHUT_A_DAY, SHUT_DAYS),
    )


def test_a_shop_whose_people_are_never_away_is_believed_by_and_by() -> None:
    rates = [found(later(Bench().open_shop(), days))[0].a_day for days in (0, 90, 900)]
    assert rates[1] == pytest.approx(AWAY_A_DAY / 2.0)
    assert rates == sorted(rates, reverse=True)


def test_each_spell_counts_once_however_often_it_was_told() -> None:
    bench = Bench().open_shop()
    later(bench, 10)
    away(bench, "ann", 2.0)
    later(bench, 1.9)
    away(bench, "ann", 3.0)  # she stays away
    later(bench, 20)
    away(bench, "ben", 1.0)
    later(bench, 68.1)
    rate, _ = found(bench)
    assert rate.a_day == pytest.approx(
        (2 + AWAY_A_DAY * AWAY_WEIGHT_DAYS) / (100.0 + AWAY_WEIGHT_DAYS), rel=0.01
    )
    assert rate.days == (*AWAY_DAYS, 5, 1)


def test_who_tells_well_ahead_surprises_nobody() -> None:
    bench = Bench().open_shop()
    away(bench, "ann", 10.0, notice_days=5.0)
    later(bench, 30)
    assert found(bench)[0].days == AWAY_DAYS


def test_what_is_still_to_come_has_not_happened() -> None:
    bench = later(Bench().open_shop(), 10)
    shut(bench, 14, 2)
    assert found(bench)[1].days == SHUT_DAYS
    later(bench, 10)
    assert found(bench)[1].days == (*SHUT_DAYS, 2)


def test_a_closing_counts_by_how_late_it_was_told() -> None:
    rates = []
    for told_day in (1, 10, 19):
        bench = Bench().open_shop().at(f"{told_day} 07:00")
        shut(bench, 20, 1)
        bench.at("61 07:00")
        rates.append(found(bench)[1].a_day)
    assert rates == sorted(rates)
    base = SHUT_A_DAY * SHUT_WEIGHT_DAYS
    assert rates[0] == pytest.approx(base / (60.0 + SHUT_WEIGHT_DAYS), rel=0.01)
