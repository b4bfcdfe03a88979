"""The stores under test: memory, a SQLite file, and a PostgreSQL database of each test's own."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Store
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from postgres_server import HASTY, Server, why_missing
from scribe import SHOP

SQLITE = pytest.param("sqlite", id="sqlite")
POSTGRESQL = pytest.param("postgresql", id="postgresql", marks=pytest.mark.postgres)


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """One server a session; where none can be, what needs it is skipped and says why."""
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    yield server
    server.stop()


@pytest.fixture(scope="session")
def migrated(server: Server) -> str:
    """A database with the tables made, to copy from."""
    address = server.new_database()
    migrate(address)
    return address.rsplit("/", 1)[1]


@pytest.fixture(params=[SQLITE, POSTGRESQL])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty database of either kind."""
    with _database(request, tmp_path, tables=False) as address:
        yield address


@pytest.fixture(params=[SQLITE, POSTGRESQL])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a database with its tables, of either kind."""
    with _database(request, tmp_path, tables=True) as address:
        yield address


@pytest.fixture
def postgresql_address(server: Server, migrated: str) -> Iterator[str]:
    """The address of a PostgreSQL database with its tables."""
    address = server.new_database(migrated)
    yield address
    server.drop(address)


@pytest.fixture
def sql_store(address: str) -> Iterator[SqlStore]:
    """A store on either database."""
    with closing(open_store(address, SHOP, epoch="first")) as store:
        yield store


@pytest.fixture(params=[pytest.param("memory", id="memory"), SQLITE, POSTGRESQL])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """Each store there is: whatever passes the contract may keep a shop's ledger."""
    if request.param == "memory":
        yield MemoryStore(SHOP, "first")
        return
    with (
        _database(request, tmp_path, tables=True) as address,
        closing(open_store(address, SHOP, epoch="first")) as store,
    ):
        yield store


@contextmanager
def _database(request: pytest.FixtureRequest, tmp_path: Path, *, tables: bool) -> Iterator[str]:
    if request.param == "sqlite":
        address = f"sqlite:///{tmp_path / 'ledger.db'}"
        if tables:
            migrate(address)
        yield address
        return
    server: Server = request.getfixturevalue("server")
    address = server.new_database(request.getfixturevalue("migrated") if tables else None)
    yield address
    server.drop(address)
