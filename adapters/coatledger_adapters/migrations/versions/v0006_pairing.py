"""One-time codes that pair a device; of each key its kind and the key whose place it took."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the columns and the table; on PostgreSQL each shop sees its own rows only."""
    op.add_column("api_key", sa.Column("kind", WORD, nullable=False, server_default="secret"))
    op.add_column("api_key", sa.Column("replaces", WORD, nullable=True))
    op.create_table(
        "pairing",
        sa.Column("shop", WORD, primary_key=True, autoincrement=False),
        sa.Column("code_hash", sa.LargeBinary(), primary_key=True, autoincrement=False),
        _value("name", WORD),
        _value("scopes", WORD),
        _value("key_days", WHOLE, nullable=True),
        _value("made_at", WHOLE),
        _value("ends_at", WHOLE),
        _value("claimed_at", WHOLE, nullable=True),
        _value("key_id", WORD, nullable=True),
        sqlite_with_rowid=False,
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name != "sqlite":
        op.execute("ALTER TABLE pairing ENABLE ROW LEVEL SECURITY")
        op.execute("ALTER TABLE pairing FORCE ROW LEVEL SECURITY")
        op.execute(
            "CREATE POLICY pairing_of_shop ON pairing "
            "USING (shop = current_setting('coatledger.shop')) "
            "WITH CHECK (shop = current_setting('coatledger.shop'))"
        )


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)
