"""What every book of holds keeps to: the same suite on memory, SQLite and PostgreSQL."""

from contextlib import closing
from threading import Barrier, Thread

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.holds import (
    KEPT_US,
    LOOKED_THROUGH,
    TAKING_US,
    Held,
    HoldBook,
    SqlHolds,
    holds_of,
)
from coatledger_adapters.sql_store import SqlStore, open_store
from scribe import SHOP, Act, append

MINUTE_US = 60_000_000
BUYERS = 8


@pytest.fixture
def book(store: Store) -> HoldBook:
    return holds_of(store)


def held(word: str, *, at: int = 0, minutes: int = 10) -> Held:
    asked, quoted = f'{{"of":"{word}"}}'.encode(), b"\x00\xff"
    return Held(word, at, at + minutes * MINUTE_US, "f" * 64, asked, quoted)


def placed(book: HoldBook, word: str, *, at: int = 0, minutes: int = 10) -> Held:
    found = book.place(held(word, at=at, minutes=minutes), book.standing(at).newest, 0)
    assert found is not None
    return found


def words(book: HoldBook, now_us: int) -> list[str]:
    return [one.hold for one in book.standing(now_us).holds]


def test_a_hold_comes_back_as_it_was_placed(book: HoldBook) -> None:
    assert book.find("cart-1") is None
    assert book.standing(0) == (0, ())
    found = placed(book, "cart-1")
    assert found == held("cart-1")._replace(number=1)
    assert book.find("cart-1") == found
    assert book.standing(0) == (1, (found,))


def test_holds_count_in_the_order_they_were_placed_and_end_by_the_clock(book: HoldBook) -> None:
    placed(book, "z", minutes=5)
    placed(book, "a", minutes=20)
    assert words(book, 0) == ["z", "a"]
    assert words(book, 5 * MINUTE_US - 1) == ["z", "a"]
    assert words(book, 5 * MINUTE_US) == ["a"]
    assert words(book, 20 * MINUTE_US) == []
    assert book.find("z") is not None


def test_who_looked_before_another_placed_looks_again(book: HoldBook) -> None:
    newest = book.standing(0).newest
    placed(book, "first")
    assert book.place(held("second"), newest, 0) is None
    assert words(book, 0) == ["first"]
    assert book.place(held("second"), book.standing(0).newest, 0) is not None


@pytest.mark.parametrize("tag", ["order_taken", "promise_made", "order_changed"])
def test_who_looked_before_an_order_was_taken_looks_again(store: Store, tag: str) -> None:
    book = holds_of(store)
    append(store, Act(("order:o",), tag))
    assert book.place(held("late"), 0, 0) is None
    assert book.place(held("late"), 0, 1) is not None


def test_work_at_the_bench_takes_no_hold_away(store: Store) -> None:
    append(store, *[Act(("piece:a",), "coat_applied")] * 5)
    assert holds_of(store).place(held("cart"), 0, 0) is not None


def test_who_looked_long_ago_looks_again(store: Store) -> None:
    append(store, *[Act(("piece:a",), "coat_applied")] * LOOKED_THROUGH)
    assert holds_of(store).place(held("cart"), 0, 0) is None


def test_a_word_holds_once_and_is_free_again_when_it_is_over(book: HoldBook) -> None:
    placed(book, "cart")
    assert book.place(held("cart"), book.standing(0).newest, 0) is None
    over = 10 * MINUTE_US
    again = book.place(held("cart", at=over), book.standing(over).newest, 0)
    assert again is not None
    assert again.number == 2
    book.end("cart", over + 1)
    assert placed(book, "cart", at=over + 2).number == 3


def test_a_hold_is_taken_for_one_order_and_lasts_until_it_is_promised(book: HoldBook) -> None:
    placed(book, "cart")
    late = 10 * MINUTE_US - 1
    assert book.take("cart", "o-1", late)
    assert book.take("cart", "o-1", late)  # the same call twice
    assert not book.take("cart", "o-2", late)
    assert words(book, late + TAKING_US - 1) == ["cart"]
    book.end("cart", late + 3)  # who released it a moment too late
    book.end("cart", late + 4, "o-2")
    assert words(book, late + 5) == ["cart"]
    book.end("cart", late + 5, "o-1")
    found = book.find("cart")
    assert found is not None
    assert (found.taken_for, found.ended_us) == ("o-1", late + 5)
    assert words(book, late + 6) == []


def test_what_is_over_unknown_or_released_is_not_taken(book: HoldBook) -> None:
    placed(book, "cart")
    assert not book.take("none", "o-1", 0)
    assert not book.take("cart", "o-1", 10 * MINUTE_US)
    book.end("cart", 1)
    assert not book.take("cart", "o-1", 2)


def test_a_hold_that_was_not_promised_after_all_is_free_for_others(book: HoldBook) -> None:
    placed(book, "cart")
    assert book.take("cart", "o-1", 0)
    book.let_go("cart", "o-2")
    assert not book.take("cart", "o-2", 0)
    book.let_go("cart", "o-1")
    assert book.take("cart", "o-2", 0)


def test_ending_again_changes_nothing(book: HoldBook) -> None:
    placed(book, "cart")
    book.end("cart", 5)
    book.end("cart", 9)
    book.end("none", 9)
    found = book.find("cart")
    assert found is not None
    assert found.ended_us == 5


def test_holds_of_long_ago_are_forgotten(sql_store: SqlStore) -> None:
    book = SqlHolds(sql_store)
    placed(book, "old")
    placed(book, "new", at=KEPT_US + 11 * MINUTE_US)
    assert book.find("old") is None
    assert book.standing(KEPT_US + 11 * MINUTE_US).newest == 2


def race(books: list[HoldBook]) -> list[Held]:
    """Let each buyer look, and only then all of them place at once."""
    won: list[Held] = []
    gate = Barrier(len(books))

    def buy(number: int, book: HoldBook) -> None:
        newest = book.standing(0).newest
        gate.wait()
        found = book.place(held(f"cart-{number}"), newest, 0)
        if found is not None:
            won.append(found)

    threads = [Thread(target=buy, args=one) for one in enumerate(books)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return won


def test_of_buyers_who_looked_at_once_one_is_sold_it(book: HoldBook) -> None:
    (won,) = race([book] * BUYERS)
    assert words(book, 0) == [won.hold]


@pytest.mark.postgres
def test_so_it_is_when_they_come_to_two_machines(postgresql_address: str) -> None:
    with (
        closing(open_store(postgresql_address, SHOP)) as one,
        closing(open_store(postgresql_address, SHOP)) as other,
    ):
        (won,) = race([SqlHolds(one), SqlHolds(other)] * (BUYERS // 2))
        assert words(SqlHolds(other), 0) == [won.hold]


@pytest.mark.postgres
def test_the_holds_of_another_shop_are_not_seen(postgresql_address: str) -> None:
    with (
        closing(open_store(postgresql_address, SHOP)) as mine,
        closing(open_store(postgresql_address, "far-quay")) as other,
    ):
        placed(SqlHolds(mine), "cart")
        assert SqlHolds(other).find("cart") is None
        assert SqlHolds(other).standing(0) == (0, ())
