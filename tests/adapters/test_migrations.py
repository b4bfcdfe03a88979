"""From empty to the present tables on both databases, and what must never be lost on the way."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from coatledger_adapters.engines import SCHEMA_VERSION, UnfitError, make_engines
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_adapters.tables import METADATA
from schema import GOLDEN, schema
from scribe import SHOP, Act, append, everything
from sqlalchemy import Column, Engine, Integer, create_engine, text

MIGRATIONS = Path(__file__).parents[2] / "adapters" / "coatledger_adapters" / "migrations"


@pytest.fixture
def engine(address: str) -> Iterator[Engine]:
    engine = create_engine(address)
    yield engine
    engine.dispose()


def test_the_tables_are_made_from_nothing_and_again_without_harm(empty: str) -> None:
    with pytest.raises(UnfitError, match=r"none.*migrate"):
        open_store(empty, SHOP)
    migrate(empty)
    with closing(open_store(empty, SHOP)) as store:
        append(store, Act(("piece:A-1",)))
        before = everything(store)
    migrate(empty)
    with closing(open_store(empty, SHOP)) as store:
        assert everything(store) == before


def test_what_migrations_make_is_what_is_written_down(engine: Engine) -> None:
    golden = GOLDEN / f"schema_{engine.dialect.name}.txt"
    assert schema(engine) == golden.read_text(encoding="utf-8")


def test_the_tables_the_statements_are_written_against_are_those_there_are(engine: Engine) -> None:
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []


def test_a_missing_column_would_be_seen(engine: Engine) -> None:
    with engine.begin() as connection:
        connection.execute(text("ALTER TABLE note DROP COLUMN words"))
        context = MigrationContext.configure(connection)
        assert len(compare_metadata(context, METADATA)) == 1


def test_the_version_asked_for_is_the_last_step() -> None:
    settings = Config()
    settings.set_main_option("script_location", "coatledger_adapters:migrations")
    assert ScriptDirectory.from_config(settings).get_heads() == [SCHEMA_VERSION]


def test_another_version_is_not_served(address: str, engine: Engine) -> None:
    with engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0000'"))
    with pytest.raises(UnfitError, match="0000"):
        open_store(address, SHOP)


@pytest.mark.parametrize("table", ["events", "event_subjects"])
@pytest.mark.parametrize("verb", ["update", "delete"])
def test_without_a_trigger_no_store_opens(
    address: str, engine: Engine, table: str, verb: str
) -> None:
    on = "" if engine.dialect.name == "sqlite" else f" ON {table}"
    with engine.begin() as connection:
        connection.execute(text(f"DROP TRIGGER {table}_refuse_{verb}{on}"))
    with pytest.raises(UnfitError, match=f"{table}_refuse_{verb} on {table}"):
        open_store(address, SHOP)


@pytest.mark.postgres
def test_a_trigger_that_is_switched_off_is_missing_too(postgresql_address: str) -> None:
    engine = create_engine(postgresql_address)
    with engine.begin() as connection:
        connection.execute(text("ALTER TABLE events DISABLE TRIGGER events_refuse_truncate"))
    engine.dispose()
    with pytest.raises(UnfitError, match="events_refuse_truncate"):
        open_store(postgresql_address, SHOP)


def test_no_step_rebuilds_a_table() -> None:
    steps = sorted(MIGRATIONS.glob("versions/v*.py"))
    assert steps
    for step in (*steps, MIGRATIONS / "env.py"):
        assert "batch_alter_table" not in step.read_text(encoding="utf-8"), step
    assert "render_as_batch=False" in (MIGRATIONS / "env.py").read_text(encoding="utf-8")


def test_a_rebuilt_table_would_lose_its_triggers_and_not_be_served(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    engine = create_engine(address)
    with engine.begin() as connection:
        steps = Operations(MigrationContext.configure(connection))
        with steps.batch_alter_table("events", recreate="always") as batch:
            batch.add_column(Column("extra", Integer))
    engine.dispose()
    with pytest.raises(UnfitError, match="events_refuse_delete"):
        open_store(address, SHOP)


def test_a_step_that_fails_leaves_the_database_as_it_was(
    empty: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Operations.execute

    def fails_at_a_trigger(self: Operations, statement: object, **more: object) -> None:
        if "event_subjects_refuse_delete" in str(statement):
            raise RuntimeError("in the middle")
        real(self, statement, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(Operations, "execute", fails_at_a_trigger)
    with pytest.raises(RuntimeError, match="in the middle"):
        migrate(empty)
    monkeypatch.undo()
    with closing(make_engines(empty)) as engines, engines.reader.connect() as connection:
        kind = connection.dialect.name
        where = "sqlite_master" if kind == "sqlite" else "pg_tables WHERE schemaname = 'public'"
        assert connection.execute(text(f"SELECT * FROM {where}")).fetchall() == []
    migrate(empty)
