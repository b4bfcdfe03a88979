"""A ledger from before there were proofs gets the hashes of the leaves it holds."""

from alembic import command
from alembic.config import Config
from any_history import any_history
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.engines import make_engines
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_adapters.tables import EVENTS, HEAD
from sqlalchemy import Connection, insert


def brought_to_the_first_tables(connection: Connection) -> None:
    settings = Config()
    settings.set_main_option("script_location", "coatledger_adapters:migrations")
    settings.attributes["connection"] = connection
    command.upgrade(settings, "0001")


def test_hashes_are_filled_in_for_the_leaves_that_are_there(empty: str) -> None:
    memory = MemoryStore("dune-end", "first")
    bench = any_history(memory, 4, acts=30)
    for number in range(150):
        bench.later(0.1).climate(20 + number % 3)
    head = memory.head()
    engines = make_engines(empty)
    with engines.writer.begin() as connection:
        brought_to_the_first_tables(connection)
        connection.execute(
            insert(HEAD),
            {"shop": "dune-end", "size": head.size, "recorded_at": head.recorded_us,
             "frontier": b"".join(head.frontier), "epoch": "first"},
        )  # fmt: skip
        connection.execute(
            insert(EVENTS),
            [
                {"shop": "dune-end", "position": row.position, "event_id": row.event_id.bytes,
                 "type": row.type, "occurred_at": row.occurred_us, "recorded_at": row.recorded_us,
                 "leaf": row.leaf}
                for row in memory.rows(0, 10_000)
            ],
        )  # fmt: skip
    engines.close()
    migrate(empty)
    store = open_store(empty, "dune-end")
    places = [(level, number) for level in range(12) for number in range(head.size)]
    with store.reading() as reader:
        found = reader.subtrees(places)
    store.close()
    assert len(found) >= 3
    assert found == memory.subtrees(places)
