"""Void and amend: nothing is edited, the latest correction wins, and every piece named by either
word is folded again."""

from typing import Any

import pytest
from coatledger.events import orders
from coatledger.events.about import FindingSettled
from coatledger.ledger.store import Store
from coatledger.recording.session import Receipt
from msgspec.structs import replace
from story import (
    Story,
    amended,
    coated,
    fact,
    given,
    inspected,
    sanded,
    shipped,
    started,
    voided,
)


def test_a_voided_fact_did_not_happen(store: Store) -> None:
    coat = coated("a", amount_l=0.2)
    story = given(started("a"), coat, store=store)
    story.when(voided(coat)).accepted().then("a", stage="bare", coats=())
    assert story.lot("can-1").stage == "unborn"
    assert story.head().size == 3


def test_one_wrong_piece_of_a_batch_is_put_right(store: Store) -> None:
    coat = coated("a", "b", "c")
    story = given(started("a", "b", "c", "d"), coat, store=store)
    after = story.when(amended(coat, pieces=("a", "b", "d"))).accepted()
    after.then("a", stage="coated").then("c", stage="bare", coats=()).then("d", stage="coated")
    assert [after.piece(w).coats[0].place for w in ("a", "b", "d")] == [0, 1, 2]


def test_the_latest_correction_wins_whatever_it_is(store: Store) -> None:
    coat = coated("a")
    story = given(started("a", "b"), coat, store=store)
    story.when(voided(coat)).then("a", stage="bare")
    story.when(amended(coat, pieces=("b",))).then("a", stage="bare").then("b", stage="coated")
    story.when(amended(coat, lot="can-2", n=2)).then("a", stage="coated").then("b", stage="bare")
    assert [c.lot for c in story.piece("a").coats] == ["can-2"]
    story.when(voided(coat, n=2)).then("a", stage="bare").then("b", stage="bare")


def test_an_amendment_keeps_its_originals_position_and_has_its_own_time(store: Store) -> None:
    first, second = coated("a", lot="can-1"), coated("a", lot="can-2", at="1 10:00", n=2)
    story = given(started("a"), first, second, store=store)
    story.when(amended(first, lot="can-3")).accepted()
    assert [c.lot for c in story.piece().coats] == ["can-3", "can-2"]
    story.when(amended(first, to="1 11:00")).accepted()
    assert [c.lot for c in story.piece().coats] == ["can-2", "can-1"]


def test_an_amendment_is_judged_at_its_originals_place_among_facts_of_one_minute(
    store: Store,
) -> None:
    """Day logs are kept by the minute: coated and shipped at the same one, the coat put right."""
    coat = coated("a", at="3 15:00")
    story = given(started("a"), coat, shipped("a", at="3 15:00"), store=store)
    story.when(amended(coat, lot="can-2")).accepted().then("a", stage="shipped", disputed=())


def test_an_amendment_to_an_impossible_place_is_refused(store: Store) -> None:
    coat = coated("a")
    story = given(started("a"), coat, shipped("a"), store=store)
    moved = story.when(amended(coat, to="4 10:00"))
    moved.refused("impossible_order", at="/events/0/replacement/pieces/0")
    story.when(amended(coat, pieces=("zz",))).refused("unknown_piece")


def test_a_correction_that_makes_a_later_fact_impossible_is_taken_and_disputes_it(
    store: Store,
) -> None:
    birth, sanding, coat = started("a"), sanded("a"), coated("a")
    story = given(birth, sanding, coat, store=store)
    after = story.when(voided(birth)).disputing(sanding, coat)
    assert (after.piece().stage, after.piece().disputed) == ("unborn", (sanding.id, coat.id))
    again = after.when(amended(birth, species="oak")).disputing()
    again.then("a", stage="coated", disputed=(), species="oak")


def test_a_late_fact_disputes_what_it_makes_impossible(store: Store) -> None:
    coat = coated("a", at="4 10:00")
    story = given(started("a"), coat, store=store)
    story.when(shipped("a", at="3 15:00")).disputing(coat)
    assert story.piece().stage == "shipped"
    assert story.when(coated("a", at="2 10:00")).disputing().receipts[0].disputes == ()


def test_a_later_birth_loses_the_word_to_an_earlier_one(store: Store) -> None:
    second = started("a", at="2 08:00")
    story = given(second, sanded("a", at="2 09:00"), store=store)
    story.when(started("a", at="1 08:00", species="oak")).disputing(second)
    assert (story.piece().species, story.piece().stage) == ("oak", "prepared")


@pytest.mark.parametrize("correct", [voided, amended])
def test_a_correction_is_not_corrected(store: Store, correct: Any) -> None:
    coat = coated("a")
    void = voided(coat)
    story = given(started("a"), coat, void, store=store)
    target = void if correct is voided else replace(coat, id=void.id)
    story.when(correct(target, n=5)).refused("corrects_a_correction", at="/events/0/original")


def test_an_amendment_keeps_type_and_id(store: Store) -> None:
    coat = coated("a")
    story = given(started("a"), coat, store=store)
    other_type = replace(amended(coat), replacement=replace(sanded("a"), id=coat.id))
    story.when(other_type).refused("correction_of_other_type", at="/events/0/replacement")
    other_id = replace(amended(coat), replacement=coated("a", n=9))
    story.when(other_id).refused("correction_of_other_type", at="/events/0/replacement/id")


def test_a_correction_in_the_same_batch_sees_its_original(store: Store) -> None:
    coat = coated("a")
    story = given(started("a", "b"), store=store)
    story.when(coat, amended(coat, pieces=("b",)), voided(coat)).accepted()
    assert (story.piece("a").coats, story.piece("b").coats) == ((), ())


def test_sent_again_after_its_correction_an_event_is_still_a_repetition(store: Store) -> None:
    coat = coated("a")
    story = given(started("a"), coat, voided(coat), store=store)
    receipts: tuple[Receipt, ...] = story.when(coat, voided(coat)).accepted().receipts
    assert [r.repeated for r in receipts] == [True, True]
    assert story.piece().coats == ()


def test_an_order_follows_an_allotment_that_is_put_right(store: Store) -> None:
    taken = [
        fact(orders.OrderTaken, "1 07:30", order=o, lines=(orders.OrderLine(line="1"),))
        for o in ("o-1", "o-2")
    ]
    allot = fact(orders.PieceAllotted, "1 09:00", pieces=("a",), order="o-1", line="1")
    story = given(*taken, started("a"), allot, store=store)
    story.when(amended(allot, order="o-2")).accepted().then("a", order="o-2")
    assert story.order("o-1").pieces == ()
    assert [p.piece for p in story.order("o-2").pieces] == ["a"]


# ---- settlements of findings

SETTLED: dict[str, Any] = {"code": "no_blow_off", "how": "accepted"}


def settled_story(store: Store) -> tuple[Story, FindingSettled]:
    coat = coated("a", "b")
    settled = fact(FindingSettled, "9 17:00", about=coat.id, **SETTLED)
    return given(started("a", "b", "c"), coat, settled, store=store), settled


def test_a_settlement_is_kept_with_every_piece_of_the_act(store: Store) -> None:
    story, settled = settled_story(store)
    for word in ("a", "b"):
        assert [s.about for s in story.piece(word).settled] == [settled.about]
    assert story.piece("c").settled == ()


def test_a_settlement_can_be_voided(store: Store) -> None:
    story, settled = settled_story(store)
    story.when(voided(settled)).accepted().then("a", settled=()).then("b", settled=())


def test_a_settlement_of_an_amended_act_reaches_the_pieces_of_both_words(store: Store) -> None:
    coat = coated("a", "b")
    settled = fact(FindingSettled, "9 19:00", about=coat.id, **SETTLED)
    story = given(started("a", "b", "c"), coat, amended(coat, pieces=("a", "c")), store=store)
    story.when(settled).accepted()
    assert [len(story.piece(w).settled) for w in ("a", "b", "c")] == [1, 1, 1]


# ---- what corrections are on the axis of knowledge


def test_a_correction_acts_at_its_own_position_on_what_was_known(store: Store) -> None:
    coat = coated("a")
    story = given(started("a", "b"), coat, store=store)
    story.when(amended(coat, pieces=("b",))).accepted()
    story.when(voided(coat)).accepted()
    seen = [[w for w in ("a", "b") if story.piece(w, known=known).coats] for known in range(1, 5)]
    assert seen == [[], ["a"], ["b"], []]


def test_an_amended_first_look_moves_the_yield_with_it(store: Store) -> None:
    look = inspected("a", at="2 09:00")
    story = given(started("a"), coated("a"), look, store=store)
    with story.bench.store.reading() as reader:
        assert [t.key for t in reader.tallies("first_pass")] == ["2026-03-03T09:00|ash"]
    story.when(amended(look, passed=False)).accepted().then("a", stage="coated")
    with story.bench.store.reading() as reader:
        assert list(reader.tallies("first_pass")) == []
        assert [t.key for t in reader.tallies("first_final")] == ["2026-03-03T09:00|ash"]
