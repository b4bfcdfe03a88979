"""Copies taken under load, checked, put back: no event twice, none lost unseen, a new epoch."""

import json
import sqlite3
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from any_history import any_history
from bench import Bench
from coatledger.computations import merkle
from coatledger.events.coating import Turned
from coatledger_adapters.backup import (
    BackupError,
    back_up,
    check_backup,
    manifest_of,
    restore,
)
from coatledger_adapters.checkpoints import SqlCheckpoints
from coatledger_adapters.erasure import PersonNames, erase_note
from coatledger_adapters.lock_file import InUseError
from coatledger_adapters.migrate import migrate
from coatledger_adapters.self_check import self_check
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_store import SqlStore, open_store

SHOP = "dune-end"
NOW = datetime(2026, 11, 25, 6, 30, tzinfo=UTC)
SIGNER = Signer(SHOP, bytes(range(32)))


class Home:
    """A ledger in a folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.database = folder / "ledger.db"
        self.copies = folder / "copies"
        migrate(f"sqlite:///{self.database}")

    def open(self) -> SqlStore:
        return open_store(f"sqlite:///{self.database}", SHOP)

    def copy(self, minutes: int = 0) -> Path:
        return back_up(self.database, self.copies, NOW + timedelta(minutes=minutes)).path


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


def filled(home: Home) -> int:
    store = home.open()
    any_history(store, 4, acts=30)
    SqlCheckpoints(store, SIGNER).sign(1)
    with store.reading() as reader:
        size = reader.head().size
    store.close()
    return size


def test_a_copy_has_a_manifest_that_says_what_it_is(home: Home) -> None:
    size = filled(home)
    backup = back_up(home.database, home.copies, NOW)
    assert backup.path.name == f"dune-end-20261125T063000Z-{size}.db"
    told = json.loads(manifest_of(backup.path).read_text(encoding="utf-8"))
    store = home.open()
    with store.reading() as reader:
        head = reader.head()
    store.close()
    assert (told["size"], told["epoch"]) == (size, head.epoch)
    assert told["root"] == merkle.root(head.frontier).hex()
    assert told["signed_head"].startswith(f"dune-end/{head.epoch}\n{size}\n")
    assert check_backup(backup.path) == backup.manifest
    assert sorted(path.name for path in home.copies.iterdir()) == sorted(
        [backup.path.name, manifest_of(backup.path).name]
    )


def test_copies_under_load_are_whole_and_appends_go_on(home: Home) -> None:
    store = home.open()
    bench = Bench(store=store).open_shop()
    bench.pieces("A")
    stop, slowest = threading.Event(), [0.0]

    def append() -> None:
        while not stop.is_set():
            begun = time.perf_counter()
            bench.later(0.01).climate(20.0)
            slowest[0] = max(slowest[0], time.perf_counter() - begun)

    writing = threading.Thread(target=append)
    writing.start()
    sizes = [check_backup(home.copy(minutes)).size for minutes in range(5)]
    stop.set()
    writing.join()
    with store.reading() as reader:
        assert reader.head().size >= sizes[-1]
    store.close()
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[-1]
    assert slowest[0] < 2.0  # nobody waits for a whole copy


def test_a_copy_is_taken_of_what_is_still_in_the_write_ahead_log(home: Home) -> None:
    store = home.open()
    Bench(store=store).open_shop()
    assert (home.folder / "ledger.db-wal").stat().st_size > 0
    assert check_backup(home.copy()).size == 6
    store.close()


def test_a_restored_ledger_has_the_same_root_and_another_epoch(home: Home) -> None:
    size = filled(home)
    path = home.copy()
    store = home.open()
    bench = Bench(store=store)
    bench.now += timedelta(days=20)
    bench.count = 7_000
    bench.pieces("LATER")
    store.close()
    restored = restore(path, home.database, home.folder, NOW)
    assert (restored.manifest.size, restored.lost) == (size, 1)
    store = home.open()
    with store.reading() as reader:
        head = reader.head()
        assert merkle.root(head.frontier).hex() == restored.manifest.root
        assert head.epoch == restored.epoch != restored.manifest.epoch
    report = self_check(store, SIGNER.key)
    assert report.wrong == ()
    kept = SqlCheckpoints(store, SIGNER).sign(2)
    assert kept.note.text.startswith(f"dune-end/{restored.epoch}\n")
    bench = Bench(store=store)
    bench.now += timedelta(days=30)
    bench.count = 8_000
    bench.pieces("AFTER")
    store.close()


def test_what_a_restore_replaces_is_moved_aside_whole(home: Home) -> None:
    filled(home)
    path = home.copy()
    store = home.open()
    bench = Bench(store=store)
    bench.now += timedelta(days=20)
    bench.count = 7_000
    bench.pieces("LATER")
    with store.reading() as reader:
        size = reader.head().size
    store.close()
    restored = restore(path, home.database, home.folder, NOW)
    assert restored.replaced is not None
    with sqlite3.connect(restored.replaced) as aside:
        assert aside.execute("SELECT size FROM head").fetchone() == (size,)
    aside.close()


def test_a_copy_is_put_where_no_ledger_is(home: Home, tmp_path: Path) -> None:
    size = filled(home)
    path = home.copy()
    other = tmp_path / "other"
    other.mkdir()
    restored = restore(path, other / "ledger.db", other, NOW)
    assert (restored.replaced, restored.lost) == (None, 0)
    store = open_store(f"sqlite:///{other / 'ledger.db'}", SHOP)
    with store.reading() as reader:
        assert reader.head().size == size
    store.close()


def test_a_ledger_that_is_served_is_not_replaced(home: Home) -> None:
    filled(home)
    path = home.copy()
    store = home.open()
    with pytest.raises(InUseError, match="one service"):
        restore(path, home.database, home.folder, NOW)
    store.close()


@pytest.mark.parametrize("at", [0, 100, 5_000, -1])
def test_a_copy_with_one_changed_byte_is_refused(home: Home, at: int) -> None:
    filled(home)
    path = home.copy()
    data = bytearray(path.read_bytes())
    data[at] ^= 1
    path.write_bytes(data)
    with pytest.raises(BackupError, match="is not the file its manifest tells of"):
        restore(path, home.database, home.folder, NOW)
    assert home.database.exists()


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("DELETE FROM events WHERE position = 9", "event 9 is missing"),
        ("UPDATE events SET leaf = CAST('{}' AS BLOB) WHERE position = 9", "do not give the root"),
        ("DELETE FROM events WHERE position > 30", "the log ends at event 30"),
        ("UPDATE head SET frontier = zeroblob(32)", "do not give the root"),
        ("DROP TABLE events", "is not a ledger's file"),
    ],
)
def test_a_ledger_that_is_not_whole_gives_no_copy(home: Home, statement: str, says: str) -> None:
    filled(home)
    with sqlite3.connect(home.database) as bent:
        bent.execute("DROP TRIGGER events_refuse_update")
        bent.execute("DROP TRIGGER events_refuse_delete")
        bent.execute(statement)
    bent.close()
    with pytest.raises(BackupError, match=says):
        home.copy()
    assert list(home.copies.iterdir()) == []


def test_a_copy_without_its_write_ahead_log_is_caught(home: Home) -> None:
    # What copying the file by hand while the service runs would give.
    filled(home)
    path = home.copy()
    store = home.open()
    bench = Bench(store=store)
    bench.now += timedelta(days=20)
    bench.count = 7_000
    bench.pieces("LATER")
    path.write_bytes(home.database.read_bytes())
    store.close()
    with pytest.raises(BackupError):
        check_backup(path)


def test_what_is_no_copy_is_refused(home: Home, tmp_path: Path) -> None:
    with pytest.raises(BackupError, match="not there"):
        check_backup(tmp_path / "nothing.db")
    (tmp_path / "some.json").write_text("{}", encoding="utf-8")
    with pytest.raises(BackupError, match="cannot be read"):
        check_backup(tmp_path / "some.db")
    with pytest.raises(BackupError, match="is not a ledger's file"):
        back_up(tmp_path / "nothing.db", home.copies, NOW)


def test_another_shops_copy_is_not_put_in_its_place(home: Home, tmp_path: Path) -> None:
    filled(home)
    other = tmp_path / "other.db"
    migrate(f"sqlite:///{other}")
    store = open_store(f"sqlite:///{other}", "hill-top")
    store.close()
    path = back_up(other, home.copies, NOW).path
    with pytest.raises(BackupError, match="the ledger of dune-end"):
        restore(path, home.database, home.folder, NOW)


def test_what_was_erased_since_the_copy_is_erased_again(home: Home) -> None:
    words = "She said the varnish smells of her grandmother's kitchen."
    store = home.open()
    bench = Bench(store=store)
    bench.pieces("A")
    turned = bench.record(Turned, pieces=("A",), note=words)
    names = PersonNames(store, home.folder)
    names.set("w-1", "Somebody Invented")
    store.close()
    path = home.copy()
    assert words.encode() in path.read_bytes()
    store = home.open()
    erase_note(store, home.folder, turned.id)
    PersonNames(store, home.folder).erase("w-1")
    store.close()
    restored = restore(path, home.database, home.folder, NOW)
    assert restored.erased == 2
    assert words.encode() not in home.database.read_bytes()
    store = home.open()
    assert PersonNames(store, home.folder).all() == {}
    with store.reading() as reader:
        assert reader.notes((turned.id,))[turned.id].text is None
    assert self_check(store).wrong == ()
    store.close()
