"""A service on each kind of store."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from served import Served, serving


@pytest.fixture
def served() -> Iterator[Served]:
    """A service over a ledger in memory."""
    with serving(MemoryStore("trial")) as one:
        yield one


@pytest.fixture(params=["memory", "sqlite"])
def served_on_each(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Served]:
    """A service over each kind of ledger that needs no server."""
    if request.param == "memory":
        with serving(MemoryStore("trial")) as one:
            yield one
        return
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "trial")
    try:
        with serving(store) as one:
            yield one
    finally:
        store.close()
