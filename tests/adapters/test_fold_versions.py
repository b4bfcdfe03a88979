"""Folds of another version are found out at once, worked out again beside, and flipped as one."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from threading import Event, Thread
from unittest.mock import patch

import pytest
from any_history import any_history
from bench import Bench
from coatledger.events.coating import Turned
from coatledger.ledger.store import Reader
from coatledger.recording.rebuild import Rebuild, Rebuilt
from coatledger.subjects.parked import PARKED
from coatledger.subjects.registry import FOLDS
from coatledger_adapters import fold_versions
from coatledger_adapters.fold_versions import Renewed, bring_up_to_date
from coatledger_adapters.read_models import compare
from coatledger_adapters.shadow import shadow
from coatledger_adapters.sql_reader import StaleFoldsError
from coatledger_adapters.sql_store import SqlStore, open_store
from scribe import SHOP


@contextmanager
def next_version() -> Iterator[None]:
    """A program whose pieces are folded otherwise: on another shelf, under the next version."""
    now = FOLDS["piece"]
    later = now._replace(version=now.version + 1, shelf=lambda piece: f"new-{piece.stage}")
    with patch.dict(FOLDS, piece=later):
        yield


def give_back(store: SqlStore) -> None:
    """Let another store of this test have the one writing connection."""
    with store.alone():
        pass


def is_right(store: SqlStore) -> bool:
    with shadow() as beside, store.beside() as ledger:
        return compare(store, ledger, beside).none


def shelves(store: SqlStore) -> set[str]:
    with store.reading() as reader:
        return {fold.shelf for fold in reader.shelf("piece", None, "", 100)}


def test_folds_of_another_version_are_never_used(address: str) -> None:
    with closing(open_store(address, SHOP)) as store:
        any_history(store, 3, acts=20)
    with next_version(), closing(open_store(address, SHOP)) as store:
        with store.reading() as reader, pytest.raises(StaleFoldsError, match="another version"):
            reader.head()
        with store.reading() as reader, pytest.raises(StaleFoldsError, match="folded by version"):
            reader.folds(("piece:A",))
        with store.reading() as reader, pytest.raises(StaleFoldsError):
            reader.shelf("piece", None, "", 9)
        with pytest.raises(StaleFoldsError), store.writing():
            pass
        # Who only tends the tables, or reads the log, is not kept out.
        with store.beside() as ledger:
            assert ledger.head().size > 20


def test_a_new_version_works_them_out_again_when_it_opens(address: str) -> None:
    with closing(open_store(address, SHOP)) as store:
        any_history(store, 3, acts=40)
        assert bring_up_to_date(store) is None
        size = 0
        with store.reading() as reader:
            size = reader.head().size
    with next_version(), closing(open_store(address, SHOP)) as store:
        renewed = bring_up_to_date(store)
        assert renewed is not None
        assert renewed.size == size
        assert renewed.folds >= 2  # the pieces, and nothing that stayed the same
        assert renewed.folds < 5
        assert is_right(store)
        assert all(shelf.startswith("new-") for shelf in shelves(store))
        assert bring_up_to_date(store) is None


def test_an_older_program_that_still_runs_finds_out_and_writes_nothing(address: str) -> None:
    """Two processes on one PostgreSQL; on SQLite the old one is a store that was left open."""
    with closing(open_store(address, SHOP)) as old:
        bench = any_history(old, 3, acts=20)
        give_back(old)
        with next_version():
            new = SqlStore(old._engines, SHOP)
            assert bring_up_to_date(new) is not None
            give_back(new)
        with old.reading() as reader, pytest.raises(StaleFoldsError):
            reader.head()
        bench.at_hand.forget()
        with pytest.raises(StaleFoldsError):
            bench.later(1).record(Turned, pieces=("A",))
        with next_version():
            assert is_right(new)


@pytest.mark.postgres
def test_it_goes_on_under_writes_of_the_old_version_and_misses_none(
    postgresql_address: str,
) -> None:
    with closing(open_store(postgresql_address, SHOP)) as old:
        bench = any_history(old, 7, acts=30)
        reading = bench.climate(19.0)
        with closing(open_store(postgresql_address, SHOP)) as new:
            # One process has one table of folds, so here the versions differ by their word alone.
            new._made_by = "the next"
            bent = "UPDATE fold SET shelf = 'old' WHERE subject LIKE 'piece:%'"
            with old.tending() as writer:
                writer.cursor.execute(bent)
            with paused_after_the_first_round() as (began, may_go_on):
                found: list[object] = []
                thread = Thread(target=lambda: found.append(bring_up_to_date(new)))
                thread.start()
                assert began.wait(20)
                bench.later(1).pieces("Z-1")
                bench.later(1).climate(23.0)
                bench.void(reading)
                bench.later(1).record(Turned, pieces=("Z-1",))
                may_go_on.set()
                thread.join(60)
            (renewed,) = found
            assert isinstance(renewed, Renewed)
            with new.reading() as reader:
                assert renewed.size == reader.head().size
            assert is_right(new)
            assert "old" not in shelves(new)


@contextmanager
def paused_after_the_first_round() -> Iterator[tuple[Event, Event]]:
    began, may_go_on = Event(), Event()
    real = Rebuild.catch_up

    def slow(run: Rebuild, reader: Reader) -> Rebuilt:
        done = real(run, reader)
        if not began.is_set():
            began.set()
            assert may_go_on.wait(20)
        return done

    with patch.object(Rebuild, "catch_up", slow):
        yield began, may_go_on


def test_what_could_not_be_folded_is_tried_again_when_it_opens(address: str) -> None:
    right = FOLDS["piece"]

    def wrong(piece: object, fact: object) -> object:
        if isinstance(fact, Turned):
            raise ZeroDivisionError("a fault of ours")
        return right.evolve(piece, fact)  # type: ignore[arg-type]

    with closing(open_store(address, SHOP)) as store:
        faulty = right._replace(evolve=wrong)
        with patch.dict(FOLDS, piece=faulty):
            bench = Bench(store=store)
            bench.pieces("A-1", "A-2")
            bench.later(1).record(Turned, pieces=("A-1",))
            assert bring_up_to_date(store) is None
            assert shelves(store) == {PARKED, "bare"}
        assert bring_up_to_date(store) is None
        assert shelves(store) == {"bare"}
        assert is_right(store)


def test_a_ledger_whose_words_are_unknown_is_worked_out_again(address: str) -> None:
    """Such as one from before the head told."""
    with closing(open_store(address, SHOP)) as store:
        any_history(store, 3, acts=20)
        with store.tending() as writer:
            fold_versions.keep_as(store, writer, "")
            writer.cursor.execute("UPDATE fold SET shelf = 'lost'")
            writer.cursor.execute("UPDATE tally SET value = 7")
        renewed = bring_up_to_date(store)
        assert renewed is not None
        assert renewed.folds > 5
        assert is_right(store)


def test_a_flip_that_fails_leaves_everything_as_it_was(address: str) -> None:
    with closing(open_store(address, SHOP)) as store:
        any_history(store, 3, acts=20)
        before = shelves(store)
        give_back(store)
        with next_version(), patch.object(fold_versions, "keep_as", side_effect=OSError("gone")):
            new = SqlStore(store._engines, SHOP)
            with pytest.raises(OSError, match="gone"):
                bring_up_to_date(new)
        assert shelves(store) == before
        assert is_right(store)
