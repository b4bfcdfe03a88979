"""Keeping a ledger from the command line: copies, restores, checks, names and erasures."""

import sqlite3
from pathlib import Path

import pytest
from any_history import any_history
from bench import Bench
from click.testing import Result
from coatledger.events.coating import Turned
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from shell import call


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a ledger in it, named in the environment."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.setenv("COATLEDGER_HOME", str(folder))
    monkeypatch.setenv("COATLEDGER_SHOP", "dune-end")
    address = f"sqlite:///{folder / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "dune-end")
    any_history(store, 6, acts=20)
    store.close()
    return folder


def copy_of(home: Path, tmp_path: Path, *options: str) -> Path:
    done = call("backup", str(tmp_path / "copies"), *options)
    assert done.exit_code == 0, done.stderr
    (path,) = (tmp_path / "copies").glob("*.db")
    return path


def words(result: Result) -> str:
    return " ".join((result.stdout + result.stderr).split())


def test_a_ledger_is_copied_checked_and_put_back(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path)
    again = call("backup", str(tmp_path), "--check", str(path))
    assert "and all that follows from them" in words(again)
    done = call("restore", str(path), "--yes")
    assert done.exit_code == 0, done.stderr
    assert "the ledger's epoch is now" in done.stdout
    assert len(list(home.glob("ledger.db.before-*Z"))) == 1
    assert "is whole" in call("self-check").stdout


def test_a_copy_is_taken_while_the_ledger_is_served(home: Path, tmp_path: Path) -> None:
    store = open_store(f"sqlite:///{home / 'ledger.db'}", "dune-end")
    assert copy_of(home, tmp_path, "--quick").is_file()
    store.close()


def test_a_restore_asks_first(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path, "--quick")
    before = (home / "ledger.db").read_bytes()
    assert call("restore", str(path), told="n\n").exit_code == 1
    assert (home / "ledger.db").read_bytes() == before
    assert call("restore", str(path), told="y\n").exit_code == 0


def test_events_that_only_the_replaced_file_has_are_counted(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path, "--quick")
    store = open_store(f"sqlite:///{home / 'ledger.db'}", "dune-end")
    bench = Bench("30 07:00", store=store)
    bench.count = 9_000
    bench.pieces("LATER")
    store.close()
    assert "1 event recorded after the copy" in call("restore", str(path), "--yes").stderr


def test_a_copy_that_was_changed_is_refused(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path, "--quick")
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    refused = call("restore", str(path), "--yes")
    assert refused.exit_code == 1
    assert "is not the file its manifest tells of" in refused.stderr
    assert call("backup", str(tmp_path), "--check", str(path)).exit_code == 1


def test_another_shops_word_is_refused(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path, "--quick")
    refused = call("restore", str(path), "--yes", "--shop", "hill-top")
    assert (refused.exit_code, "--shop dune-end" in refused.stderr) == (2, True)


def test_a_server_that_does_not_answer_is_said(home: Path, tmp_path: Path) -> None:
    path = copy_of(home, tmp_path, "--quick")
    for words_given in (("backup", str(tmp_path)), ("restore", str(path), "--yes")):
        refused = call(*words_given, "--database", "postgresql://127.0.0.1:9/db")
        assert (refused.exit_code, "127.0.0.1" in refused.stderr) == (1, True)
        assert "Traceback" not in refused.stderr


def test_a_bent_ledger_is_told_with_the_next_step(home: Path) -> None:
    with sqlite3.connect(home / "ledger.db") as bent:
        bent.execute("UPDATE fold SET shelf = 'lost' WHERE subject = 'piece:A'")
    bent.close()
    refused = call("self-check")
    assert refused.exit_code == 1
    assert "1 subjects are not what their events make them: piece:A" in refused.stderr
    assert "Next: Run `coatledger self-check --mend`" in refused.stderr
    mended = call("self-check", "--mend")
    assert mended.exit_code == 0
    assert "worked out again" in mended.stderr
    assert call("self-check").exit_code == 0


def test_a_ledger_in_use_is_not_checked_in_place(home: Path) -> None:
    store = open_store(f"sqlite:///{home / 'ledger.db'}", "dune-end")
    assert "stop that one first" in words(call("self-check"))
    store.close()


def test_names_are_kept_listed_and_erased(home: Path) -> None:
    assert "Nobody's name is kept." in call("people").stdout
    assert "w-1   Oriel Invented" in call("people", "--name", "w-1", "Oriel Invented").stdout
    assert call("erase", "--person", "w-1").exit_code == 0
    assert call("erase", "--person", "w-1").exit_code == 1
    assert "Nobody's name is kept." in call("people").stdout
    assert call("people", "--name", "w-1", "x" * 300).exit_code == 2


def test_a_note_is_erased_and_the_ledger_stays_whole(home: Path) -> None:
    store = open_store(f"sqlite:///{home / 'ledger.db'}", "dune-end")
    bench = Bench("30 07:00", store=store)
    bench.count = 9_000
    bench.pieces("NOTED")
    turned = bench.record(Turned, pieces=("NOTED",), note="A word best forgotten, said in anger.")
    store.close()
    assert b"best forgotten" in (home / "ledger.db").read_bytes()
    assert call("erase", "--note", str(turned.id)).exit_code == 0
    assert b"best forgotten" not in (home / "ledger.db").read_bytes()
    assert call("erase", "--note", str(turned.id)).exit_code == 1
    assert "is whole" in call("self-check").stdout


def test_erasing_needs_to_know_what(home: Path) -> None:
    assert call("erase").exit_code == 2
    assert call("erase", "--person", "w-1", "--note", "not an id").exit_code == 2
