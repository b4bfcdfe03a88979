"""What is refused: the unknown, the impossible at its own place, the future, and what contradicts
itself. Everything else is taken."""

from datetime import date
from typing import Any
from uuid import UUID

import pytest
from bench import on_day
from coatledger.events import bare, finish, judging, orders, setup
from coatledger.events.about import FindingSettled
from coatledger.events.base import Fact
from coatledger.events.leaving import HandedOver
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.ledger.store import Store
from coatledger.recording.judge import body_faults
from msgspec.structs import replace
from story import (
    amended,
    coated,
    fact,
    given,
    inspected,
    packed,
    returned,
    sanded,
    shipped,
    started,
    voided,
)

TAKEN = fact(orders.OrderTaken, "1 07:30", order="o-1", lines=(orders.OrderLine(line="1"),))


def test_a_late_coat_before_the_shipping_is_taken_and_one_while_away_is_not(store: Store) -> None:
    story = given(started("a"), coated("a"), shipped("a", at="3 15:00"), store=store)
    story.when(coated("a", at="2 10:00")).accepted().then("a", stage="shipped")
    assert len(story.piece().coats) == 2
    away = story.when(coated("a", at="4 10:00"))
    away.refused("impossible_order", at="/events/0/pieces/0")
    assert len(story.piece().coats) == 2


def test_between_shipping_and_return_a_piece_is_away_and_afterwards_it_is_not(store: Store) -> None:
    story = given(started("a"), shipped("a"), returned("a", at="6 10:00"), store=store)
    story.when(coated("a", at="5 10:00")).refused("impossible_order")
    story.when(coated("a", at="6 10:00")).accepted().then("a", stage="coated")


def test_a_fact_at_the_very_time_of_another_comes_after_it(store: Store) -> None:
    story = given(started("a"), store=store)
    story.when(shipped("a", at="3 15:00"), coated("a", at="3 15:00")).refused("impossible_order")
    story.when(coated("a", at="3 15:00"), shipped("a", at="3 15:00")).accepted()


def test_a_piece_is_unknown_before_it_was_started(store: Store) -> None:
    story = given(started("a", at="1 08:00"), store=store)
    story.when(sanded("a", at="1 07:59")).refused("unknown_piece", at="/events/0/pieces/0")
    story.when(sanded("a", "zz", at="1 09:00")).refused("unknown_piece", at="/events/0/pieces/1")


def test_a_word_is_used_once(store: Store) -> None:
    story = given(started("a"), TAKEN, store=store)
    story.when(started("a", at="2 08:00")).refused("born_twice")
    again = fact(orders.OrderTaken, "2 07:30", order="o-1", lines=TAKEN.lines)
    story.when(again).refused("born_twice", at="/events/0/order")
    can = fact(finish.LotReceived, "1 08:00", lot="can-1", product="clear", amount_l=5.0)
    story.when(can).accepted()
    mix = fact(finish.LotMixed, "2 08:00", lot="can-1", product="clear",
               parents=(finish.Parent(lot="can-2", amount_l=1.0),))  # fmt: skip
    story.when(mix).refused("born_twice", at="/events/0/lot")


def test_an_expected_piece_is_started_later_and_told_of_earlier(store: Store) -> None:
    due = fact(bare.PieceExpected, "1 07:00", pieces=("a",), likely_on=date(2026, 3, 3))
    given(due, store=store).when(started("a")).accepted().then("a", stage="bare")
    story = given(started("b"))
    story.when(replace(due, pieces=("b",))).accepted().then("b", likely_on="2026-03-03")


def test_an_order_must_be_taken_before_pieces_go_to_it(store: Store) -> None:
    allot = fact(orders.PieceAllotted, "1 09:00", pieces=("a",), order="o-1", line="1")
    story = given(started("a"), store=store)
    story.when(allot).refused("unknown_order", at="/events/0/order")
    story.when(TAKEN, allot).accepted().then("a", order="o-1", line="1")
    story.when(shipped("a", order="o-2")).refused("unknown_order")
    story.when(fact(HandedOver, "4 10:00", pieces=("a",), order="o-1")).accepted()
    assert story.order("o-1").shipped == ("a",)


def test_lots_guns_and_rooms_need_no_description(store: Store) -> None:
    story = given(started("a"), store=store)
    story.when(coated("a", lot="new", gun="new", room="new")).accepted()


def test_every_time_a_fact_gives_is_compared_with_the_clock(store: Store) -> None:
    story = given(started("a"), store=store, now="2 12:00")
    late = on_day("2 12:01")
    story.when(sanded("a", at="2 11:00", ended_at=late)).refused("occurs_in_future")
    read = fact(ClimateRead, "2 11:00", room="r", ended_at=late,
                readings=(Reading(air_c=20, rh_pct=50, at=late),))  # fmt: skip
    story.when(read).refused("occurs_in_future", "occurs_in_future", at="/events/0/ended_at")
    told = sanded("a", at="2 09:00")
    story.when(told).accepted()
    moved = amended(told, at="2 11:30", to="2 13:00")
    story.when(moved).refused("occurs_in_future", at="/events/0/replacement/occurred_at")


def test_an_absence_or_a_closure_may_lie_ahead(store: Store) -> None:
    away = fact(setup.PersonAbsent, "1 09:00", person="p1", since=on_day("30 08:00"))
    shut = fact(setup.ClosureAnnounced, "1 09:00", first_day=date(2026, 8, 1),
                last_day=date(2026, 8, 14))  # fmt: skip
    given(store=store, now="1 12:00").when(away, shut).accepted()


def test_about_an_event_nobody_recorded_nothing_can_be_said(store: Store) -> None:
    story = given(started("a"), store=store)
    ghost = sanded("a")
    settled = fact(FindingSettled, "9 19:00", about=ghost.id, code="no_blow_off", how="wrong")
    story.when(voided(ghost)).refused("unknown_event", at="/events/0/original")
    story.when(settled).refused("unknown_event", at="/events/0/about")
    cured = replace(settled, about=started("a").id, how="cured", cured_by=ghost.id)
    story.when(cured).refused("unknown_event", at="/events/0/cured_by")
    story.when(ghost, cured).accepted()
    assert [s.how for s in story.piece().settled] == ["cured"]


def test_bad_practice_is_taken(store: Store) -> None:
    story = given(started("a", "b"), store=store)
    story.when(coated("a", at="1 10:00"), coated("a", at="1 10:05"), packed("a", at="1 10:10"),
               shipped("a", at="1 10:15"), inspected("b", at="1 10:20", passed=False),
               packed("b", at="1 10:25"), shipped("b", at="1 10:30")).accepted()  # fmt: skip


# ---- what a fact says against itself

LINES = (orders.OrderLine(line="1"), orders.OrderLine(line="2"), orders.OrderLine(line="1"))
OPEN = setup.OpenHours(day="mon", opens="08:00", closes="17:00")


def hours(*given_hours: setup.OpenHours, zone: str = "UTC") -> setup.ShopDescribed:
    return fact(setup.ShopDescribed, "1 08:00", zone=zone, hours=given_hours)


def closed(first: date, last: date) -> setup.ClosureAnnounced:
    return fact(setup.ClosureAnnounced, "1 08:00", first_day=first, last_day=last)


def due(**days: Any) -> bare.PieceExpected:
    return fact(bare.PieceExpected, "1 08:00", pieces=("a",), **days)


def sheet(**values: Any) -> setup.ProductDescribed:
    return fact(setup.ProductDescribed, "1 08:00", product="p", kind="lacquer", **values)


def read(at: str) -> ClimateRead:
    reading = Reading(air_c=20, rh_pct=50, at=on_day(at))
    return fact(ClimateRead, "1 08:00", room="r", ended_at=on_day("1 09:00"), readings=(reading,))


CONTRADICTIONS: tuple[tuple[Fact, str], ...] = (
    (sanded("a", "b", "a"), "/pieces"),
    (sanded("a", faces=("show", "edges", "show")), "/faces"),
    (sanded("a", faces=("all", "show")), "/faces"),
    (coated("a", faces=("show", "all")), "/faces"),
    (sanded("a", at="1 09:00", ended_at=on_day("1 08:59")), "/ended_at"),
    (read("1 07:59"), "/readings/0/at"),
    (read("1 09:01"), "/readings/0/at"),
    (hours(replace(OPEN, closes="08:00")), "/hours/0/closes"),
    (hours(OPEN, replace(OPEN, opens="16:00", closes="20:00")), "/hours"),
    (hours(OPEN, zone="Sea/Bottom"), "/zone"),
    (closed(date(2026, 8, 2), date(2026, 8, 1)), "/last_day"),
    (closed(date(1900, 1, 1), date(2199, 1, 1)), "/last_day"),
    (due(likely_on=date(2026, 3, 5), earliest_on=date(2026, 3, 6)), "/earliest_on"),
    (due(likely_on=date(2026, 3, 5), latest_on=date(2026, 3, 4)), "/latest_on"),
    (sheet(air_min_c=25.0, air_max_c=15.0), "/air_max_c"),
    (sheet(nozzle_min_mm=1.4, nozzle_max_mm=1.3), "/nozzle_max_mm"),
    (fact(setup.RoomDescribed, "1 08:00", room="r", rh_min_pct=60.0, rh_max_pct=40.0),
     "/rh_max_pct"),
    (fact(setup.PersonAbsent, "1 08:00", person="p", since=on_day("5 08:00"),
          until=on_day("4 08:00")), "/until"),
    (fact(orders.PieceAllotted, "1 08:00", pieces=("a",), line="1"), "/line"),
    (fact(orders.OrderTaken, "1 08:00", order="o", lines=LINES), "/lines/2/line"),
    (fact(orders.OrderChanged, "1 08:00", order="o", lines=LINES), "/lines/2/line"),
    (fact(finish.LotMixed, "1 08:00", lot="l", product="p",
          parents=(finish.Parent(lot="l", amount_l=1.0),)), "/parents"),
    (fact(judging.GlossMeasured, "1 08:00", pieces=("a",), gloss_gu=30.0, angle_deg=61),
     "/angle_deg"),
    (fact(FindingSettled, "1 08:00", about=TAKEN.id, code="abc", how="wrong", cured_by=TAKEN.id),
     "/cured_by"),
    (amended(sanded("a"), pieces=("a", "a")), "/replacement/pieces"),
)  # fmt: skip


@pytest.mark.parametrize(("told", "place"), CONTRADICTIONS, ids=lambda x: str(x)[:30])
def test_what_contradicts_itself_is_refused_with_its_place(told: Fact, place: str) -> None:
    assert [f.pointer for f in body_faults(told, "/e")] == [f"/e{place}"]


@pytest.mark.parametrize(
    "told",
    [
        hours(OPEN, replace(OPEN, opens="17:00", closes="00:00"), zone="Pacific/Chatham"),
        closed(date(2026, 8, 1), date(2026, 8, 1)),
        due(likely_on=date(2026, 3, 5), earliest_on=date(2026, 3, 5), latest_on=date(2026, 3, 5)),
        read("1 08:00"),
        read("1 09:00"),
        sheet(air_min_c=15.0, air_max_c=15.0),
    ],
    ids=lambda x: str(x)[:30],
)
def test_the_edges_of_what_can_be_are_taken(told: Fact) -> None:
    assert body_faults(told, "") == ()


def test_the_nil_id_is_nobodys(store: Store) -> None:
    nobody = replace(started("a", at="1 08:00"), id=UUID(int=0))
    given(store=store).when(nobody).refused("invalid", at="/events/0/id")
