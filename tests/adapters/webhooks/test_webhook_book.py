"""The book of webhooks on each engine: what is told once, who is told, and who sends it."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from bench import Bench, on_day
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.ledger.store import Store
from coatledger.recording.notices import KINDS, Message, NoticeData, episode, notices_of
from coatledger_adapters.backup import back_up, restore
from coatledger_adapters.fold_versions import bring_up_to_date, keep_as
from coatledger_adapters.migrate import migrate
from coatledger_adapters.move import move
from coatledger_adapters.sql_reader import StaleFoldsError
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.webhooks import sql_book
from coatledger_adapters.webhooks.book import WEBHOOKS_MAX, Tried, Webhook, WebhookBook
from coatledger_adapters.webhooks.memory_book import MemoryWebhooks
from coatledger_adapters.webhooks.outbox import Outbox
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from scribe import SHOP
from story import packed, shipped, started, voided

SECOND = 1_000_000


def webhook(name: str = "shop0001", *kinds: str, **fields: Any) -> Webhook:
    wanted = frozenset(kinds or KINDS)
    whole = Webhook(name, f"call it {name}", "https://shop.example/", wanted, "on", b"sealed", 1)
    return whole._replace(**fields)


def message(number: int, kind: str = "shipped", **fields: Any) -> Message:
    whole = Message(f"msg_{number}", kind, kind, number, UUID(int=number), None, b"{}")
    return whole._replace(**fields)


def delivered(at_us: int) -> Tried:
    return Tried("delivered", at_us, at_us, 204, None)


@pytest.fixture
def book(store: Store) -> WebhookBook:
    """Each kind of book."""
    return SqlWebhooks(store) if isinstance(store, SqlStore) else MemoryWebhooks(SHOP)


def wanted(store: Store, book: WebhookBook) -> frozenset[str]:
    with store.writing() as ledger:
        return book.wanted(ledger)


def states(book: WebhookBook, name: str = "shop0001") -> list[tuple[int, str, int]]:
    every = ("waiting", "delivered", "dead", "overtaken", "set_aside")
    found = book.deliveries(name, every, 10**9, 100)
    return [(one.number, one.state, one.tries) for one in reversed(found)]


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


# ---- beside a ledger


class Telling:
    """A shop whose writes are noted as the service notes them."""

    def __init__(self, store: SqlStore) -> None:
        self.book = SqlWebhooks(store)
        self.rung = 0
        self.outbox = Outbox(self.book, store.shop, self.ring)
        self.bench = Bench("9 20:00", store)
        self.store = store

    def ring(self) -> None:
        self.rung += 1

    def record(self, *facts: Any) -> int:
        before = self.size
        self.bench.post(*facts)
        with self.store.writing() as ledger:
            return self.outbox.note(ledger, ledger.rows(before, 100))

    @property
    def size(self) -> int:
        with self.store.reading() as reader:
            return reader.head().size


@pytest.fixture
def telling(sql_store: SqlStore) -> Telling:
    return Telling(sql_store)


def test_without_a_webhook_nothing_is_kept_and_with_one_only_what_it_wants(
    telling: Telling,
) -> None:
    assert telling.record(started("a"), packed("a")) == 0
    telling.book.add(webhook("shop0001", "shipped"))
    assert telling.record(shipped("a")) == 1
    assert telling.record(started("b"), packed("b")) == 0
    assert [kind for _, kind, _ in states(telling.book)] == ["waiting"]


def test_a_voided_shipment_is_taken_back_from_who_was_told(telling: Telling) -> None:
    telling.book.add(webhook("shop0001", "shipped"))
    left = shipped("a")
    telling.record(started("a"), left)
    telling.record(voided(left))
    told = telling.book.deliveries("shop0001", ("waiting", "overtaken"), 10**9, 10)
    assert [(one.kind, one.state) for one in told] == [
        ("retracted", "waiting"), ("shipped", "overtaken"),
    ]  # fmt: skip


def test_where_the_program_fails_the_fact_is_recorded_and_others_are_told(
    telling: Telling, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    telling.book.add(webhook())

    def failing(ledger: Any, row: Any, told_about: Any) -> Any:
        if row.type == "packed":
            raise KeyError("a fault of the program")
        return notices_of(ledger, row, told_about)

    monkeypatch.setattr("coatledger_adapters.webhooks.outbox.notices_of", failing)
    assert telling.record(started("a"), packed("a"), shipped("a")) == 1
    assert "could not be worked out" in caplog.text


def test_working_the_folds_out_again_tells_nothing(telling: Telling) -> None:
    telling.book.add(webhook())
    telling.record(started("a"), shipped("a"))
    before = states(telling.book)
    with telling.store.tending() as writer:
        keep_as(telling.store, writer, "another version")
    with pytest.raises(StaleFoldsError):
        telling.book.lease("shop0001", 10**18, 10**18)
    assert bring_up_to_date(telling.store) is not None
    assert states(telling.book) == before
    assert telling.book.lease("shop0001", 10**18, 10**18) is not None


def test_a_follower_tells_an_episode_once_however_often_it_starts_again(telling: Telling) -> None:
    telling.book.add(webhook("shop0001", "in_danger"))
    at = on_day("2 09:00")
    said = NoticeData(kind="in_danger", order="1042", chance_pct=61.0)
    told = [
        telling.outbox.tell([episode("in_danger", word, at, said)], 4, micros(at))
        for word in ("late-oak", "late-oak", "late-oak", "rain")
    ]
    assert told == [1, 0, 0, 1]
    assert telling.rung == 2
    assert len(states(telling.book)) == 2


def test_a_restored_copy_sends_nothing_by_itself(tmp_path: Path) -> None:
    database = tmp_path / "ledger.db"
    migrate(f"sqlite:///{database}")
    with closing(open_store(f"sqlite:///{database}", SHOP)) as store:
        telling = Telling(store)
        telling.book.add(webhook())
        telling.record(started("a"), shipped("a"))
        copy = back_up(database, tmp_path / "copies", on_day("2 09:00"))
    restore(copy.path, database, tmp_path, on_day("3 09:00"))
    with closing(open_store(f"sqlite:///{database}", SHOP)) as store:
        book = SqlWebhooks(store)
        assert states(book) == [(1, "set_aside", 0)]
        assert book.due() == ()
        assert book.waiting_and_dead("shop0001") == (0, 1)
        one = book.find("shop0001")
        assert one is not None
        book.resend(one, 0, 0, 50)
        due = book.lease("shop0001", 60, 99)
        assert due is not None


def test_a_moved_ledger_takes_its_webhooks_along_and_the_old_one_falls_silent(
    telling: Telling, tmp_path: Path
) -> None:
    telling.book.add(webhook())
    telling.record(started("a"), shipped("a"))
    telling.record(voided(shipped("a")))
    before = telling.book.all(), states(telling.book)
    address = f"sqlite:///{tmp_path / 'moved.db'}"
    migrate(address)
    with closing(open_store(address, SHOP)) as target:
        move(telling.store, target)
        there = Telling(target)
        assert (there.book.all(), states(there.book)) == before
        assert there.book.lease("shop0001", 10**18, 10**18) is not None
        assert there.record(started("b"), shipped("b")) == 1
    with pytest.raises(StaleFoldsError):
        telling.book.lease("shop0001", 10**18, 10**18)


@pytest.fixture
def two(postgresql_address: str) -> Iterator[tuple[SqlStore, SqlStore]]:
    """Two processes' stores of one shop."""
    with (
        closing(open_store(postgresql_address, SHOP)) as one,
        closing(open_store(postgresql_address, SHOP)) as other,
    ):
        yield one, other


@pytest.mark.postgres
def test_two_processes_never_take_the_same_message(two: tuple[SqlStore, SqlStore]) -> None:
    books = [SqlWebhooks(store) for store in two]
    books[0].add(webhook())
    books[0].tell([message(n) for n in range(1, 61)], 10)

    def take(book: WebhookBook) -> list[str]:
        taken = []
        while (due := book.lease("shop0001", 10, 60)) is not None:
            taken.append(due.message_id)
            book.mark(due, delivered(11))
        return taken

    with ThreadPoolExecutor(4) as pool:
        taken = [one for some in pool.map(take, books * 2) for one in some]
    assert sorted(taken) == sorted(f"msg_{n}" for n in range(1, 61))


@pytest.mark.postgres
def test_webhooks_of_another_shop_are_not_seen(postgresql_address: str) -> None:
    with (
        closing(open_store(postgresql_address, "dune-end")) as ours,
        closing(open_store(postgresql_address, "sluice-side")) as theirs,
    ):
        SqlWebhooks(theirs).add(webhook())
        SqlWebhooks(theirs).tell([message(1)], 10)
        book = SqlWebhooks(ours)
        assert book.all() == ()
        assert book.due() == ()
        assert book.lease("shop0001", 10**9, 10**10) is None
        book.delete("shop0001")
        assert states(SqlWebhooks(theirs)) == [(1, "waiting", 0)]


def test_in_memory_there_is_a_book_for_each_ledger() -> None:
    one, other = MemoryWebhooks(SHOP), MemoryWebhooks(SHOP)
    one.add(webhook())
    assert other.all() == ()
    with MemoryStore(SHOP).writing() as ledger:
        assert one.put(ledger, [message(1)], 10) == 1
        assert [m.message_id for m in one.told_about(ledger, UUID(int=1))] == ["msg_1"]
