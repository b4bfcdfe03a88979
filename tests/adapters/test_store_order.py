"""Many writers at once and readers that tail them: the order of positions is the order of commits.

So a reader that asks for what comes after the last position it saw never skips anything, with no
detector of gaps and no waiting. A store that does not lock the head is shown to fail.
"""

import random
import time
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, field, replace
from threading import Event, Thread

import psycopg
import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Changes, Store, Writer
from coatledger_adapters.sql_store import SqlStore, open_store
from scribe import SHOP, Act, changes, event_id, fold

WRITERS, READERS = 8, 4
WRITES_EACH = 120
SLOW_SHARE, UNDONE_SHARE = 0.05, 0.02
SLOW_S = 0.002
PAGE = 50


class UndoneError(Exception):
    """A writer that thinks better of it."""


@dataclass
class Seen:
    """What a crowd of threads saw; lists are only appended to."""

    written: list[int] = field(default_factory=list)
    undone: list[int] = field(default_factory=list)
    tails: list[list[int]] = field(default_factory=list)
    faults: list[BaseException] = field(default_factory=list)


def write_one(store: Store, rng: random.Random, seen: Seen) -> None:
    count = rng.randint(1, 9)
    with store.writing() as writer:
        made = changes(writer.head(), [Act(("piece:A-1", "gun:G-1"))] * count)
        whole = made._replace(
            folds=[fold("piece:A-1", "bare", made.head.size)], tallies={("coats", "a"): count}
        )
        if rng.random() < SLOW_SHARE:
            time.sleep(SLOW_S)
        if rng.random() < UNDONE_SHARE:
            seen.undone.append(count)
            give_up(store, writer, whole)
        writer.write(whole)
    seen.written.extend(row.position for row in made.rows)


def give_up(store: Store, writer: Writer, made: Changes) -> None:
    if isinstance(store, SqlStore):  # in memory, nothing is undone after `write`
        writer.write(made)
    raise UndoneError


def write_all(store: Store, seed: int, seen: Seen) -> None:
    rng = random.Random(seed)
    for _ in range(WRITES_EACH):
        with suppress(UndoneError):
            write_one(store, rng, seen)


def tail(store: Store, over: Event, positions: list[int]) -> None:
    last_round = False
    while True:
        ended = over.is_set()
        with store.reading() as reader:
            found = reader.rows(positions[-1] if positions else 0, PAGE)
            assert reader.head().size >= len(positions) + len(found)
        positions.extend(row.position for row in found)
        if not found and last_round:
            return
        last_round = ended
        time.sleep(0.0005)


def guarded(seen: Seen, work: Callable[[], None]) -> Thread:
    def run() -> None:
        try:
            work()
        except Exception as error:  # noqa: BLE001 - told to the test, in its own thread
            seen.faults.append(error)

    return Thread(target=run)


def crowd(stores: Sequence[Store]) -> Seen:
    """Let the writers and readers loose, each thread on one of the stores."""
    seen, over = Seen(tails=[[] for _ in range(READERS)]), Event()
    readers = [
        guarded(seen, lambda n=n: tail(stores[n % len(stores)], over, seen.tails[n]))  # type: ignore[misc]
        for n in range(READERS)
    ]
    writers = [
        guarded(seen, lambda n=n: write_all(stores[n % len(stores)], n, seen))  # type: ignore[misc]
        for n in range(WRITERS)
    ]
    for thread in (*readers, *writers):
        thread.start()
    for thread in writers:
        thread.join()
    over.set()
    for thread in readers:
        thread.join()
    return seen


def check(store: Store, seen: Seen) -> None:
    """Nothing skipped, nothing twice, no gap; undone writes left nothing; read models agree."""
    assert seen.faults == []
    size = len(seen.written)
    everything = list(range(1, size + 1))
    assert sorted(seen.written) == everything
    assert seen.undone
    for positions in seen.tails:
        assert positions == everything
    with store.reading() as reader:
        assert reader.head().size == size
        assert len(reader.by_id([event_id(position) for position in everything])) == size
        assert len(reader.of_subject("gun:G-1")) == size
        assert reader.folds(["piece:A-1"])["piece:A-1"].position == size
        (tally,) = reader.tallies("coats")
    assert tally.value == size


def test_a_crowd_in_one_process_keeps_the_order(sql_store: SqlStore) -> None:
    check(sql_store, crowd([sql_store]))


def test_a_crowd_in_memory_keeps_the_order() -> None:
    store = MemoryStore(SHOP)
    check(store, crowd([store]))


@pytest.fixture
def several(postgresql_address: str) -> Sequence[SqlStore]:
    """Stores as several processes have them, each with its own connections."""
    return [open_store(postgresql_address, SHOP) for _ in range(4)]


@pytest.mark.postgres
def test_a_crowd_over_several_services_keeps_the_order(several: Sequence[SqlStore]) -> None:
    seen = crowd(several)
    check(several[0], seen)
    for store in several:
        store.close()


@pytest.mark.postgres
def test_without_the_heads_lock_the_crowd_would_collide(several: Sequence[SqlStore]) -> None:
    for store in several:
        words = store._statements
        store._statements = replace(words, lock_head=words.head)
    seen = crowd(several)
    with pytest.raises(AssertionError):
        check(several[0], seen)
    assert any(isinstance(error, psycopg.errors.UniqueViolation) for error in seen.faults)
    for store in several:
        store.close()


@pytest.mark.postgres
def test_shops_of_one_database_do_not_see_each_other(postgresql_address: str) -> None:
    with (
        closing(open_store(postgresql_address, "dune-end")) as one,
        closing(open_store(postgresql_address, "quay")) as other,
    ):
        check(one, crowd([one]))
        with other.reading() as reader:
            assert reader.head().size == 0
            assert list(reader.rows(0, 9)) == []
            assert list(reader.of_subject("gun:G-1", newest=3)) == []
            assert list(reader.shelf("piece", None, "", 9)) == []
            assert reader.by_id([event_id(1)]) == {}
            assert list(reader.tallies("coats")) == []
        check(other, crowd([other]))
