"""The keys of a shop: what is kept of each bearer token."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Create the table."""
    op.create_table(
        "api_key",
        sa.Column("shop", WORD, primary_key=True, autoincrement=False),
        sa.Column("key_id", WORD, primary_key=True, autoincrement=False),
        _value("label", WORD),
        _value("scopes", WORD),
        _value("token_hash", sa.LargeBinary()),
        _value("created_at", WHOLE),
        _value("expires_at", WHOLE, nullable=True),
        _value("revoked_at", WHOLE, nullable=True),
        _value("used_at", WHOLE, nullable=True),
        sqlite_with_rowid=False,
        sqlite_strict=True,
    )


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)
