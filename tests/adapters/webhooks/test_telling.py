"""Webhooks beside a ledger: what its writes tell, and what rebuilds, restores and moves do not."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from bench import on_day
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros
from coatledger.recording.notices import NoticeData, episode, notices_of
from coatledger_adapters.backup import back_up, restore
from coatledger_adapters.fold_versions import bring_up_to_date, keep_as
from coatledger_adapters.migrate import migrate
from coatledger_adapters.move import move
from coatledger_adapters.sql_reader import StaleFoldsError
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.webhooks.book import WebhookBook
from coatledger_adapters.webhooks.memory_book import MemoryWebhooks
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from scribe import SHOP
from story import packed, shipped, started, voided
from telling import Telling, delivered, message, states, webhook


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
