"""The book of webhooks on each engine: what is told once, who is told, and who sends it."""

from __future__ import annotations

import pytest
from coatledger.ledger.store import Store
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.webhooks import sql_book
from coatledger_adapters.webhooks.book import WEBHOOKS_MAX, Tried, WebhookBook
from coatledger_adapters.webhooks.memory_book import MemoryWebhooks
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from scribe import SHOP
from telling import delivered, message, states, webhook


@pytest.fixture
def book(store: Store) -> WebhookBook:
    """Each kind of book."""
    return SqlWebhooks(store) if isinstance(store, SqlStore) else MemoryWebhooks(SHOP)


def wanted(store: Store, book: WebhookBook) -> frozenset[str]:
    with store.writing() as ledger:
        return book.wanted(ledger)


def test_a_book_gives_back_what_was_put_in(book: WebhookBook) -> None:
    one = webhook("later001", "shipped", created_us=7, older_secret=b"older", older_until_us=99)
    two = webhook("first001", "ready", "packed", label="Büro – 事務所", created_us=3)
    for each in (one, two):
        assert book.add(each)
    assert book.all() == (two, one)
    assert book.find("later001") == one
    assert book.find("nobody00") is None


def test_a_shop_has_so_many_webhooks_and_no_more(book: WebhookBook) -> None:
    assert all(book.add(webhook(f"shop{n:04}")) for n in range(WEBHOOKS_MAX))
    assert not book.add(webhook("onemore1"))
    assert len(book.all()) == WEBHOOKS_MAX
    book.delete("shop0003")
    assert book.add(webhook("onemore1"))


def test_an_id_names_one_webhook_the_first(book: WebhookBook) -> None:
    first = webhook("shop0001", "shipped")
    assert book.add(first) == first
    assert book.add(webhook("shop0001", "ready", secret=b"another")) == first
    assert book.all() == (first,)
    for n in range(2, WEBHOOKS_MAX + 1):
        book.add(webhook(f"shop{n:04}"))
    assert book.add(first) == first, "a full book still knows whom it has"


def test_the_head_says_what_anybody_wants(store: Store, book: WebhookBook) -> None:
    assert wanted(store, book) == frozenset()
    book.add(webhook("shop0001", "shipped", "ready"))
    book.add(webhook("shop0002", "ready", "packed", created_us=2))
    assert wanted(store, book) == {"shipped", "ready", "packed"}
    book.change(webhook("shop0001", "handed_over", state="paused"))
    assert wanted(store, book) == {"handed_over", "ready", "packed"}
    book.change(webhook("shop0002", "packed", state="gone"))
    assert wanted(store, book) == {"handed_over"}
    book.delete("shop0001")
    book.delete("shop0002")
    assert wanted(store, book) == frozenset()


def test_a_message_is_told_once_to_whoever_wants_it(book: WebhookBook) -> None:
    book.add(webhook("shop0001", "shipped"))
    book.add(webhook("shop0002", "ready"))
    assert book.tell([message(1), message(2, "ready"), message(1)], 10) == 2
    assert book.tell([message(1), message(2, "ready")], 11) == 0
    assert states(book, "shop0001") == [(1, "waiting", 0)]
    assert states(book, "shop0002") == [(2, "waiting", 0)]


def test_what_was_told_to_nobody_is_known_as_told(book: WebhookBook) -> None:
    assert book.tell([message(1)], 10) == 1
    book.add(webhook())
    assert book.tell([message(1)], 20) == 0
    assert states(book) == []


def test_whoever_is_gone_is_told_nothing_and_whoever_is_paused_later(book: WebhookBook) -> None:
    book.add(webhook("paused01", state="paused"))
    book.add(webhook("gone0001", state="gone", created_us=2))
    book.tell([message(1)], 10)
    assert states(book, "gone0001") == []
    assert states(book, "paused01") == [(1, "waiting", 0)]
    assert book.due() == ()
    assert book.lease("paused01", 20, 30) is None
    book.change(webhook("paused01"))
    assert book.due() == (("paused01", 10),)


def test_a_leased_message_is_nobody_elses_until_the_lease_is_over(book: WebhookBook) -> None:
    book.add(webhook())
    book.tell([message(1), message(2)], 10)
    first, second = book.lease("shop0001", 10, 60), book.lease("shop0001", 10, 60)
    assert first is not None
    assert second is not None
    assert (first.message_id, second.message_id) == ("msg_1", "msg_2")
    assert book.lease("shop0001", 59, 99) is None
    assert book.due() == (("shop0001", 60),)
    again = book.lease("shop0001", 60, 99)
    assert again is not None
    assert (again.message_id, again.tries) == ("msg_1", 2)


def test_only_who_holds_the_lease_says_what_became_of_it(book: WebhookBook) -> None:
    book.add(webhook())
    book.tell([message(1)], 10)
    slow = book.lease("shop0001", 10, 60)
    quick = book.lease("shop0001", 60, 99)
    assert slow is not None
    assert quick is not None
    book.mark(slow, Tried("dead", 70, 70, 500, "too late"))
    assert states(book) == [(1, "waiting", 2)]
    book.mark(quick, delivered(80))
    assert states(book) == [(1, "delivered", 2)]
    found = book.find("shop0001")
    assert found is not None
    assert (found.success_us, found.failure_us, found.says) == (80, 70, "too late")


def test_who_is_gone_for_good_ends_the_webhook(store: Store, book: WebhookBook) -> None:
    book.add(webhook())
    book.tell([message(1), message(2)], 10)
    due = book.lease("shop0001", 10, 60)
    assert due is not None
    book.mark(due, Tried("dead", 11, 11, 410, "answered 410", is_gone=True))
    found = book.find("shop0001")
    assert found is not None
    assert found.state == "gone"
    assert book.due() == ()
    assert wanted(store, book) == frozenset()
    assert book.waiting_and_dead("shop0001") == (1, 1)


def test_what_is_taken_back_before_it_arrived_does_not_arrive_after(book: WebhookBook) -> None:
    book.add(webhook("shop0001"))
    book.add(webhook("shop0002", created_us=2))
    book.tell([message(1), message(2)], 10)
    due = book.lease("shop0002", 10, 60)
    assert due is not None
    book.mark(due, delivered(11))
    taken_back = message(3, "retracted", wanted_as="shipped", ends="msg_1")
    assert book.tell([taken_back], 20) == 1
    assert states(book, "shop0001") == [(1, "overtaken", 0), (2, "waiting", 0), (3, "waiting", 0)]
    assert states(book, "shop0002") == [(1, "delivered", 1), (2, "waiting", 0), (3, "waiting", 0)]


def test_what_was_told_goes_out_again_under_its_old_id(book: WebhookBook) -> None:
    book.add(webhook("shop0001", "shipped", "ready"))
    book.tell([message(1), message(2, "packed"), message(3, "ready"), message(4)], 10)
    book.tell([message(5), message(6, "retracted", wanted_as="shipped", ends="msg_4")], 20)
    while (due := book.lease("shop0001", 30, 60)) is not None:
        book.mark(due, delivered(30))
    one = book.find("shop0001")
    assert one is not None
    assert book.resend(one, 0, 20, 40) == (2, 6, False)
    assert [n for n, state, _ in states(book) if state == "waiting"] == [5, 6]
    assert book.resend(one, 2, 0, 50) == (3, 6, False)
    assert [n for n, state, _ in states(book) if state == "waiting"] == [3, 5, 6]
    again = book.lease("shop0001", 60, 99)
    assert again is not None
    assert (again.message_id, again.tries) == ("msg_3", 1)


def test_much_goes_out_again_in_parts_and_no_position_is_cut_in_two(
    book: WebhookBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sql_book, "RESEND_MAX", 3)
    book.add(webhook("shop0001", "shipped", "ready"))
    one = webhook("shop0001", "shipped", "ready")
    # What is told late of an early position stands among its own: it is asked for by position.
    positions = (1, 2, 2, 3, 3, 3, 2, 9)
    book.tell([message(n, position=at) for n, at in enumerate(positions, 1)], 10)
    parts, after, more = [], 0, True
    while more:
        sent, after, more = book.resend(one, after, 0, 20)
        parts.append((sent, after))
    assert parts == [(1, 1), (3, 2), (3, 3), (1, 9)]


def test_deliveries_are_listed_newest_first_and_page_by_page(book: WebhookBook) -> None:
    book.add(webhook())
    book.tell([message(n) for n in range(1, 8)], 10)
    for _ in range(2):
        due = book.lease("shop0001", 10, 60)
        assert due is not None
        book.mark(due, delivered(12))
    page = book.deliveries("shop0001", ("waiting", "delivered"), 10**9, 3)
    assert [one.number for one in page] == [7, 6, 5]
    page = book.deliveries("shop0001", ("waiting", "delivered"), 5, 10)
    assert [(one.number, one.state) for one in page] == [
        (4, "waiting"), (3, "waiting"), (2, "delivered"), (1, "delivered"),
    ]  # fmt: skip
    assert [one.number for one in book.deliveries("shop0001", ("delivered",), 10**9, 9)] == [2, 1]
    assert book.waiting_and_dead("shop0001") == (5, 0)


def test_a_deleted_webhook_takes_what_waits_along(book: WebhookBook) -> None:
    book.add(webhook())
    book.tell([message(1)], 10)
    book.delete("shop0001")
    assert book.find("shop0001") is None
    assert states(book) == []
