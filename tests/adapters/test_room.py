"""Why nothing can be written is told in words, and everything else is left as it is."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from coatledger_adapters import room
from coatledger_adapters.migrate import migrate
from coatledger_adapters.room import CannotWriteError, cannot_write_told, room_of_file
from coatledger_adapters.sql_store import open_store


def failure(code: int) -> sqlite3.OperationalError:
    error = sqlite3.OperationalError("it did not work")
    error.sqlite_errorcode = code
    return error


@pytest.mark.parametrize(
    ("code", "says"),
    [
        (sqlite3.SQLITE_FULL, "full"),
        (sqlite3.SQLITE_READONLY, "only be read"),
        (sqlite3.SQLITE_READONLY_DBMOVED, "only be read"),
        (sqlite3.SQLITE_IOERR_WRITE, "fails"),
        (sqlite3.SQLITE_CANTOPEN, "opened"),
    ],
)
def test_what_the_disk_says_is_told_in_words(code: int, says: str) -> None:
    with pytest.raises(CannotWriteError, match=says), cannot_write_told():
        raise failure(code)


@pytest.mark.parametrize(
    "error", [failure(sqlite3.SQLITE_BUSY), failure(sqlite3.SQLITE_CONSTRAINT), ValueError("no")]
)
def test_another_error_stays_what_it_is(error: Exception) -> None:
    with pytest.raises(type(error)) as caught, cannot_write_told():
        raise error
    assert caught.value is error


def test_a_disk_with_little_room_is_not_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    with closing(open_store(address, "shop")) as store:
        assert store.room().writable
        assert store.room().free_bytes == pytest.approx(
            room_of_file(tmp_path / "ledger.db").free_bytes, rel=0.2
        )
        monkeypatch.setattr(room, "FREE_BYTES_MIN", 1 << 60)
        assert not store.room().writable
