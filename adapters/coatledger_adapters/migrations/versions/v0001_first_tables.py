"""The first tables, and the triggers that refuse to change or delete an event."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
NUMBER: sa.types.TypeEngine[Any] = sa.Double().with_variant(sa.REAL(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
BYTES = sa.LargeBinary()

UNCHANGING = ("events", "event_subjects")

# How many rows share the first column, the first two and so on, of each key. A SQLite file holds
# one shop, so its first column tells nothing; unless told so, SQLite walks the whole ledger where
# one step along another key would do. Nobody runs ANALYZE, so what stands here stays.
ROWS_TOLD = (
    ("events", "events_event_id", "1000000 1000000 1"),
    ("event_subjects", "event_subjects", "4000000 4000000 100 20 2 1"),
    ("fold", "sqlite_autoindex_fold_1", "10000 10000 1"),
    ("fold", "fold_shelf", "10000 10000 1000 1"),
    ("climate", "climate", "100000 100000 50000 1 1 1"),
    ("climate", "climate_position", "100000 100000 2"),
    ("tally", "tally", "100000 100000 5000 1"),
)


def upgrade() -> None:
    """Create the tables, then their triggers."""
    _create_history()
    _create_present()
    if op.get_bind().dialect.name == "sqlite":
        _tell_sqlite_of_rows()
    for table in UNCHANGING:
        if op.get_bind().dialect.name == "sqlite":
            _refuse_on_sqlite(table)
        else:
            _refuse_on_postgresql(table)


def _create_history() -> None:
    _table(
        "head",
        _key("shop", WORD),
        _value("size", WHOLE),
        _value("recorded_at", WHOLE),
        _value("frontier", BYTES),
        _value("epoch", WORD),
    )
    # SQLite keeps a row under its whole-number key with nothing in between, and a file has one
    # shop; PostgreSQL holds many shops.
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    _table(
        "events",
        _value("shop", WORD) if on_sqlite else _key("shop", WORD),
        _key("position", WHOLE),
        _value("event_id", BYTES),
        _value("type", WORD),
        _value("occurred_at", WHOLE),
        _value("recorded_at", WHOLE),
        _value("leaf", BYTES),
        sa.CheckConstraint("position >= 1", name="events_position_from_1"),
        sa.CheckConstraint("length(event_id) = 16", name="events_event_id_is_16_bytes"),
        large=True,
    )
    op.create_index("events_event_id", "events", ["shop", "event_id"], unique=True)
    _table(
        "event_subjects",
        _key("shop", WORD),
        _key("subject", WORD),
        _key("type", WORD),
        _key("occurred_at", WHOLE),
        _key("position", WHOLE),
    )
    _table(
        "note",
        _key("shop", WORD),
        _key("event_id", BYTES),
        _value("salt", BYTES),
        _value("words", BYTES, nullable=True),
    )


def _create_present() -> None:
    _table(
        "fold",
        _key("shop", WORD),
        _key("subject", WORD),
        _value("version", WHOLE),
        _value("position", WHOLE),
        _value("folded_at", WHOLE),
        _value("shelf", WORD),
        _value("state", BYTES),
        large=True,
    )
    op.create_index("fold_shelf", "fold", ["shop", "shelf", "subject"])
    _table(
        "tally",
        _key("shop", WORD),
        _key("name", WORD),
        _key("key", WORD),
        _value("value", NUMBER),
    )
    _table(
        "climate",
        _key("shop", WORD),
        _key("room", WORD),
        _key("at", WHOLE),
        _key("position", WHOLE),
        _key("ordinal", WHOLE),
        _value("air_c", NUMBER),
        _value("rh_pct", NUMBER),
        _value("surface_c", NUMBER, nullable=True),
        _value("gone_at", WHOLE, nullable=True),
    )
    op.create_index("climate_position", "climate", ["shop", "position"])


def _table(name: str, *parts: sa.schema.SchemaItem, large: bool = False) -> None:
    op.create_table(name, *parts, sqlite_with_rowid=large, sqlite_strict=True)


def _key(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[object]:
    return sa.Column(name, kind, primary_key=True, autoincrement=False)


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)


def _tell_sqlite_of_rows() -> None:
    op.execute("ANALYZE")  # makes the table for counts
    for table, key, counts in ROWS_TOLD:
        op.execute(
            f"INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES ('{table}', '{key}', '{counts}')"
        )


def _refuse_on_sqlite(table: str) -> None:
    for verb in ("update", "delete"):
        op.execute(
            f"CREATE TRIGGER {table}_refuse_{verb} BEFORE {verb.upper()} ON {table} BEGIN "
            f"SELECT RAISE(ABORT, '{table}: what is recorded is never changed or deleted'); END"
        )


def _refuse_on_postgresql(table: str) -> None:
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_to_change_history() RETURNS trigger "
        "LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION "
        "'%: what is recorded is never changed or deleted', TG_TABLE_NAME; END $$"
    )
    for verb in ("update", "delete", "truncate"):
        # Per statement, so that a statement that would meet no row is refused as well.
        op.execute(
            f"CREATE TRIGGER {table}_refuse_{verb} BEFORE {verb.upper()} ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history()"
        )
