"""A database's tables, keys and triggers as text, to be held to a file in tests/golden/adapters.

`python tests/support/schema.py` writes the files anew after a migration; look at the difference.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

from coatledger_adapters.migrate import migrate
from sqlalchemy import Connection, Engine, create_engine, text

GOLDEN = Path(__file__).resolve().parent.parent / "golden" / "adapters"

POSTGRESQL_QUERIES = (
    (
        "SELECT table_name || '.' || column_name || ' ' || data_type || ' ' || "
        "coalesce(collation_name, '-') || ' ' || is_nullable FROM information_schema.columns "
        "WHERE table_schema = 'public' ORDER BY table_name, ordinal_position"
    ),
    (
        "SELECT conrelid::regclass || ' ' || conname || ' ' || pg_get_constraintdef(oid) "
        "FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND contype <> 'n' "
        "ORDER BY conrelid::regclass::text, conname"
    ),
    "SELECT indexdef FROM pg_indexes WHERE schemaname = 'public' ORDER BY tablename, indexname",
    (
        "SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal "
        "ORDER BY tgrelid::regclass::text, tgname"
    ),
    (
        "SELECT tablename || ' ' || policyname || ' ' || permissive || ' ' || cmd || ' ' || qual "
        "|| ' ' || with_check FROM pg_policies ORDER BY tablename, policyname"
    ),
    (
        "SELECT relname || ' row security ' || relrowsecurity || ' forced ' || relforcerowsecurity "
        "FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' "
        "ORDER BY relname"
    ),
    (
        "SELECT proname || ' ' || btrim(prosrc) FROM pg_proc "
        "WHERE pronamespace = 'public'::regnamespace ORDER BY proname"
    ),
)
SQLITE_QUERIES = (
    "SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY type DESC, name",
    (
        "SELECT tbl || ' ' || idx || ' ' || stat FROM sqlite_stat1 "
        "WHERE tbl <> 'alembic_version' ORDER BY tbl, idx"
    ),
)


def schema(engine: Engine) -> str:
    """Describe everything that migrations make, one thing a line."""
    queries = SQLITE_QUERIES if engine.dialect.name == "sqlite" else POSTGRESQL_QUERIES
    with engine.connect() as connection:
        return "".join(f"{line}\n" for query in queries for line in _lines(connection, query))


def _lines(connection: Connection, query: str) -> Iterator[str]:
    for (found,) in connection.execute(text(query)):
        yield re.sub(r"\s+", " ", found).strip()


def main() -> None:
    """Write both files from databases that are migrated here."""
    from postgres_server import HASTY, Server

    GOLDEN.mkdir(exist_ok=True)
    server = Server(*HASTY)
    try:
        with tempfile.TemporaryDirectory() as folder:
            for address in (f"sqlite:///{folder}/ledger.db", server.new_database()):
                migrate(address)
                engine = create_engine(address)
                golden = GOLDEN / f"schema_{engine.dialect.name}.txt"
                golden.write_text(schema(engine), encoding="utf-8")
                engine.dispose()
    finally:
        server.stop()


if __name__ == "__main__":
    main()
