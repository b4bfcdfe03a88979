"""Which addresses are taken, how every connection is set, and who is kept out of a file."""

import subprocess
import sys
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from coatledger_adapters.engines import Engines, UnfitError, make_engines, sqlite_caution
from coatledger_adapters.lock_file import InUseError, LockFile
from coatledger_adapters.migrate import migrate
from coatledger_adapters.room import CannotWriteError
from coatledger_adapters.sql_store import SqlStore, open_store
from scribe import SHOP, Act, append
from sqlalchemy import text


@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("sqlite://", "name a file"),
        ("sqlite:///:memory:", "name a file"),
        ("sqlite:///ledger.db?mode=ro", "without options"),
        ("mysql://host/ledger", "SQLite or PostgreSQL, not in mysql"),
    ],
)
def test_an_address_that_cannot_keep_a_ledger_is_refused(address: str, why: str) -> None:
    with pytest.raises(UnfitError, match=why):
        make_engines(address)


@pytest.mark.parametrize(
    ("version", "mended"),
    [
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 6), False),
        ((3, 50, 7), True),
        ((3, 51, 0), False),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 54, 1), True),
        ((4, 0, 0), True),
    ],
)
def test_a_version_with_the_fault_is_called_by_its_number(
    version: tuple[int, int, int], mended: bool
) -> None:
    caution = sqlite_caution(version)
    assert (caution is None) == mended
    assert caution is None or ".".join(map(str, version)) in caution


def pragma(engines: Engines, writing: bool, name: str) -> object:
    with (engines.writer if writing else engines.reader).connect() as connection:
        return connection.scalar(text(f"PRAGMA {name}"))


def test_every_connection_of_a_file_is_set_to_lose_nothing(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    with closing(make_engines(address)) as engines:
        assert pragma(engines, True, "journal_mode") == "wal"
        assert pragma(engines, True, "synchronous") == 2  # FULL
        assert pragma(engines, True, "query_only") == 0
        assert pragma(engines, False, "query_only") == 1
        assert pragma(engines, False, "wal_autocheckpoint") == 0
        for writing in (True, False):
            assert pragma(engines, writing, "recursive_triggers") == 1
            assert pragma(engines, writing, "busy_timeout") == 5000


@pytest.mark.postgres
def test_a_server_set_to_answer_before_it_is_durable_is_overruled(postgresql_address: str) -> None:
    # The server of the tests is started with synchronous_commit off.
    with closing(make_engines(postgresql_address)) as engines:
        for engine in (engines.writer, engines.reader):
            with engine.connect() as connection:
                assert connection.scalar(text("SHOW synchronous_commit")) == "on"


@pytest.mark.postgres
def test_a_stricter_server_keeps_its_setting(postgresql_address: str) -> None:
    stricter = f"{postgresql_address}?options=-csynchronous_commit%3Dremote_apply"
    with closing(make_engines(stricter)) as engines, engines.writer.connect() as connection:
        assert connection.scalar(text("SHOW synchronous_commit")) == "remote_apply"


@pytest.mark.postgres
def test_a_connection_that_died_while_idle_is_replaced(postgresql_address: str) -> None:
    with closing(open_store(postgresql_address, SHOP)) as store:
        append(store, Act(("piece:A-1",)))
        with store.reading() as one, store.reading() as other:
            assert one.head() == other.head()
        with closing(make_engines(postgresql_address)) as engines, engines.writer.begin() as killer:
            killer.execute(
                text(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )
            )
        append(store, Act(("piece:A-1",)))
        with store.reading() as one, store.reading() as other:
            assert one.head().size == other.head().size == 2


@pytest.mark.postgres
def test_a_connection_that_dies_while_writing_fails_that_write_only(
    postgresql_address: str,
) -> None:
    with closing(open_store(postgresql_address, SHOP)) as store:
        append(store, Act(("piece:A-1",)))
        with pytest.raises(psycopg.OperationalError, match=r"terminat|closed|lost"):
            die_while_writing(store)
        append(store, Act(("piece:A-1",)))
        with store.reading() as reader:
            assert reader.head().size == 2


def die_while_writing(store: SqlStore) -> None:
    with store.beside(writing=True) as ledger:
        ledger.cursor.execute("SELECT pg_terminate_backend(pg_backend_pid())")


HOLD = """
import sys, time
from pathlib import Path
from coatledger_adapters.lock_file import LockFile
lock = LockFile(Path(sys.argv[1]))
print("held", flush=True)
time.sleep(60)
"""


def test_two_services_cannot_keep_one_file(tmp_path: Path) -> None:
    database = tmp_path / "ledger.db"
    migrate(f"sqlite:///{database}")
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(database)], stdout=subprocess.PIPE, text=True
    )
    try:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(InUseError, match=f"process {holder.pid}"):
            open_store(f"sqlite:///{database}", SHOP)
        with pytest.raises(InUseError):
            migrate(f"sqlite:///{database}")
    finally:
        holder.kill()
        holder.communicate()
    # However the holder ended, the file is free again.
    open_store(f"sqlite:///{database}", SHOP).close()


def test_two_names_of_one_file_meet_in_one_lock(tmp_path: Path) -> None:
    database = tmp_path / "ledger.db"
    database.touch()
    (tmp_path / "other.db").symlink_to(database)
    with closing(LockFile(database)), pytest.raises(InUseError):
        LockFile(tmp_path / "other.db")
    LockFile(tmp_path / "other.db").close()


def test_a_lock_is_given_back_once(tmp_path: Path) -> None:
    lock = LockFile(tmp_path / "ledger.db")
    lock.close()
    with closing(LockFile(tmp_path / "ledger.db")):
        lock.close()
        with pytest.raises(InUseError):
            LockFile(tmp_path / "ledger.db")


def test_a_file_keeps_one_shop(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    open_store(address, SHOP).close()
    with pytest.raises(UnfitError, match=f"ledger of {SHOP}, not of quay"):
        open_store(address, "quay")
    # A refused store leaves the file free.
    open_store(address, SHOP).close()


def test_a_new_ledger_gets_an_epoch_of_its_own_and_keeps_it(tmp_path: Path) -> None:
    epochs = []
    for name in ("one", "one", "two"):
        address = f"sqlite:///{tmp_path / name}.db"
        migrate(address)
        with closing(open_store(address, SHOP)) as store, store.reading() as reader:
            epochs.append(reader.head().epoch)
    assert epochs[0] == epochs[1] != epochs[2]


def test_a_full_disk_refuses_the_write_and_the_store_goes_on_when_there_is_room(
    tmp_path: Path,
) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    with closing(open_store(address, SHOP)) as store:
        append(store, Act(("piece:A-1",)))
        with store.beside(writing=True) as ledger:
            ledger.cursor.execute("PRAGMA page_count")
            ((pages,),) = ledger.cursor.fetchall()
            ledger.cursor.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(CannotWriteError, match="disk is full"):
            append(store, *[Act(("piece:A-1",))] * 500)
        with store.reading() as reader:
            assert reader.head().size == 1
            assert len(reader.rows(0, 99)) == 1
        with store.beside(writing=True) as ledger:
            ledger.cursor.execute("PRAGMA max_page_count = 1000000")
        append(store, *[Act(("piece:A-1",))] * 500)
        with store.reading() as reader:
            assert reader.head().size == 501
