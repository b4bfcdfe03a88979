"""What every book of the watch keeps to: the same suite on memory, SQLite and PostgreSQL."""

from threading import Barrier, Thread

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.promise_watch import Mark, SqlWatch, WatchBook, watch_of
from coatledger_adapters.sql_store import SqlStore


@pytest.fixture
def book(store: Store) -> WatchBook:
    return watch_of(store)


def test_it_begins_once_and_where_it_was_told_to(book: WatchBook) -> None:
    assert book.mark() is None
    assert book.lease("a", 0, 10) is None
    assert book.begin(7, 100) == Mark(7, 7, 100)
    assert book.begin(99, 200) == Mark(7, 7, 100)
    assert book.mark() == Mark(7, 7, 100)


def test_one_process_follows_at_a_time_until_its_lease_is_over(book: WatchBook) -> None:
    book.begin(7, 0)
    assert book.lease("a", 0, 10) == Mark(7, 7, 0, 10, "a")
    assert book.lease("b", 9, 20) is None
    assert book.lease("a", 9, 15) == Mark(7, 7, 0, 15, "a")
    assert book.lease("b", 15, 30) == Mark(7, 7, 0, 30, "b")
    assert not book.keep("a", {"o-1": b"late"})
    assert not book.read_to("a", 9, 16)
    assert book.states() == {}


def test_what_was_read_is_kept_and_the_lease_given_back(book: WatchBook) -> None:
    book.begin(7, 0)
    book.lease("a", 0, 10)
    assert book.read_to("a", 12, 5)
    assert book.lease("b", 6, 20) == Mark(7, 12, 5, 20, "b")


def test_states_are_kept_replaced_and_forgotten_by_name(book: WatchBook) -> None:
    book.begin(0, 0)
    book.lease("a", 0, 10)
    assert book.keep("a", {"o-1": b"one", "o-2/b": b"\x00\xff"})
    assert book.keep("a", {"o-1": b"other", "o-2/b": None, "o-3": None})
    assert book.states() == {"o-1": b"other"}


def test_of_many_at_once_one_gets_the_lease(sql_store: SqlStore) -> None:
    SqlWatch(sql_store).begin(0, 0)
    start, won = Barrier(6), []

    def follow(name: str) -> None:
        mine = SqlWatch(sql_store)
        start.wait()
        if mine.lease(name, 0, 10) is not None:
            won.append(name)

    threads = [Thread(target=follow, args=(f"p{n}",)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 1
