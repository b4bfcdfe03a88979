"""What the shop's facts tell outside: one notice an order, each once, and what a correction takes
back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import msgspec
import pytest
from bench import on_day
from coatledger.events import judging, leaving, orders
from coatledger.events.base import Fact
from coatledger.recording.notices import (
    KIND_OF_FACT,
    KINDS,
    TELLING,
    Message,
    Notice,
    NoticeData,
    NoticeEvent,
    episode,
    id_of,
    message_of,
    notices_of,
)
from story import (
    Story,
    amended,
    coated,
    fact,
    given,
    inspected,
    packed,
    sanded,
    shipped,
    started,
    voided,
)

SHOP = "quay"
LINES = (orders.OrderLine(line="1"), orders.OrderLine(line="2"))
SHOPS_WORK = (
    fact(orders.OrderTaken, "1 07:00", order="1042", lines=LINES),
    fact(orders.OrderTaken, "1 07:05", order="1043", lines=LINES),
    started("a", "b", "c", "d"),
    fact(orders.PieceAllotted, "1 08:30", pieces=("a", "b"), order="1042", line="1"),
    fact(orders.PieceAllotted, "1 08:31", pieces=("c",), order="1043", line="2"),
)


class Told:
    """A shop whose every fact is told, and all that was told of it."""

    def __init__(self, *facts: Fact) -> None:
        self.story: Story = given(*SHOPS_WORK)
        self.messages: list[Message] = []
        self.record(*facts)

    def record(self, *facts: Fact) -> list[Notice]:
        """Record facts and return what they tell, kept as a book would keep it."""
        before = self.story.head().size
        self.story.when(*facts).accepted()
        new: list[Notice] = []
        with self.story.bench.store.reading() as reader:
            for row in reader.rows(before, 100):
                told = notices_of(reader, row, self.about)
                new += told
                self.messages += [message_of(SHOP, notice, row.position) for notice in told]
        return new

    def about(self, event: UUID) -> list[Message]:
        return [message for message in self.messages if message.about == event]


def said(notices: list[Notice]) -> list[tuple[str, str | None, list[tuple[Any, ...]]]]:
    return [
        (n.said.kind, n.said.order, [(line.line, *line.pieces) for line in n.said.lines])
        for n in notices
    ]


def opened(message: Message) -> NoticeEvent:
    return msgspec.json.decode(message.body, type=NoticeEvent)


def test_one_act_about_two_orders_and_stock_tells_each_its_own() -> None:
    assert said(Told().record(packed("a", "c", "b", "d"))) == [
        ("packed", "1042", [("1", "a", "b")]),
        ("packed", "1043", [("2", "c")]),
        ("packed", None, [(None, "d")]),
    ]


def test_a_shipment_that_names_its_order_is_told_under_it() -> None:
    (notice,) = Told().record(shipped("a", "d", order="1042", carrier="van"))
    assert notice.said.carrier == "van"
    assert said([notice]) == [("shipped", "1042", [("1", "a"), (None, "d")])]


def test_a_promise_is_told_with_its_date_and_level() -> None:
    day = on_day("9 00:00").date()
    made = fact(orders.PromiseMade, "1 09:00", order="1042", ships_by=day, level_pct=80.0)
    later = fact(
        orders.PromiseRevised, "1 10:00", order="1042", ships_by=day, level_pct=80.0, why="rework"
    )
    first, second = Told().record(made, later)
    assert (first.said.kind, first.said.ships_by, first.said.level_pct) == ("promised", day, 80.0)
    assert (second.said.kind, second.said.why) == ("revised", "rework")


@pytest.mark.parametrize(
    "quiet",
    [
        inspected("a", passed=False),
        inspected("a", point="between_coats"),
        sanded("a"),
        coated("a"),
        packed("a", source="import"),
    ],
    ids=lambda one: type(one).__name__,
)
def test_what_is_no_news_outside_or_imported_tells_nothing(quiet: Fact) -> None:
    told = Told()
    assert told.record(quiet) == []
    assert told.record(voided(quiet)) == []


def test_a_passed_final_look_tells_that_the_piece_is_ready() -> None:
    assert said(Told().record(inspected("a"))) == [("ready", "1042", [("1", "a")])]


def test_a_voided_shipment_is_taken_back_by_the_id_it_was_told_under() -> None:
    left = shipped("a", "c")
    told = Told(left)
    first, second = told.messages
    taken_back = told.record(voided(left))
    assert [n.said.retracts for n in taken_back] == [first.message_id, second.message_id]
    assert [n.ends for n in taken_back] == [first.message_id, second.message_id]
    assert {n.wanted_as for n in taken_back} == {"shipped"}
    assert said(taken_back) == [
        ("retracted", "1042", [("1", "a")]),
        ("retracted", "1043", [("2", "c")]),
    ]
    assert {n.said.retracted_kind for n in taken_back} == {"shipped"}


def test_a_wrong_piece_of_several_is_taken_back_and_told_rightly() -> None:
    left = shipped("a", "c")
    told = Told(left)
    assert said(told.record(amended(left, pieces=("a", "b")))) == [
        ("retracted", "1042", [("1", "a")]),
        ("retracted", "1043", [("2", "c")]),
        ("shipped", "1042", [("1", "a", "b")]),
    ]
    # A second correction takes back what the first one told, and not the original again.
    again = told.record(amended(left, n=1, pieces=("a",)))
    assert said(again) == [
        ("retracted", "1042", [("1", "a", "b")]),
        ("shipped", "1042", [("1", "a")]),
    ]
    assert said(told.record(voided(left, at="9 19:00"))) == [("retracted", "1042", [("1", "a")])]
    # And what was taken back may stand again.
    assert said(told.record(amended(left, at="9 19:30", pieces=("b",)))) == [
        ("shipped", "1042", [("1", "b")])
    ]


def test_a_correction_that_changes_nothing_told_tells_nothing() -> None:
    done = packed("a", touching="paper")
    assert Told(done).record(amended(done, touching="foam")) == []


def test_a_correction_of_what_nobody_was_told_is_no_news() -> None:
    done = packed("a", source="import")
    assert Told(done).record(amended(done, pieces=("b",))) == []


def test_a_look_that_passed_after_all_is_told_then() -> None:
    look = inspected("a", passed=False)
    told = Told(look)
    assert said(told.record(amended(look, passed=True))) == [("ready", "1042", [("1", "a")])]
    back = told.record(amended(look, n=1, passed=False))
    assert said(back) == [("retracted", "1042", [("1", "a")])]


def test_each_message_has_its_own_id_and_the_same_in_every_life() -> None:
    twice = [Told(inspected("a"), packed("a", "c"), shipped("a")).messages for _ in range(2)]
    ids = [message.message_id for message in twice[0]]
    assert len(set(ids)) == 4
    assert ids == [message.message_id for message in twice[1]]
    assert all("." not in one for one in ids)
    assert id_of("other", "x") != id_of(SHOP, "x")


def test_a_message_is_a_cloud_event() -> None:
    (message,) = Told(shipped("a", "b")).messages
    plain = msgspec.json.decode(message.body)
    assert plain["specversion"] == "1.0"
    assert plain["id"] == message.message_id
    assert plain["source"] == "/shops/quay"
    assert plain["type"] == "coatledger.notice.shipped"
    assert plain["subject"] == "order:1042"
    assert plain["sequence"] == "6"
    assert plain["time"] == on_day("3 15:00").isoformat().replace("+00:00", "Z")
    assert plain["data"]["lines"] == [{"line": "1", "pieces": ["a", "b"]}]
    assert opened(message).data.position == 6


def test_an_episode_is_one_message_whoever_tells_it_and_whatever_its_words() -> None:
    at = on_day("2 09:00")
    one = episode(
        "in_danger", "e-1", at, NoticeData(kind="in_danger", order="1042", chance_pct=61.0)
    )
    two = episode(
        "in_danger", "e-1", at, NoticeData(kind="in_danger", order="1042", chance_pct=58.5)
    )
    other = episode("in_danger", "e-2", at, NoticeData(kind="in_danger", order="1042"))
    assert message_of(SHOP, one, 7).message_id == message_of(SHOP, two, 9).message_id
    assert message_of(SHOP, one, 7).message_id != message_of(SHOP, other, 7).message_id


def test_every_fact_that_tells_is_looked_at() -> None:
    assert frozenset(KIND_OF_FACT.values()) | {"in_danger", "out_of_danger"} == frozenset(KINDS)
    assert {"shipped", "inspected", "event_voided", "event_amended"} <= TELLING
    assert {judging.Inspected, leaving.Shipped} <= frozenset(KIND_OF_FACT)
