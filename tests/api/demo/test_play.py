"""The play itself: what it is made of, before anything is posted."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from coatledger.events.bare import PieceExpected, PieceStarted
from coatledger.events.catalogue import EVENT_TYPES, TAG_OF
from coatledger.events.coating import CoatApplied
from coatledger.events.room_gun import ClimateRead
from coatledger_api.demo.play import SEED, Post, play
from coatledger_api.demo.workdays import ZONE, open_hours


def test_the_same_seed_and_now_give_the_same_posts_and_another_seed_gives_others(
    posts: tuple[Post, ...],
) -> None:
    now = datetime(2026, 11, 25, 10, 17, tzinfo=UTC)
    assert play(SEED, now) == posts
    assert play(SEED + 1, now) != posts


def test_every_type_of_the_vocabulary_happens(posts: tuple[Post, ...]) -> None:
    seen = {type(fact) for post in posts for fact in post.facts}
    assert not [TAG_OF[kind] for kind in EVENT_TYPES if kind not in seen]


def test_more_than_150_pieces_go_through_the_shop(posts: tuple[Post, ...]) -> None:
    facts = [fact for post in posts for fact in post.facts]
    started = [p for fact in facts if isinstance(fact, PieceStarted) for p in fact.pieces]
    expected = {p for fact in facts if isinstance(fact, PieceExpected) for p in fact.pieces}
    assert len(started) == len(set(started)) > 150
    assert expected - set(started), "some are still due from the joinery"


def test_posts_are_in_order_of_time_and_tell_nothing_that_has_not_happened(
    posts: tuple[Post, ...],
) -> None:
    assert [post.at for post in posts] == sorted(post.at for post in posts)
    for post in posts:
        for fact in post.facts:
            last = max(fact.occurred_at, fact.ended_at or fact.occurred_at)
            assert last - post.fast_by <= post.at, fact


def test_everything_sprayed_was_sprayed_within_the_shops_hours(posts: tuple[Post, ...]) -> None:
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    hours = [(h.day, h.opens, h.closes) for h in open_hours()]
    coats = [f for post in posts for f in post.facts if isinstance(f, CoatApplied)]
    assert len(coats) > 100
    for coat in coats:
        assert coat.ended_at is not None
        begins, ends = coat.occurred_at.astimezone(ZONE), coat.ended_at.astimezone(ZONE)
        fitting = [
            (opens, closes)
            for day, opens, closes in hours
            if day == days[begins.weekday()] and opens <= f"{begins:%H:%M}"
            if f"{ends:%H:%M}" <= closes
        ]
        minutes_fast = timedelta(minutes=7)  # one phone's clock, on two days
        assert fitting or (f"{ends - minutes_fast:%H:%M}" <= "17:00"), coat


def test_the_air_of_both_rooms_is_read_day_and_night_up_to_now(posts: tuple[Post, ...]) -> None:
    now = datetime(2026, 11, 25, 10, 17, tzinfo=UTC)
    for room in ("spray", "rack"):
        times = sorted(
            reading.at
            for post in posts
            for fact in post.facts
            if isinstance(fact, ClimateRead) and fact.room == room
            for reading in fact.readings
            if reading.at is not None
        )
        gaps = [b - a for a, b in pairwise(times)]
        assert max(gaps) <= timedelta(minutes=20)
        assert timedelta(0) <= now - times[-1] <= timedelta(minutes=20)


@pytest.mark.parametrize(
    "now",
    [
        datetime(2026, 11, 28, 13, 0, tzinfo=UTC),  # a Saturday
        datetime(2026, 11, 30, 6, 0, tzinfo=UTC),  # a Monday before the shop opens
        datetime(2026, 12, 4, 15, 29, tzinfo=UTC),  # a Friday at the bell
        datetime(2027, 3, 29, 11, 59, tzinfo=UTC),  # the day after the clocks went on
    ],
)
def test_it_can_be_played_up_to_any_hour(now: datetime) -> None:
    posts = play(SEED, now)
    assert posts[-1].at <= now
    seen = {type(fact) for post in posts for fact in post.facts}
    assert not [TAG_OF[kind] for kind in EVENT_TYPES if kind not in seen]
