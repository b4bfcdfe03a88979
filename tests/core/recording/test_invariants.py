"""Whatever is posted, late, impossible or corrected: what is stored equals what the whole history
says when it is read from the beginning, byte for byte."""

from collections import Counter
from typing import Any

import oracle
from bench import on_day
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, TAGS
from coatledger.ledger.correct import FAR, history, last
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.recording.session import Request, Session
from coatledger.subjects.registry import FOLDS, kind_of, state_bytes
from coatledger.subjects.tallies import of_piece
from coatledger.subjects.view import View
from hypothesis import given as drawn
from hypothesis import strategies as st
from story import Story, given

from scripts import FACTS_ONLY, PIECES, SCRIPTS, SLOTS, Line, at, on_their_own, play

SUBJECTS = tuple(
    [f"piece:{w}" for w in PIECES] + [f"lot:lot-{w}" for w in PIECES]
    + [f"lot:mix-{w}" for w in PIECES] + [f"order:o-{w}" for w in PIECES]
)  # fmt: skip
FACT_TAGS = tuple(tag for tag in TAGS if TAGS[tag] not in CORRECTIONS)
TALLIES = (
    "started", "shipped", "scrapped", "lead_h", "in_process", "first_final", "first_pass",
    "produced", "rejected", "reworked", "rework", "defect", "case", "case_of", "rework_cost",
    "left_of", "here",
)  # fmt: skip


def played(script: list[Line]) -> tuple[Story, MemoryStore]:
    store = MemoryStore("trial")
    story = given(store=store)
    play(story, script)
    return story, store


@drawn(SCRIPTS)
def test_stored_folds_are_the_fold_of_the_whole_history(script: list[Line]) -> None:
    _, store = played(script)
    stands = oracle.standing(store.rows(0, 1000))
    named = {subject for told in stands for subject in told.subjects}
    for stored in store._folds.values():
        fold = FOLDS[kind_of(stored.subject)]
        state = oracle.state(stands, stored.subject)
        assert stored.state == state_bytes(state)
        assert stored.shelf == fold.shelf(state)
        kept = [t.at_us for t in stands if stored.subject in t.subjects and looked_at(fold, t.fact)]
        assert stored.folded_us == max(kept, default=0)
    assert named <= set(store._folds)


def looked_at(fold: Any, fact: Fact) -> bool:
    return fold.types is None or str(fact.__struct_config__.tag) in fold.types


@drawn(SCRIPTS)
def test_tallies_are_the_sum_over_all_pieces(script: list[Line]) -> None:
    _, store = played(script)
    stands = oracle.standing(store.rows(0, 1000))
    expected: Counter[tuple[str, str]] = Counter()
    for word in PIECES:
        expected.update(of_piece(oracle.state(stands, f"piece:{word}")))
    assert {name for name, _ in expected} <= set(TALLIES)
    found = {(t.name, t.key): t.value for name in TALLIES for t in store.tallies(name)}
    assert found == dict(expected)


@drawn(SCRIPTS)
def test_climate_is_what_the_readings_that_stand_say_at_every_knowledge(
    script: list[Line],
) -> None:
    _, store = played(script)
    rows = store.rows(0, 1000)
    for room in [f"room-{word}" for word in PIECES]:
        for known in range(len(rows) + 1):
            found = [
                (row.at_us, row.position, row.air_c, row.rh_pct, row.surface_c)
                for row in store.climate(room, -FAR, FAR, known)
            ]
            assert found == list(oracle.readings(rows, room, known))
        assert store.climate(room, -FAR, FAR) == store.climate(room, -FAR, FAR, len(rows))


@drawn(
    SCRIPTS, st.integers(0, SLOTS), st.one_of(st.none(), st.integers(0, 24)),
    st.one_of(st.just(FAR), st.integers(0, 24)),
)  # fmt: skip
def test_a_view_from_any_place_sees_what_the_plain_oracle_sees(
    script: list[Line], slot: int, known: int | None, before: int
) -> None:
    _, store = played(script)
    rows = store.rows(0, 1000)
    stands = oracle.standing(rows, oracle.LAST if known is None else known)
    at_us = micros(on_day(at(slot)))
    view = View(store, at_us, before=before, known=known)
    for word in PIECES:
        assert view.piece(word) == oracle.state(stands, f"piece:{word}", at_us, before)
        assert view.lot(f"lot-{word}") == oracle.state(stands, f"lot:lot-{word}", at_us, before)
        assert view.order(f"o-{word}") == oracle.state(stands, f"order:o-{word}", at_us, before)
    gun = oracle.state(stands, "gun:gun-1", at_us, before)
    assert (view.gun("gun-1").set_up, view.gun("gun-1").flushed) == (gun.set_up, gun.flushed)


@drawn(
    SCRIPTS, st.sampled_from(SUBJECTS), st.integers(0, SLOTS),
    st.one_of(st.none(), st.integers(0, 24)), st.one_of(st.just(FAR), st.integers(0, 24)),
    st.integers(1, 3), st.randoms(use_true_random=False),
)  # fmt: skip
def test_the_last_facts_before_a_place_are_those_of_the_whole_history(
    script: list[Line],
    subject: str,
    slot: int,
    known: int | None,
    before: int,
    count: int,
    rng: Any,
) -> None:
    _, store = played(script)
    stands = oracle.standing(store.rows(0, 1000), oracle.LAST if known is None else known)
    at_us = micros(on_day(at(slot)))
    types = tuple(rng.sample(FACT_TAGS, rng.choice((3, 20, 60))))
    fitting = [
        told
        for told in stands
        if subject in told.subjects
        and told[:2] < (at_us, before)
        and str(told.fact.__struct_config__.tag) in types
    ]
    found = last(store, subject, types, at_us, before=before, known=known, count=count)
    assert [(p.at_us, p.position, p.fact) for p in found] == [t[:3] for t in fitting[-count:]]
    whole = history(store, subject, known=known, types=types)
    assert {p.fact.id for p in found} <= {p.fact.id for p in whole}


@drawn(SCRIPTS)
def test_a_fact_is_taken_exactly_when_the_facts_before_it_allow_it(script: list[Line]) -> None:
    """Each row is judged again by the oracle against what stood when it was recorded."""
    _, store = played(script)
    rows = store.rows(0, 1000)
    for told in oracle.standing(rows):
        if (
            told.written != told.position
            or str(told.fact.__struct_config__.tag) == "finding_settled"
        ):
            continue
        before = oracle.standing(rows, told.position - 1)
        for subject in told.subjects:
            may_follow = FOLDS[kind_of(subject)].may_follow
            state = oracle.state(before, subject, told.at_us, told.position)
            assert may_follow is None or may_follow(state, told.fact)


@drawn(FACTS_ONLY, st.randoms(use_true_random=False))
def test_the_order_of_arrival_makes_no_difference(script: list[Line], rng: Any) -> None:
    """A refused fact is sent again later, as a device does that was offline."""
    in_order = given()
    facts = [
        told for told in on_their_own(play(given(), script)) if in_order.when(told).refusal is None
    ]
    shuffled, waiting = given(), list(facts)
    rng.shuffle(waiting)
    while waiting:
        left = [told for told in waiting if shuffled.when(told).refusal is not None]
        assert len(left) < len(waiting)
        waiting = left
    stands = oracle.standing(oracle.all_rows(shuffled.bench.store))
    for subject in SUBJECTS:
        with shuffled.bench.store.reading() as some, in_order.bench.store.reading() as other:
            found, wanted = some.folds((subject,)), other.folds((subject,))
        assert found.keys() == wanted.keys()
        for stored in found.values():
            assert (
                stored.state == wanted[subject].state == state_bytes(oracle.state(stands, subject))
            )


@drawn(SCRIPTS, st.lists(st.integers(1, 5), min_size=1, max_size=8))
def test_many_requests_in_one_commit_store_what_single_ones_do(
    script: list[Line], sizes: list[int]
) -> None:
    """The bytes are the same but for the record's times, which one commit shares."""
    story, store = played(script)
    facts: list[Any] = play(given(), script)
    other = MemoryStore("trial")
    while facts:
        size = sizes[len(facts) % len(sizes)]
        with other.writing() as writer:
            session = Session(writer, "trial", story.bench.now, lambda: bytes(16))
            for told in facts[:size]:
                session.take(Request(events=(told,), by="key"))
            writer.write(session.changes())
        facts = facts[size:]
    assert other.head() == store.head()
    assert other._folds == store._folds
    assert {k: v for k, v in other._tallies.items() if v} == {
        k: v for k, v in store._tallies.items() if v
    }
    assert {k: v for k, v in other._climate.items() if v} == store._climate
