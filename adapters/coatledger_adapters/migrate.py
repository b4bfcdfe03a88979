"""Bring a ledger's tables up to date, from nothing or from any released version."""

from alembic import command
from alembic.config import Config
from sqlalchemy import text

from coatledger_adapters.engines import Engines, make_engines

# Any number will do, as long as every program that migrates takes the same one.
_MIGRATION_LOCK = 4_021_963


def migrate(address: str) -> None:
    """Make or update the tables at this address; doing it again changes nothing."""
    engines = make_engines(address)
    try:
        migrate_with(engines)
    finally:
        engines.close()


def migrate_with(engines: Engines) -> None:
    """The same with engines at hand: one transaction, one program at a time."""
    with engines.writer.begin() as connection:
        if not engines.is_sqlite:
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _MIGRATION_LOCK})
        settings = Config()
        settings.set_main_option("script_location", "coatledger_adapters:migrations")
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
