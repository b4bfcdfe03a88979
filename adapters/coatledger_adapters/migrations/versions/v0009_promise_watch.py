"""Where the watch of promises has read to, and each open promise as it was seen last."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Create the tables; on PostgreSQL each shop sees its own rows only."""
    op.create_table(
        "follower",
        sa.Column("shop", WORD, primary_key=True, autoincrement=False),
        sa.Column("name", WORD, primary_key=True, autoincrement=False),
        sa.Column("begun", WHOLE, nullable=False),
        sa.Column("position", WHOLE, nullable=False),
        sa.Column("at", WHOLE, nullable=False),
        sa.Column("lease_until", WHOLE, nullable=False),
        sa.Column("lease_by", WORD, nullable=False),
        sqlite_with_rowid=False,
        sqlite_strict=True,
    )
    op.create_table(
        "promise_watch",
        sa.Column("shop", WORD, primary_key=True, autoincrement=False),
        sa.Column("promise", WORD, primary_key=True, autoincrement=False),
        sa.Column("state", sa.LargeBinary(), nullable=False),
        sqlite_with_rowid=True,
        sqlite_strict=True,
    )
    if op.get_bind().dialect.name != "sqlite":
        for table in ("follower", "promise_watch"):
            op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
            op.execute(
                f"CREATE POLICY {table}_of_shop ON {table} "
                "USING (shop = current_setting('coatledger.shop')) "
                "WITH CHECK (shop = current_setting('coatledger.shop'))"
            )
