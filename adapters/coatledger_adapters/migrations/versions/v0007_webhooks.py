"""Webhooks, what was told and how far it got; the head says what anybody wants to be told."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
BYTES = sa.LargeBinary()
TABLES = ("webhook", "notice", "delivery")


def upgrade() -> None:
    """Add the column and the tables; on PostgreSQL each shop sees its own rows only."""
    op.add_column("head", sa.Column("wanted", WORD, nullable=False, server_default=""))
    _webhook()
    _notice()
    _delivery()
    if op.get_bind().dialect.name == "sqlite":
        return
    for table in TABLES:
        op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
        op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
        op.execute(
            f"CREATE POLICY {table}_of_shop ON {table} "
            "USING (shop = current_setting('coatledger.shop')) "
            "WITH CHECK (shop = current_setting('coatledger.shop'))"
        )


def _webhook() -> None:
    op.create_table(
        "webhook",
        _key("shop", WORD),
        _key("webhook_id", WORD),
        _value("label", WORD),
        _value("url", WORD),
        _value("kinds", WORD),
        _value("state", WORD),
        _value("secret", BYTES),
        _value("created_at", WHOLE),
        _value("older_secret", BYTES, nullable=True),
        _value("older_until", WHOLE, nullable=True),
        _value("success_at", WHOLE, nullable=True),
        _value("failure_at", WHOLE, nullable=True),
        _value("says", WORD, nullable=True),
        sqlite_with_rowid=False,
        sqlite_strict=True,
    )


def _notice() -> None:
    op.create_table(
        "notice",
        _key("shop", WORD),
        _key("number", WHOLE),
        _value("at", WHOLE),
        _value("message_id", WORD),
        _value("kind", WORD),
        _value("wanted_as", WORD),
        _value("position", WHOLE),
        _value("about", BYTES, nullable=True),
        _value("ends", WORD, nullable=True),
        _value("body", BYTES),
        sqlite_with_rowid=True,
        sqlite_strict=True,
    )
    op.create_index("notice_message", "notice", ["shop", "message_id"], unique=True)
    op.create_index("notice_about", "notice", ["shop", "about"])
    op.create_index("notice_ends", "notice", ["shop", "ends"])


def _delivery() -> None:
    op.create_table(
        "delivery",
        _key("shop", WORD),
        _key("webhook_id", WORD),
        _key("number", WHOLE),
        _value("state", WORD),
        _value("tries", WHOLE),
        _value("due_at", WHOLE),
        _value("tried_at", WHOLE, nullable=True),
        _value("status", WHOLE, nullable=True),
        _value("says", WORD, nullable=True),
        sqlite_with_rowid=False,
        sqlite_strict=True,
    )
    op.create_index("delivery_state", "delivery", ["shop", "webhook_id", "state", "number"])


def _key(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[object]:
    return sa.Column(name, kind, primary_key=True, autoincrement=False)


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)
