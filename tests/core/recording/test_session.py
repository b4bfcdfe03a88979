"""Appending: one or many, all or nothing, once however often it is sent, and provably in order."""

import json
from datetime import timedelta
from typing import Any

import pytest
from coatledger.computations import merkle
from coatledger.ledger.batch import Condition
from coatledger.ledger.record import body_of, micros, recorded
from coatledger.ledger.store import Store
from coatledger.recording.session import Request, Session
from msgspec.structs import replace
from story import Story, amended, coated, given, inspected, sanded, shipped, started, voided


def rows(story: Story) -> list[Any]:
    with story.bench.store.reading() as reader:
        return list(reader.rows(0, 1000))


def check_the_chain(story: Story) -> None:
    """Every rule that holds of any ledger whatever was recorded."""
    last: dict[str, int] = {}
    hashes = []
    for position, row in enumerate(rows(story), 1):
        assert row.position == position
        leaf = json.loads(row.leaf)
        assert leaf["previous"] == {s: last.get(s, 0) for s in leaf["previous"]}
        assert (leaf["position"], leaf["shop"]) == (position, story.bench.store.shop)
        last.update(dict.fromkeys(leaf["previous"], position))
        hashes.append(merkle.leaf_hash(row.leaf))
    head = story.head()
    assert head.size == len(hashes)
    frontier: tuple[bytes, ...] = ()
    for size, leaf_hash in enumerate(hashes):
        frontier = merkle.append(frontier, size, leaf_hash)
    assert head.frontier == frontier
    times = [row.recorded_us for row in rows(story)]
    assert times == sorted(times)
    with story.bench.store.reading() as reader:
        for subject, position in last.items():
            assert reader.folds((subject,))[subject].position == position


def test_one_fact_is_one_event_at_the_next_position(store: Store) -> None:
    outcome = given(started("a", "b"), store=store).when(sanded("a", "b"))
    [receipt] = outcome.accepted().receipts
    assert (receipt.position, receipt.repeated) == (2, False)
    assert receipt.recorded_at == outcome.bench.now
    outcome.then("a", stage="prepared").then("b", stage="prepared")
    check_the_chain(outcome)


def test_many_facts_are_taken_in_their_order_and_each_sees_those_before_it(store: Store) -> None:
    outcome = given(store=store).when(started("a"), sanded("a"), coated("a"), shipped("a"))
    assert [r.position for r in outcome.accepted().receipts] == [1, 2, 3, 4]
    outcome.then("a", stage="shipped")
    check_the_chain(outcome)


def test_a_batch_is_all_or_nothing_and_lists_every_fault(store: Store) -> None:
    outcome = given(started("a"), store=store).when(
        sanded("a"), coated("zz"), shipped("a"), coated("a", at="5 10:00")
    )
    outcome.refused("unknown_piece", "impossible_order", at="/events/1/pieces/0")
    assert outcome.refusal is not None
    assert outcome.refusal.faults[1].pointer == "/events/3/pieces/0"
    assert outcome.piece().stage == "bare"
    check_the_chain(outcome.when(sanded("a")).accepted())


def test_a_lenient_batch_takes_what_can_be_taken(store: Store) -> None:
    outcome = given(started("a"), store=store).when(
        sanded("a"), coated("zz"), coated("a"), lenient=True
    )
    assert outcome.refusal is None
    assert [(r.position, [f.rule for f in r.faults]) for r in outcome.receipts] == [
        (2, []), (0, ["unknown_piece"]), (3, []),
    ]  # fmt: skip
    check_the_chain(outcome)


def test_the_same_event_again_gets_its_first_answer(store: Store) -> None:
    story = given(started("a"), store=store)
    [first] = story.when(sanded("a")).receipts
    story.bench.later(5)
    [again] = story.when(sanded("a")).accepted().receipts
    assert again == replace(first, repeated=True)
    assert story.head().size == 2


def test_a_repetition_moves_nothing_not_even_the_time_of_the_last_record(store: Store) -> None:
    story = given(started("a"), store=store)
    head = story.head()
    story.bench.later(5)
    story.when(started("a")).accepted()
    assert story.head() == head


def test_the_same_id_twice_in_one_batch_is_one_event(store: Store) -> None:
    outcome = given(started("a"), store=store).when(sanded("a"), sanded("a"))
    assert [r.repeated for r in outcome.accepted().receipts] == [False, True]
    assert outcome.head().size == 2


def test_the_same_fact_in_other_clothes_is_the_same(store: Store) -> None:
    story = given(started("a"), coated("a", wet_film_um=100.0), store=store)
    same = coated("a", wet_film_um=100.0)
    told = replace(same, wet_film_um=100.00000000001, faces=("all",), source="bench")
    [receipt] = story.when(told).accepted().receipts
    assert receipt.repeated


def test_the_same_id_with_other_content_is_refused(store: Store) -> None:
    told = coated("a")
    outcome = given(started("a"), told, store=store).when(replace(told, lot="can-2"))
    outcome.refused("id_reused", at="/events/0/id")


def test_a_condition_holds_while_nothing_newer_named_the_subject(store: Store) -> None:
    story = given(started("a"), started("b"), sanded("b"), store=store)
    story.when(sanded("a"), conditions=(Condition(subject="piece:a", after=1),)).accepted()
    broken = story.when(coated("a"), conditions=(Condition(subject="piece:a", after=1),))
    broken.refused("condition_broken", at="/conditions/0/after")
    story.when(coated("a"), conditions=(Condition(subject="piece:a", after=4),)).accepted()


def test_a_condition_on_a_subject_nobody_named_holds(store: Store) -> None:
    story = given(store=store)
    story.when(started("a"), conditions=(Condition(subject="piece:a", after=0),)).accepted()


def test_the_same_call_twice_is_answered_although_it_broke_its_own_condition(store: Store) -> None:
    story = given(started("a"), store=store)
    condition = (Condition(subject="piece:a", after=1),)
    story.when(sanded("a"), conditions=condition).accepted()
    [again] = story.when(sanded("a"), conditions=condition).accepted().receipts
    assert again.repeated
    story.when(sanded("a"), coated("a"), conditions=condition).refused("condition_broken")


def test_a_refused_request_leaves_no_trace_in_a_shared_session(store: Store) -> None:
    story = given(started("a"), store=store)
    with story.bench.store.writing() as writer:
        session = Session(writer, "trial", story.bench.now, lambda: bytes(16))
        session.take(Request(events=(sanded("a"),), by="k1"))
        with pytest.raises(Exception, match="no piece zz"):
            session.take(Request(events=(inspected("a"), coated("zz")), by="k2"))
        session.take(Request(events=(coated("a"),), by="k3"))
        writer.write(session.changes())
    assert story.piece().inspections == ()
    assert [recorded(row).by for row in rows(story)] == ["key", "k1", "k3"]
    check_the_chain(story)


def test_recorded_times_never_go_back_although_the_clock_does(store: Store) -> None:
    story = given(started("a"), store=store)
    story.bench.now -= timedelta(hours=2)
    story.when(sanded("a")).accepted()
    check_the_chain(story)


def test_a_correction_goes_on_the_chain_of_all_it_names(store: Store) -> None:
    told = coated("a", "b")
    story = given(started("a", "b", "c"), told, store=store)
    story.when(amended(told, pieces=("a", "c"))).accepted()
    story.when(voided(started("a", "b", "c"))).accepted()
    assert set(recorded(rows(story)[2]).previous) == {"piece:a", "piece:b", "piece:c", "lot:can-1"}
    check_the_chain(story)


def test_the_leaf_holds_the_normal_form_as_it_was_sent(store: Store) -> None:
    story = given(started("a", actor="p1"), store=store)
    [row] = rows(story)
    assert json.loads(body_of(row))["actor"] == "p1"
    assert row.leaf.startswith(b'{"body":' + body_of(row) + b',"by":"key","offset":0,')


# ---- a device's clock


def test_a_devices_offset_moves_every_time_it_gave_and_none_of_its_words(store: Store) -> None:
    fast = sanded("a", at="1 09:30", ended_at=sanded("a", at="1 10:00").occurred_at)
    story = given(started("a"), store=store)
    [receipt] = story.when(fast, offset_ms=600_000).accepted().receipts
    assert receipt.offset_ms == 600_000
    row = rows(story)[1]
    event = recorded(row).event
    assert event.occurred_at == fast.occurred_at - timedelta(minutes=10)
    assert event.ended_at == sanded("a", at="1 09:50").occurred_at
    assert row.occurred_us == micros(event.occurred_at)
    assert json.loads(body_of(row))["occurred_at"] == "2026-03-02T09:30:00.000000Z"
    assert story.piece().sandings[0].at_us == row.occurred_us


def test_sent_again_with_another_offset_it_is_still_the_same_event(store: Store) -> None:
    story = given(started("a"), store=store)
    story.when(sanded("a"), offset_ms=600_000).accepted()
    [again] = story.when(sanded("a"), offset_ms=599_000).accepted().receipts
    assert again.repeated


def test_a_fact_of_the_future_is_refused_after_its_offset_is_taken_out(store: Store) -> None:
    story = given(started("a"), store=store, now="1 12:00")
    ahead = sanded("a", at="1 12:05")
    story.when(ahead).refused("occurs_in_future", at="/events/0/occurred_at")
    story.when(ahead, offset_ms=600_000).accepted()


def test_an_offset_beyond_the_calendar_is_a_fault_and_no_breakdown(store: Store) -> None:
    story = given(started("a"), store=store)
    story.when(sanded("a"), offset_ms=10**17).refused("invalid", at="/events/0/occurred_at")
