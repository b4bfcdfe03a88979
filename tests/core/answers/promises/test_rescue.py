"""What would save a promise, the cheapest that is enough first."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from coatledger.answers.promises import rescue, watch
from coatledger.answers.promises.ahead import run
from coatledger.answers.promises.danger import Danger
from coatledger.computations.simulate.shop import OpenShop
from coatledger.events.judging import Held
from coatledger.events.leaving import Packed
from coatledger.events.setup import ClosureAnnounced
from promise_follower import Follower, promised
from promise_shop import shop


def test_the_cheapest_rescue_that_is_enough_stands_first_and_says_whom_it_harms() -> None:
    bench = shop()
    promised(bench, "many", by=date(2026, 3, 17), quantity=200)
    promised(bench, "few", by=date(2026, 3, 20), quantity=2)
    follower = Follower(bench)
    follower.look()
    states = {name: state.danger for name, state in follower.states.items()}
    danger = states["few"]
    assert danger is not None, states
    first = danger.rescues[0]
    assert (first.way, first.hours, first.enough) == ("order_of_work", 0.0, True)
    assert all(
        (not one.enough, bool(one.harms), one.hours)
        <= (not other.enough, bool(other.harms), other.hours)
        for one, other in zip(danger.rescues, danger.rescues[1:], strict=False)
    )
    assert all(one.chance > danger.chance for one in danger.rescues)


def test_held_pieces_keep_the_rest_only_from_leaving_together() -> None:
    bench = shop()
    bench.pieces("a", "b", schedule="three")
    for n in range(3):
        bench.at(f"1 {8 + 4 * n:02}:00").coat("a")
    bench.at("2 07:00")
    follower = Follower(promised(bench, quantity=2, pieces=("a", "b"), by=date(2026, 3, 5)))
    follower.look()
    bench.record(Held, pieces=("b",), why="customer")
    follower.look()
    danger = follower.states["o1"].danger
    assert danger is not None
    (split,) = [one for one in danger.rescues if one.way == "split"]
    assert split.says.startswith("ship 1 of 2 by 2026-03-05, the rest by ")
    assert split.enough


def many_in_danger() -> Follower:
    """Three promises that come into danger at once, because the shop closes."""
    bench = shop()
    for word, day in (("o1", 16), ("o2", 17), ("o3", 18)):
        promised(bench, word, by=date(2026, 3, day), quantity=2)
    follower = Follower(bench)
    assert follower.look() == []
    bench.later(1).record(
        ClosureAnnounced, first_day=date(2026, 3, 3), last_day=date(2026, 3, 13), why="repair"
    )
    promised(bench, "large", by=date(2026, 3, 16), quantity=90)
    return follower


def helped(follower: Follower) -> list[str]:
    return [name for name, one in follower.states.items() if one.danger and one.danger.rescues]


def test_what_is_the_same_for_every_promise_is_simulated_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    runs: list[OpenShop] = []

    def counted(shop: OpenShop, seed: int, replications: int) -> Any:
        runs.append(shop)
        return run(shop, seed, replications)

    monkeypatch.setattr(rescue, "run", counted)
    follower = many_in_danger()
    assert [one.kind for one in follower.look()] == ["in_danger"] * 4
    # As it is, an hour more and a Saturday once; first in turn and in parts for each.
    assert len(runs) == 3 + 2 * 4


def test_where_all_come_into_danger_at_once_those_due_first_are_helped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    follower = many_in_danger()
    follower.look()
    assert helped(follower) == ["o1", "o2", "o3"]
    monkeypatch.setattr(watch, "RESCUED_MOST", 2)
    follower = many_in_danger()
    assert len(follower.look()) == 4
    assert helped(follower) == ["o1"]  # nothing helps the large one, which is due with it


def danger_of(follower: Follower, name: str) -> Danger:
    follower.look()
    danger = follower.states[name].danger
    assert danger is not None
    return danger


def test_an_hour_more_and_a_saturday_cost_hours_and_are_never_said_to_cost_none() -> None:
    follower = Follower(promised(shop(), "many", by=date(2026, 3, 17), quantity=100))
    found = {one.way: one for one in danger_of(follower, "many").rescues}
    assert found["saturday"].hours == 10.0
    assert found["extra_hour"].hours == 12.0
    assert found["extra_hour"].says == "work an hour longer on each of 12 days"
    assert found["split"].enough
    assert found["split"].says.startswith("ship ")


def test_going_first_names_whom_it_harms() -> None:
    bench = shop()
    promised(bench, "big", by=date(2026, 3, 18), quantity=100)
    promised(bench, "other", by=date(2026, 3, 17), quantity=80)
    danger = danger_of(Follower(bench), "big")
    (first,) = [one for one in danger.rescues if one.way == "order_of_work"]
    assert first.harms == ("order:other",)


def test_what_waits_packed_has_no_way_to_be_hurried() -> None:
    bench = shop()
    bench.pieces("a", schedule="three")
    promised(bench, "o1", by=date(2026, 3, 2), quantity=1, pieces=("a",))
    bench.record(Packed, pieces=("a",), touching="paper")
    bench.at("2 07:00")
    assert danger_of(Follower(bench), "o1").rescues == ()
