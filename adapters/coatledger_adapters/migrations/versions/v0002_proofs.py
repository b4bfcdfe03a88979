"""What proofs need: kept hashes of the tree, signed heads, and names apart from the history.

Ledgers that are older than this get the hashes of the leaves they hold.
"""

from collections.abc import Iterator
from typing import Any

import sqlalchemy as sa
from alembic import op
from coatledger.computations import merkle
from coatledger.ledger import tree

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

WHOLE = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
WORD = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
BYTES = sa.LargeBinary()
PAGE = 1_000


def upgrade() -> None:
    """Create the tables, then fill the tree."""
    _table("tree", _key("shop", WORD), _key("level", WHOLE), _key("number", WHOLE),
           _value("hash", BYTES))  # fmt: skip
    _table("checkpoint", _key("shop", WORD), _key("epoch", WORD), _key("size", WHOLE),
           _value("signed_at", WHOLE), _value("note", BYTES),
           _value("stamp", BYTES, nullable=True))  # fmt: skip
    _table("person_name", _key("shop", WORD), _key("person", WORD), _value("name", BYTES))
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "INSERT INTO sqlite_stat1 (tbl, idx, stat) "
            "VALUES ('tree', 'tree', '100000 100000 10000 1')"
        )
    for shop in op.get_bind().scalars(sa.text("SELECT shop FROM head")).all():
        _fill_tree(shop)


def _fill_tree(shop: str) -> None:
    insert = sa.text("INSERT INTO tree (shop, level, number, hash) VALUES (:shop, :l, :n, :hash)")
    frontier: tuple[bytes, ...] = ()
    for position, leaf in _leaves(shop):
        frontier, completed = tree.grown(frontier, position - 1, merkle.leaf_hash(leaf))
        for level, number, found in completed:
            op.get_bind().execute(insert, {"shop": shop, "l": level, "n": number, "hash": found})


def _leaves(shop: str) -> Iterator[tuple[int, bytes]]:
    query = sa.text(
        "SELECT position, leaf FROM events WHERE shop = :shop AND position > :after "
        "ORDER BY position LIMIT :page"
    )
    after = 0
    while True:
        page = op.get_bind().execute(query, {"shop": shop, "after": after, "page": PAGE}).all()
        if not page:
            return
        for position, leaf in page:
            yield position, bytes(leaf)
        after = page[-1][0]


def _table(name: str, *parts: sa.schema.SchemaItem) -> None:
    op.create_table(name, *parts, sqlite_with_rowid=False, sqlite_strict=True)


def _key(name: str, kind: sa.types.TypeEngine[Any]) -> sa.Column[object]:
    return sa.Column(name, kind, primary_key=True, autoincrement=False)


def _value(
    name: str, kind: sa.types.TypeEngine[Any], *, nullable: bool = False
) -> sa.Column[object]:
    return sa.Column(name, kind, nullable=nullable)
