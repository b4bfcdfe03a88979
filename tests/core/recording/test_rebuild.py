"""What is rebuilt from the log is byte for byte what recording kept, however late it came."""

from collections.abc import Iterable

import pytest
from any_history import any_history
from bench import Bench
from coatledger.events.base import Fact
from coatledger.events.coating import Turned
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Reader, StoredFold
from coatledger.recording import rebuild as module
from coatledger.recording.rebuild import fold_of, pages, rebuild
from coatledger.subjects.registry import FOLDS
from memory_beside import MemoryBeside
from proof_shop import lived

EVER = (-(1 << 62), 1 << 62)


def live_folds(reader: Reader) -> dict[str, StoredFold]:
    found = [fold for kind in FOLDS for fold in reader.shelf(kind, None, "", 10_000)]
    # `shop` is a subject without a word, so it is on no list of a kind.
    return {fold.subject: fold for fold in (*found, *reader.folds(("shop",)).values())}


def live_tallies(reader: Reader, names: Iterable[str]) -> dict[tuple[str, str], float]:
    return {(t.name, t.key): t.value for name in set(names) for t in reader.tallies(name)}


def hold_equal(store: MemoryStore, page: int = 1_000) -> MemoryBeside:
    beside = MemoryBeside()
    with store.reading() as reader:
        rebuilt = rebuild(reader, beside, page)
        assert rebuilt.size == reader.head().size
        assert rebuilt.parked == ()
        assert beside.kept == live_folds(reader)
        counts = {key: value for key, value in beside.counts.items() if value}
        names = {name for name, _ in counts} | {"in_process", "shipped", "defect"}
        assert counts == live_tallies(reader, names)
        for known in (None, rebuilt.size // 2, rebuilt.size // 3):
            there = [row for row in beside.climate if row.in_force(known)]
            for room in {row.room for row in beside.climate}:
                here = reader.climate(room, *EVER, known)
                assert sorted(here) == sorted(row for row in there if row.room == room)
    return beside


def test_an_empty_ledger_rebuilds_to_nothing() -> None:
    assert hold_equal(MemoryStore("trial")).kept == {}


def test_a_told_week_rebuilds_to_the_byte() -> None:
    store = MemoryStore("dune-end")
    lived(store)
    hold_equal(store)


@pytest.mark.parametrize("seed", range(40))
def test_any_history_rebuilds_to_the_byte(seed: int) -> None:
    store = MemoryStore("trial")
    any_history(store, seed)
    hold_equal(store)


@pytest.mark.parametrize("page", [1, 2, 7])
def test_the_size_of_a_page_changes_nothing(page: int) -> None:
    store = MemoryStore("trial")
    any_history(store, 99, acts=40)
    hold_equal(store, page)


def test_what_does_not_fit_in_memory_waits_beside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "HOT_MAX", 2)
    store = MemoryStore("trial")
    any_history(store, 7)
    assert hold_equal(store, page=3).fetched > 10


def test_a_subject_that_cannot_be_folded_is_parked_and_stops_no_other(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bench = Bench().open_shop()
    bench.pieces("A", "B")
    bench.record(Turned, pieces=("B",))

    def broken(state: object, fact: Fact) -> object:
        if getattr(state, "piece", "") == "B" and isinstance(fact, Turned):
            raise ZeroDivisionError("a fault of the fold")
        return evolve(state, fact)

    evolve = FOLDS["piece"].evolve
    kinds = {**FOLDS, "piece": FOLDS["piece"]._replace(evolve=broken)}
    monkeypatch.setattr(module, "FOLDS", kinds)
    monkeypatch.setattr("coatledger.subjects.view.FOLDS", kinds)
    beside = MemoryBeside()
    with bench.store.reading() as reader:
        rebuilt = rebuild(reader, beside)
    assert [(p.subject, "a fault of the fold" in p.says) for p in rebuilt.parked] == [
        ("piece:B", True)
    ]
    assert beside.kept["piece:A"].shelf == "bare"


def test_one_subject_is_folded_from_its_own_history() -> None:
    store = MemoryStore("trial")
    any_history(store, 3)
    with store.reading() as reader:
        for subject, live in live_folds(reader).items():
            assert fold_of(reader, subject, live.position) == live


def test_a_log_is_read_page_by_page_to_its_head() -> None:
    store = MemoryStore("trial")
    Bench(store=store).open_shop()
    with store.reading() as reader:
        found = [[row.position for row in rows] for rows in pages(reader, 2, after=1)]
    assert found == [[2, 3], [4, 5], [6]]
