"""On PostgreSQL, each transaction sees the rows of the one shop it says it is of.

Forced, so that the tables' owner is held too. Without the setting `current_setting` raises, and
after a transaction that had it, it is empty: either way nothing is seen.
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

TABLES = (
    "head", "events", "event_subjects", "fold", "tally", "climate", "note", "tree", "checkpoint",
    "person_name", "api_key",
)  # fmt: skip


def upgrade() -> None:
    """Keep the shops of one database apart; a SQLite file has one shop."""
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
