"""`coatledger move` as an operator calls it, from a file to PostgreSQL and back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from any_history import any_history
from coatledger.computations import merkle
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from postgres_server import HASTY, Server, why_missing
from shell import call


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    yield server
    server.stop()


@pytest.fixture
def ledger(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A ledger in a file; its home and shop named in the environment."""
    monkeypatch.setenv("COATLEDGER_HOME", str(tmp_path))
    monkeypatch.setenv("COATLEDGER_SHOP", "dune-end")
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "dune-end")
    any_history(store, 6, acts=20)
    store.close()
    return address


def root_of(address: str) -> str:
    store = open_store(address, "dune-end", moved_too=True)
    try:
        with store.beside() as reader:
            return merkle.root(reader.head().frontier).hex()
    finally:
        store.close()


@pytest.mark.postgres
def test_a_ledger_goes_to_postgresql_and_back_with_one_root(
    ledger: str, server: Server, tmp_path: Path
) -> None:
    root, there = root_of(ledger), server.new_database()
    assert call("key", "make", "spray room").exit_code == 0
    done = call("move", "--from", ledger, "--to", there)
    assert done.exit_code == 0, done.stderr
    assert f"Root before: {root}\nRoot after:  {root}\n" in done.stdout
    assert "0 names, 1 keys" in done.stdout
    assert "Events" in done.stderr
    # The key made before opens what is served now; the old place is closed.
    assert "spray room" in call("key", "list", "--database", there).stdout
    assert "is whole" in call("self-check", "--database", there).stdout
    closed = call("key", "list")
    assert closed.exit_code == 1
    assert "moved to another database" in " ".join(closed.stderr.split())
    back = f"sqlite:///{tmp_path / 'back.db'}"
    assert call("move", "--from", there, "--to", back).exit_code == 0
    assert root_of(back) == root
    server.drop(there)


def test_what_cannot_be_moved_is_told_and_stays(ledger: str, tmp_path: Path) -> None:
    other = f"sqlite:///{tmp_path / 'other.db'}"
    missing = call("move", "--from", f"sqlite:///{tmp_path / 'none.db'}", "--to", other)
    assert missing.exit_code == 2
    assert "no file" in missing.stderr
    assert call("move", "--from", ledger, "--to", ledger).exit_code == 2
    assert call("move", "--from", ledger, "--to", other).exit_code == 0
    again = call("move", "--from", ledger, "--to", f"sqlite:///{tmp_path / 'third.db'}")
    assert again.exit_code == 1
    assert "--again" in again.stderr
    full = call("move", "--from", ledger, "--to", other, "--again")
    assert full.exit_code == 1
    assert "already holds" in " ".join(full.stderr.split())


@pytest.mark.postgres
def test_a_ledger_on_a_server_is_copied_to_a_file_and_put_back_where_nothing_is(
    ledger: str, server: Server, tmp_path: Path
) -> None:
    root, there = root_of(ledger), server.new_database()
    assert call("move", "--from", ledger, "--to", there).exit_code == 0
    done = call("backup", str(tmp_path / "copies"), "--database", there)
    assert done.exit_code == 0, done.stderr
    path = done.stdout.split(": ")[0].strip()
    refused = call("restore", path, "--yes", "--database", there)
    assert refused.exit_code == 1
    assert "already holds something" in refused.stderr
    other = server.new_database()
    back = call("restore", path, "--yes", "--database", other)
    assert back.exit_code == 0, back.stderr
    assert "the ledger's epoch is now" in back.stdout
    assert root_of(other) == root
