"""One write in the making answers as the store will once it is written."""

from copy import deepcopy
from typing import Any

from coatledger.ledger.correct import FAR
from coatledger.ledger.memory import MemoryStore
from coatledger.recording.overlay import Overlay
from coatledger.recording.session import Request, Session
from hypothesis import given as drawn
from story import amended, coated, given, sanded, started, voided

from scripts import SCRIPTS, Line, play


def begun(*facts: Any) -> tuple[MemoryStore, Session]:
    """Some facts written, and a session that has taken none yet."""
    store = MemoryStore("trial")
    story = given(*facts, store=store)
    return store, Session(store, "trial", story.bench.now, lambda: bytes(16))


def everything(reader: Any, subjects: tuple[str, ...], ids: tuple[Any, ...]) -> tuple[Any, ...]:
    """Ask a reader for all it answers while recording. Of a reading the last column is left out:
    it says when the reading was taken back, which only those who know later positions see."""
    times = [row.occurred_us for row in reader.rows(0, 99)]
    return (
        reader.head(),
        list(reader.rows(2, 5)),
        dict(reader.by_id(ids)),
        dict(reader.notes(ids)),
        {s: fold for s, fold in reader.folds(subjects).items() if fold.position},
        [list(reader.of_subject(s)) for s in subjects],
        [list(reader.of_subject(s, known=4, newest=2)) for s in subjects],
        [list(reader.of_subject(s, until_us=t, newest=2)) for s in subjects for t in times],
        [list(reader.of_subject(s, types=("coat_applied", "moved"))) for s in subjects],
        [[row[:6] for row in reader.climate(f"room-{w}", -FAR, FAR, k)] for w in "abc"
         for k in (None, 3, 9)],
        [row and row[:6] for w in "abc" for t in times for k in (None, 5)
         for row in [reader.climate_before(f"room-{w}", t, k)]],
        reader.position_at(reader.head().recorded_us),
        reader.position_at(0),
    )  # fmt: skip


@drawn(SCRIPTS)
def test_pending_reads_as_written(script: list[Line]) -> None:
    facts: list[Any] = play(given(), script)
    half = len(facts) // 2
    store, session = begun(*facts[:half])
    for told in facts[half:]:
        session.take(Request(events=(told,), by="key"))
    subjects = ("piece:a", "piece:b", "lot:lot-a", "order:o-a", "gun:gun-1", "room:room-a")
    ids = tuple(told.id for told in facts)
    pending = everything(session.overlay, subjects, ids)
    store.write(session.changes())
    written = everything(store, subjects, ids)
    for was, now in zip(pending, written, strict=True):
        assert was == now


def test_going_back_to_a_mark_forgets_everything_since() -> None:
    store, session = begun(started("a", "b"))
    session.take(Request(events=(sanded("a"),), by="key"))
    before = deepcopy(session.changes())
    mark = session.overlay.mark()
    told = coated("a", note="dusty")
    session.take(Request(events=(told, amended(told, pieces=("b",)), voided(told)), by="key"))
    session.overlay.back_to(mark)
    assert session.changes() == before
    assert session.overlay.by_id((told.id,)) == {}
    store.write(session.changes())
    assert store.head().size == 2


def test_an_overlay_without_news_stands_where_the_store_stands() -> None:
    store, _ = begun(started("a"))
    overlay = Overlay(store, now_us=FAR)
    changes = overlay.changes()
    assert changes.head == store.head()
    assert (changes.rows, changes.subjects, changes.folds, dict(changes.tallies)) == (
        [],
        [],
        [],
        {},
    )
