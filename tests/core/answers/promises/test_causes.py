"""What led a promise into danger, by the facts recorded since it was sound."""

from __future__ import annotations

from datetime import date

import pytest
from bench import Bench, on_day
from coatledger.answers.promises.danger import Cause
from coatledger.events.base import Fact
from coatledger.events.finish import LotDiscarded
from coatledger.events.judging import Held, Inspected, ReworkStarted
from coatledger.events.orders import OrderChanged, OrderLine, OrderTaken, PieceAllotted
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.events.setup import PersonAbsent
from promise_follower import Follower, promised
from promise_shop import shop


def test_rework_held_pieces_other_orders_and_the_air_are_named_by_their_facts() -> None:
    bench = shop()
    bench.pieces("a", "b", "c", "d", schedule="three")
    follower = Follower(promised(bench, pieces=("a", "b", "c", "d"), by=date(2026, 3, 11)))
    follower.look()
    bench.later(4)
    held = bench.record(Held, pieces=("a",), why="other")
    rework = bench.record(ReworkStarted, pieces=("b",), remedy="strip", because="wrinkling")
    promised(bench, "o2", by=date(2026, 3, 6), quantity=40)
    air = bench.record(ClimateRead, room="spray", readings=(Reading(air_c=13.0, rh_pct=85.0),))
    (news, *_) = [one for one in follower.look() if one.order == "o1"]
    danger = follower.states["o1"].danger
    assert danger is not None
    assert [cause.kind for cause in danger.causes] == ["rework", "held", "climate", "others"]
    assert danger.causes[0].events == (rework.id,)
    assert danger.causes[1].events == (held.id,)
    assert danger.causes[2].events == (air.id,)
    assert "13.0 °C and 85 % now" in danger.causes[2].says
    assert len(danger.causes[3].events) == 1
    assert "in rework: b" in news.says


def causes(bench: Bench, follower: Follower) -> tuple[Cause, ...]:
    follower.look()
    danger = follower.states["o1"].danger
    assert danger is not None
    return danger.causes


@pytest.mark.parametrize("what", ["order", "absence", "can", "empty can", "given", "look"])
def test_each_kind_of_fact_is_told_in_its_own_words(what: str) -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="three")
    follower = Follower(promised(bench, pieces=("a", "b"), by=date(2026, 3, 17)))
    follower.look()
    bench.at("16 16:00")
    fact: Fact | None = None
    match what:
        case "order":
            lines = (OrderLine(line="1", quantity=40, offering="shelf"),)
            fact = bench.record(OrderChanged, order="o1", lines=lines)
            says = "the order was changed"
        case "absence":
            until = on_day("20 07:00")
            fact = bench.record(PersonAbsent, person="ann", since=bench.now, until=until)
            says = "ann is away until 2026-03-21"
        case "can":
            fact = bench.record(LotDiscarded, lot="can-1", why="contaminated")
            says = "can can-1 discarded"
        case "empty can":
            bench.record(LotDiscarded, lot="can-1", why="empty")
            says = "nothing befell it, and the days went by: 2 not begun"
        case "given":
            bench.record(OrderTaken, order="o2", lines=(OrderLine(line="1"),))
            fact = bench.record(PieceAllotted, pieces=("a",), order="o2")
            says = "given away: a"
        case _:
            fact = bench.record(Inspected, pieces=("a",), point="between_coats", passed=False)
            says = "did not pass: a"
    (found,) = causes(bench, follower)
    assert found.says == says
    assert found.events == (() if fact is None else (fact.id,))


def test_what_was_taken_back_is_named_by_its_correction() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="three")
    held = bench.record(Held, pieces=("b",), why="other")
    follower = Follower(promised(bench, pieces=("a", "b"), by=date(2026, 3, 17)))
    follower.look()
    bench.at("16 16:00")
    taken_back = bench.void(held)
    (found,) = causes(bench, follower)
    assert (found.kind, found.events) == ("held", (taken_back.id,))
