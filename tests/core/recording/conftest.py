"""The stores that the rules of recording are held on."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Store
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store

SHOP = "trial"


@pytest.fixture(scope="session")
def tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with the tables made, to copy from."""
    path = tmp_path_factory.mktemp("tables") / "empty.db"
    migrate(f"sqlite:///{path}")
    return path


@pytest.fixture(params=["memory", "sqlite"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty ledger in memory, and one in a file."""
    if request.param == "memory":
        yield MemoryStore(SHOP)
        return
    path = tmp_path / "ledger.db"
    shutil.copy(request.getfixturevalue("tables"), path)
    store = open_store(f"sqlite:///{path}", SHOP)
    yield store
    store.close()
