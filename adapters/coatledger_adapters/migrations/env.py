"""Alembic's entry: runs the steps on the connection that `migrate` hands over, and on no other.

Batch mode stays off. It rebuilds a table to change it, and on SQLite drops the triggers that refuse
to change history without a word.
"""

from alembic import context
from sqlalchemy import Connection

from coatledger_adapters.tables import METADATA

connection = context.config.attributes["connection"]
assert isinstance(connection, Connection)
# On SQLite, too, a step is made in one transaction or not at all.
context.configure(
    connection=connection,
    target_metadata=METADATA,
    transactional_ddl=True,
    render_as_batch=False,
)
with context.begin_transaction():
    context.run_migrations()
