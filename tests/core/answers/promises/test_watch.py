"""Promises as they are followed: one notice an episode, what led to it, and what would save it."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from bench import Bench, on_day
from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.danger import LIMITS, Danger, Limits, is_endangered
from coatledger.answers.promises.outlook import outlook
from coatledger.answers.promises.watch import (
    GONE_SAYS,
    with_what_was_watched,
)
from coatledger.events.judging import Held, Released
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.orders import (
    OrderCancelled,
    PromiseRevised,
)
from coatledger.events.setup import ClosureAnnounced, PersonAbsent
from coatledger.subjects.asked import ask
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from promise_follower import SOON, Follower, promised
from promise_shop import shop


def closed(bench: Bench) -> ClosureAnnounced:
    return bench.record(
        ClosureAnnounced, first_day=date(2026, 3, 3), last_day=date(2026, 3, 16), why="repair"
    )


def test_a_promise_that_comes_into_danger_is_told_once_with_what_led_to_it() -> None:
    follower = Follower(promised(shop()))
    assert follower.look() == []
    cause = closed(follower.bench.later(3))
    (news,) = follower.look()
    assert (news.kind, news.order, news.line, news.ships_by) == ("in_danger", "o1", None, SOON)
    assert news.evidence == (cause.id,)
    assert news.episode.startswith(str(cause.id))
    assert "the shop is closed 2026-03-03 to 2026-03-16" in news.says
    assert news.chance_pct is not None
    assert news.chance_pct < LIMITS.danger_pct
    danger = follower.states["o1"].danger
    assert danger is not None
    assert danger.sound_until == on_day("1 06:00")
    for _ in range(3):
        assert follower.look() == []
    follower.bench.later(1).record(PersonAbsent, person="ann", since=follower.bench.now)
    assert follower.look() == []


def test_it_is_told_when_it_is_over_and_the_next_episode_has_a_word_of_its_own() -> None:
    follower = Follower(promised(shop()))
    follower.look()
    first = closed(follower.bench.later(3))
    (into,) = follower.look()
    follower.bench.later(1).void(first)
    (out,) = follower.look()
    assert (out.kind, out.episode) == ("out_of_danger", into.episode)
    closed(follower.bench.later(1))
    (again,) = follower.look()
    assert again.kind == "in_danger"
    assert again.episode != into.episode


def test_a_later_day_that_is_told_ends_the_danger_and_what_has_left_ends_it_too() -> None:
    bench = shop()
    bench.pieces("a", schedule="three")
    follower = Follower(promised(bench, quantity=1, pieces=("a",), by=date(2026, 3, 2)))
    (into,) = follower.look()
    assert "was never likely" in into.says
    bench.later(1).record(
        PromiseRevised, order="o1", ships_by=date(2026, 4, 30), level_pct=80.0, why="clock"
    )
    (out,) = follower.look()
    assert out.episode == into.episode
    assert "2026-04-30 was told" in out.says
    bench.later(1).record(
        PromiseRevised, order="o1", ships_by=date(2026, 3, 2), level_pct=80.0, why="customer"
    )
    (into,) = follower.look()
    bench.record(Packed, pieces=("a",), touching="paper")
    bench.record(Shipped, pieces=("a",), order="o1")
    (out,) = follower.look()
    assert (out.kind, out.episode, out.says) == ("out_of_danger", into.episode, GONE_SAYS)
    assert follower.states == {}
    assert follower.look() == []


def test_what_was_there_before_anybody_watched_and_what_is_imported_is_no_news() -> None:
    bench = promised(shop(), by=date(2026, 3, 2))
    with bench.store.reading() as reader:
        begun = reader.head().size
    follower = Follower(bench, begun=begun)
    assert follower.look() == []
    found = follower.states["o1"].danger
    assert found is not None
    assert [cause.kind for cause in found.causes] == ["late"]
    promised(bench, "o2", by=date(2026, 3, 2), source="import")
    assert follower.look() == []
    promised(bench, "o3", by=date(2026, 3, 2))
    assert [one.order for one in follower.look()] == ["o3"]
    bench.record(OrderCancelled, order="o1")
    assert follower.look() == []


def test_a_watch_that_starts_anew_tells_nothing_again() -> None:
    follower = Follower(promised(shop()))
    follower.look()
    closed(follower.bench.later(3))
    assert len(follower.look()) == 1
    with follower.bench.store.reading() as reader:
        begun = reader.head().size
    assert Follower(follower.bench, begun=begun).look() == []
    again = Follower(follower.bench)  # had it lost its states only, the word would be the same
    again.look()
    assert again.states["o1"].episode == follower.states["o1"].episode


def test_time_alone_brings_a_promise_into_danger() -> None:
    follower = Follower(promised(shop()))
    assert follower.look() == []
    follower.bench.at("16 16:00")
    (news,) = follower.look()
    assert news.evidence == ()
    assert "nothing befell it, and the days went by: 4 not begun" in news.says


def test_a_danger_with_another_cause_is_looked_at_anew_and_not_told_again() -> None:
    follower = Follower(promised(shop(people=2)))
    follower.look()
    closed(follower.bench.later(3))
    assert len(follower.look()) == 1
    first = follower.states["o1"].danger
    assert first is not None
    assert follower.look() == []
    follower.bench.later(0.1).climate(21.0, 50.0)
    assert follower.look() == []
    assert follower.states["o1"].danger == first
    away = follower.bench.record(
        PersonAbsent, person="ann", since=follower.bench.now, until=on_day("20 06:00")
    )
    assert follower.look() == []
    second = follower.states["o1"].danger
    assert second is not None
    assert {cause.kind for cause in second.causes} == {"hours", "people"}
    assert away.id in {event for cause in second.causes for event in cause.events}
    assert (second.since, second.chance, second.sound_until) == (
        first.since, first.chance, first.sound_until,
    )  # fmt: skip
    assert follower.states["o1"].episode is not None


def test_a_danger_that_becomes_clearly_greater_is_looked_at_anew_and_not_told_again() -> None:
    """In danger with a chance of 0.53, by days that went by; two days on hardly any is left."""
    follower = Follower(promised(shop(), quantity=22))
    moments = [f"{day} {hour:02}:00" for day in range(9, 17) for hour in (6, 12)]
    seen: list[tuple[float | None, Danger | None]] = []
    news = 0
    for moment in moments:
        follower.bench.at(moment)
        news += len(follower.look())
        seen.append((follower.states["o1"].weighed, follower.states["o1"].danger))
    assert news == 1
    weighed = [chance for chance, _ in seen if chance is not None]
    steps = list(dict.fromkeys(weighed))
    assert len(steps) >= 2
    assert all(a - b > LIMITS.margin_pct / 100.0 for a, b in pairwise(steps))
    chances = {danger.chance for _, danger in seen if danger is not None}
    assert chances == {steps[0]}


def test_a_list_shows_the_episode_until_the_chance_is_clearly_above() -> None:
    follower = Follower(promised(shop()))
    follower.look()
    cause = closed(follower.bench.later(3))
    follower.look()
    with follower.bench.store.reading() as reader:
        place = ask(reader, follower.bench.now)
        seen = outlook(reader, place, world=World(), replications=200)
        (shown,) = with_what_was_watched(seen, follower.states, LIMITS).promises
        assert shown.danger == follower.states["o1"].danger
        between = replace(shown, chance=0.65, in_danger=False, because=(), danger=None)
        (kept,) = with_what_was_watched(
            replace(seen, promises=(between,)), follower.states, LIMITS
        ).promises
        assert kept.in_danger
        assert kept.because == ("the shop is closed 2026-03-03 to 2026-03-16",)
        above = replace(between, chance=0.75)
        (safe,) = with_what_was_watched(
            replace(seen, promises=(above,)), follower.states, LIMITS
        ).promises
        assert safe == above
    assert cause.id in {event for one in shown.danger.causes for event in one.events}  # type: ignore[union-attr]


def test_released_pieces_and_a_shop_that_lacks_something_change_nothing_by_themselves() -> None:
    bench = shop(people=0)
    follower = Follower(promised(bench, by=date(2026, 3, 2)))
    assert follower.look() == []
    assert follower.states["o1"].chance is None
    bench.pieces("x")
    bench.record(Held, pieces=("x",), why="other")
    bench.record(Released, pieces=("x",))
    assert follower.look() == []


@pytest.mark.parametrize(
    ("chance", "level", "before", "says"),
    [
        (0.599, 0.8, False, True), (0.6, 0.8, False, False), (0.699, 0.8, True, True),
        (0.7, 0.8, True, False), (0.49, 0.5, False, True), (0.5, 0.5, False, False),
    ],
)  # fmt: skip
def test_a_promise_enters_below_the_bound_and_leaves_above_the_margin(
    chance: float, level: float, before: bool, says: bool
) -> None:
    assert is_endangered(chance, level, before=before) is says


@given(st.floats(0, 1), st.floats(1e-9, 1), st.floats(0.1, 99), st.floats(0, 50))
def test_who_enters_does_not_leave_by_the_same_chance(
    chance: float, level: float, danger_pct: float, margin_pct: float
) -> None:
    limits = Limits(danger_pct=danger_pct, margin_pct=margin_pct)
    if is_endangered(chance, level, before=False, limits=limits):
        assert is_endangered(chance, level, before=True, limits=limits)
    assert not is_endangered(1.0, level, before=True, limits=limits)
