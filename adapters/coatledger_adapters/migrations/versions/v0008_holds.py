"""Holds of capacity that somebody is about to take, until the clock or somebody ends them."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Create the table; on PostgreSQL each shop sees its own rows only."""
    op.create_table(
        "hold",
        sa.Column("shop", WORD, primary_key=True, autoincrement=False),
        sa.Column("hold", WORD, primary_key=True, autoincrement=False),
        _value("placed_at", WHOLE),
        _value("until_at", WHOLE),
        _value("asked_sha256", WORD),
        _value("asked", sa.LargeBinary()),
        _value("quote", sa.LargeBinary()),
        _value("number", WHOLE),
        _value("taken_for", WORD, nullable=True),
        _value("ended_at", WHOLE, nullable=True),
        sqlite_with_rowid=True,
        sqlite_strict=True,
    )
    op.create_index("hold_number", "hold", ["shop", "number"], unique=True)
    if op.get_bind().dialect.name != "sqlite":
        op.execute("ALTER TABLE hold ENABLE ROW LEVEL SECURITY")
        op.execute("ALTER TABLE hold FORCE ROW LEVEL SECURITY")
        op.execute(
            "CREATE POLICY hold_of_shop ON hold "
            "USING (shop = current_setting('coatledger.shop')) "
            "WITH CHECK (shop = current_setting('coatledger.shop'))"
        )


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)
