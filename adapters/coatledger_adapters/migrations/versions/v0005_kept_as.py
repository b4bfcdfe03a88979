"""The head says what the folds beside the events were made by; of older ledgers nobody knows."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the column; an empty word is nobody's, so the folds are worked out again."""
    op.add_column("head", sa.Column("kept_as", WORD, nullable=False, server_default=""))
