"""Copies of a PostgreSQL ledger: one file with the same bytes, put back into either database."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from any_history import any_history
from bench import Bench
from coatledger.computations import merkle
from coatledger_adapters.backup import BackupError, Restored, check_backup, manifest_of, restore
from coatledger_adapters.backup_server import back_up_server, restore_to_server
from coatledger_adapters.checkpoints import SqlCheckpoints
from coatledger_adapters.self_check import self_check
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import Server
from scribe import SHOP

pytestmark = pytest.mark.postgres
NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
SIGNER = Signer(SHOP, bytes(range(32)))


@pytest.fixture
def busy(postgresql_address: str) -> Iterator[tuple[SqlStore, Bench]]:
    with closing(open_store(postgresql_address, SHOP)) as store:
        bench = any_history(store, 4, acts=40)
        SqlCheckpoints(store, SIGNER).sign(bench.now_us)
        yield store, bench


def root_of(store: SqlStore) -> tuple[int, bytes]:
    with store.reading() as reader:
        return reader.head().size, merkle.root(reader.head().frontier)


def test_a_copy_is_of_one_moment_while_others_write(
    busy: tuple[SqlStore, Bench], tmp_path: Path
) -> None:
    store, bench = busy
    before, _ = root_of(store)
    stop = threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            bench.later(0.01).pieces(f"N-{number}")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        path, manifest = back_up_server(store, tmp_path / "copies", NOW)
    finally:
        stop.set()
        writer.join()
    after, _ = root_of(store)
    assert before <= manifest.size <= after
    assert check_backup(path) == manifest
    assert manifest.signed_head is not None
    assert set((tmp_path / "copies").iterdir()) == {path, manifest_of(path)}


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_copy_is_put_back_into_either_kind_under_a_new_epoch(
    busy: tuple[SqlStore, Bench], tmp_path: Path, server: Server, kind: str
) -> None:
    store, bench = busy
    path, manifest = back_up_server(store, tmp_path / "copies", NOW)
    told = root_of(store)
    bench.later(1).pieces("LATER-1")
    if kind == "sqlite":
        file = tmp_path / "ledger.db"
        done: Restored = restore(path, file, tmp_path, NOW)
        address = f"sqlite:///{file}"
    else:
        address = server.new_database()
        done = restore_to_server(path, address, tmp_path)
    with closing(open_store(address, SHOP)) as back:
        assert root_of(back) == told == (manifest.size, bytes.fromhex(manifest.root))
        assert self_check(back).is_whole
        with back.reading() as reader:
            assert reader.head().epoch == done.epoch != manifest.epoch
        going_on = Bench(store=back)
        going_on.count = 9_000
        going_on.at("9 09:00").pieces("AFTER-1")
    if kind == "postgresql":
        server.drop(address)


def test_a_copy_goes_into_no_database_that_holds_something(
    busy: tuple[SqlStore, Bench], postgresql_address: str, tmp_path: Path
) -> None:
    store, _ = busy
    path, _ = back_up_server(store, tmp_path / "copies", NOW)
    told = root_of(store)
    with pytest.raises(BackupError, match="already holds something"):
        restore_to_server(path, postgresql_address, tmp_path)
    assert root_of(store) == told
