"""A subject whose facts cannot be folded is set apart; its events stay and the others go on."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

import pytest
from bench import Bench
from coatledger.answers.pieces import piece_list
from coatledger.events.base import Fact
from coatledger.events.coating import Turned
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Reader, StoredFold
from coatledger.recording.rebuild import rebuild
from coatledger.subjects.asked import ask
from coatledger.subjects.counts import counts
from coatledger.subjects.parked import PARKED, ParkedError, ParkedState
from coatledger.subjects.registry import FOLDS, shelf_of, state_bytes, state_of, tally_of
from coatledger.subjects.view import View
from memory_beside import MemoryBeside


@contextmanager
def a_fault_in_the_program(bench: Bench, word: str = "A-1") -> Iterator[None]:
    """While it lasts, a piece of this word cannot be turned: other code, so another process."""
    right = FOLDS["piece"]

    def wrong(piece: Any, fact: Fact) -> Any:
        if piece.piece == word and isinstance(fact, Turned):
            raise ZeroDivisionError("a fault of ours")
        return right.evolve(piece, fact)

    with patch.dict(FOLDS, piece=right._replace(evolve=wrong)):
        bench.at_hand.forget()
        yield
    bench.at_hand.forget()


def turned(bench: Bench, *pieces: str) -> Turned:
    fact = bench.later(1).record(Turned, pieces=pieces)
    assert isinstance(fact, Turned)
    return fact


def stored(reader: Reader, word: str) -> StoredFold:
    return reader.folds((f"piece:{word}",))[f"piece:{word}"]


def listed(bench: Bench, **place: Any) -> list[str]:
    with bench.store.reading() as reader:
        asked = ask(reader, bench.now, place.get("as_of"), place.get("known_at"))
        return [row.piece for row in piece_list(reader, asked).pieces]


@pytest.fixture
def bench() -> Bench:
    bench = Bench(store=MemoryStore("dune-end", "first"))
    bench.pieces("A-1", "A-2")
    return bench


def test_what_happened_is_recorded_and_the_other_piece_goes_on(bench: Bench) -> None:
    with a_fault_in_the_program(bench):
        turned(bench, "A-1", "A-2")
        turned(bench, "A-2")
        with bench.store.reading() as reader:
            assert reader.head().size == 3
            one, other = stored(reader, "A-1"), stored(reader, "A-2")
            assert (one.shelf, other.shelf) == (PARKED, "bare")
            assert (one.position, other.position) == (2, 3)
            with pytest.raises(ParkedError, match=r"piece:A-1: ZeroDivisionError"):
                View(reader, 1 << 60).piece("A-1")
            assert View(reader, 1 << 60).piece("A-2").piece == "A-2"


def test_lists_and_counts_leave_it_out_now_and_in_the_past(bench: Bench) -> None:
    with a_fault_in_the_program(bench):
        turned(bench, "A-1", "A-2")
        assert listed(bench) == ["A-2"]
        assert listed(bench, as_of=bench.now) == ["A-2"]
        before = bench.now
        bench.later(1).pieces("A-3")
        assert listed(bench, known_at=before) == ["A-2"]
        with bench.store.reading() as reader:
            here = sum(counts(reader, ask(reader, bench.now), ("here",)).values())
            assert here == 2


def test_before_the_fact_that_cannot_be_folded_it_is_still_known(bench: Bench) -> None:
    before = bench.now
    with a_fault_in_the_program(bench):
        turned(bench, "A-1")
        with bench.store.reading() as reader:
            view = ask(reader, bench.now, before).view(reader)
            assert view.piece("A-1").stage == "bare"


def test_a_correction_of_that_fact_brings_it_back(bench: Bench) -> None:
    with a_fault_in_the_program(bench):
        fact = turned(bench, "A-1")
        bench.later(1).void(fact)
        assert listed(bench) == ["A-1", "A-2"]


def test_a_mended_program_brings_it_back_with_the_next_fact(bench: Bench) -> None:
    with a_fault_in_the_program(bench):
        turned(bench, "A-1")
        turned(bench, "A-1")
        assert listed(bench) == ["A-2"]
    turned(bench, "A-1")
    assert listed(bench) == ["A-1", "A-2"]
    with bench.store.reading() as reader:
        here = sum(counts(reader, ask(reader, bench.now), ("here",)).values())
        assert here == 2


def test_a_rebuild_sets_the_same_apart_to_the_byte(bench: Bench) -> None:
    with a_fault_in_the_program(bench):
        turned(bench, "A-1", "A-2")
        beside = MemoryBeside()
        with bench.store.reading() as reader:
            rebuilt = rebuild(reader, beside)
            assert [parked.subject for parked in rebuilt.parked] == ["piece:A-1"]
            assert beside.kept["piece:A-1"] == stored(reader, "A-1")
            assert beside.kept["piece:A-2"] == stored(reader, "A-2")
            for (name, key), value in beside.counts.items():
                live = {t.key: t.value for t in reader.tallies(name)}
                assert live.get(key, 0) == value


def test_a_parked_state_is_kept_as_its_reason() -> None:
    state = ParkedState("piece:A-1: a fault")
    data = state_bytes(state)
    assert data == b'"piece:A-1: a fault"'
    for kind in FOLDS:
        with pytest.raises(ParkedError, match="a fault"):
            state_of(kind, data)
        assert shelf_of(FOLDS[kind], state) == PARKED
        assert tally_of(FOLDS[kind], state) == {}


def test_a_piece_whose_birth_is_voided_is_on_no_list(bench: Bench) -> None:
    birth = bench.later(1).pieces("B-1")
    turned(bench, "B-1")
    assert listed(bench) == ["A-1", "A-2", "B-1"]
    at = bench.now
    bench.later(1).void(birth)
    assert listed(bench) == ["A-1", "A-2"]
    assert listed(bench, as_of=at) == ["A-1", "A-2"]
    # Who knew nothing of the correction yet still sees it.
    assert listed(bench, known_at=at) == ["A-1", "A-2", "B-1"]
    with bench.store.reading() as reader:
        asked = ask(reader, bench.now)
        found = piece_list(reader, asked, stages=("bare", "coated", "expected", "shipped"))
        assert [row.piece for row in found.pieces] == ["A-1", "A-2"]
        here = sum(counts(reader, ask(reader, bench.now), ("here",)).values())
        assert here == 2
