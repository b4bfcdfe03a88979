"""The wall PostgreSQL itself keeps between shops: for raw SQL, the owner and pooled sessions."""

import re
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from any_history import any_history
from coatledger.ledger.store import Note
from coatledger.recording.notices import Message
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.fold_versions import bring_up_to_date, keep_as
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_adapters.tables import METADATA, SUBJECTS
from coatledger_adapters.webhooks.book import Tried, Webhook
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from postgres_server import KEEPER, Server
from scribe import Act, append, event_id, everything, fold, reading

pytestmark = pytest.mark.postgres
SHOPS = ("dune-end", "quay")
TABLES = sorted(METADATA.tables)
README = Path(__file__).resolve().parents[2] / "README.md"


def grants() -> list[str]:
    """What a role needs that serves but owns nothing, as the README tells its keeper."""
    blocks = re.findall(r"```sql\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    (block,) = (words for words in blocks if "GRANT" in words)
    return [line for line in block.splitlines() if line]


def fill(address: str) -> None:
    for shop in SHOPS:
        with closing(open_store(address, shop, epoch="first")) as store:
            append(
                store, *[Act(("piece:A-1", "gun:G-1"))] * 3, folds=[fold("piece:A-1")],
                climate=[reading("spray", 1, 1)], tallies={("coats", "k"): 1.0},
                notes=[Note(event_id(1), b"salt", shop)],
            )  # fmt: skip


@contextmanager
def role(server: Server, address: str, name: str, *grants: str) -> Iterator[str]:
    """A role that owns nothing, its address in the same database."""
    as_root = address.replace(f"{KEEPER}@", "postgres@")
    with psycopg.connect(as_root, autocommit=True) as connection:
        connection.execute(f"CREATE ROLE {name} LOGIN")
        for grant in grants:
            connection.execute(grant)
    yield address.replace(f"{KEEPER}@", f"{name}@")
    with psycopg.connect(as_root, autocommit=True) as connection:
        connection.execute(f"DROP OWNED BY {name}")
        connection.execute(f"DROP ROLE {name}")


def shops_seen(connection: psycopg.Connection[Any], table: str) -> set[str]:
    return {shop for (shop,) in connection.execute(f"SELECT DISTINCT shop FROM {table}")}


def told(connection: psycopg.Connection[Any], shop: str) -> None:
    connection.execute("SELECT set_config('coatledger.shop', %s, true)", (shop,))


@pytest.mark.parametrize("table", TABLES)
def test_raw_sql_of_the_owner_sees_and_writes_one_shop_only(
    postgresql_address: str, table: str
) -> None:
    fill(postgresql_address)
    with psycopg.connect(postgresql_address) as connection:
        told(connection, "quay")
        assert shops_seen(connection, table) <= {"quay"}
        row = connection.execute(f"SELECT * FROM {table} LIMIT 1").fetchone()
        if row is not None:
            foreign = ["dune-end", *row[1:]]
            words = f"INSERT INTO {table} VALUES ({', '.join(['%s'] * len(row))})"
            with pytest.raises(psycopg.errors.InsufficientPrivilege, match="row-level security"):
                connection.execute(words, foreign)


def test_a_role_that_serves_without_owning_anything_does_its_work_and_no_more(
    server: Server, postgresql_address: str
) -> None:
    with role(server, postgresql_address, "serving", *grants()) as address:
        migrate(address)  # there is nothing to do, so nothing is needed
        fill(address)
        with closing(open_store(address, "quay")) as store:
            append(store, *[Act(("piece:A-1",))] * 150)
            with store.reading() as reader:
                assert reader.head().size == 153
            assert store.caution is None
            book = SqlWebhooks(store)
            hook = Webhook("shop0001", "x", "https://x/", frozenset(("ready",)), "on", b"", 1)
            assert book.add(hook)
            assert book.tell([Message("msg_1", "ready", "ready", 1, None, None, b"")], 1) == 1
            due = book.lease("shop0001", 1, 2)
            assert due is not None
            book.mark(due, Tried("delivered", 2, 2, 204, None))
            assert book.resend(hook, 0, 0, 3).messages == 1
            book.change(hook)
            book.delete("shop0001")
        with closing(open_store(address, "harbour")) as store:
            any_history(store, 3, acts=20)
            with store.tending() as writer:
                keep_as(store, writer, "another version")
            assert bring_up_to_date(store) is not None
        with psycopg.connect(address) as connection:
            told(connection, "quay")
            assert shops_seen(connection, "events") == {"quay"}
            with pytest.raises(psycopg.errors.InsufficientPrivilege, match="permission denied"):
                connection.execute("UPDATE events SET type = 'sanded'")


@pytest.mark.parametrize("table", TABLES)
def test_without_the_setting_there_is_no_row(postgresql_address: str, table: str) -> None:
    fill(postgresql_address)
    with psycopg.connect(postgresql_address, autocommit=True) as connection:
        with pytest.raises(psycopg.errors.UndefinedObject, match=r"coatledger\.shop"):
            shops_seen(connection, table)
        with connection.transaction():
            told(connection, "quay")
        # The session had it once, and it did not stay.
        assert shops_seen(connection, table) == set()


def left(cursor: Any) -> None:
    cursor.execute("SELECT current_setting('coatledger.shop', true)")
    assert cursor.fetchone() in ((None,), ("",))


def test_a_setting_of_the_session_would_leak_and_is_never_made(postgresql_address: str) -> None:
    fill(postgresql_address)
    with closing(open_store(postgresql_address, "quay")) as store:
        append(store, Act(("piece:A-1",)))
        with store.reading():
            pass
        with store.alone() as cursor:
            left(cursor)
        with closing(store._engines.reader.raw_connection()) as pooled:
            left(pooled.cursor())
    with psycopg.connect(postgresql_address, autocommit=True) as connection:
        connection.execute("SELECT set_config('coatledger.shop', 'quay', false)")
        assert shops_seen(connection, "events") == {"quay"}  # what a leak would look like


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize(
    "opening",
    [
        "ALTER TABLE {} DISABLE ROW LEVEL SECURITY",
        "ALTER TABLE {} NO FORCE ROW LEVEL SECURITY",
        "DROP POLICY {}_of_shop ON {}",
        "CREATE POLICY wide ON {} USING (true)",
    ],
)
def test_a_store_does_not_open_where_the_wall_has_a_hole(
    postgresql_address: str, table: str, opening: str
) -> None:
    with psycopg.connect(postgresql_address) as connection:
        connection.execute(opening.format(table, table))
    with pytest.raises(UnfitError, match=rf"row-level security.* {table}"):
        open_store(postgresql_address, "quay")


def test_a_superuser_is_told_that_nothing_holds_it(postgresql_address: str) -> None:
    as_root = postgresql_address.replace(f"{KEEPER}@", "postgres@")
    with closing(open_store(as_root, "quay")) as store:
        assert store.caution is not None
        assert "postgres stands above row-level security" in store.caution
    with closing(open_store(postgresql_address, "quay")) as store:
        assert store.caution is None


def test_every_table_may_be_cut_by_shop(postgresql_address: str) -> None:
    """Each key begins with the shop, so a server that keeps very many shops may hash-partition the
    tables; the program, its triggers and the wall go on as they are."""
    cut_by_shop(postgresql_address)
    fill(postgresql_address)
    for shop in SHOPS:
        with closing(open_store(postgresql_address, shop)) as store:
            append(store, *[Act(("piece:A-1",))] * 150)
            with store.reading() as reader:
                assert [row.position for row in reader.rows(0, 999)] == list(range(1, 154))
                assert reader.notes([event_id(1)])[event_id(1)].text == shop
    with psycopg.connect(postgresql_address.replace(f"{KEEPER}@", "postgres@")) as root:
        parts = {
            shop: {part for (part,) in root.execute(
                "SELECT DISTINCT tableoid::regclass::text FROM events WHERE shop = %s", (shop,))}
            for shop in SHOPS
        }  # fmt: skip
        assert all(len(found) == 1 for found in parts.values())
        with pytest.raises(psycopg.errors.RaiseException, match="never changed"):
            root.execute("DELETE FROM events")


def cut_by_shop(address: str) -> None:
    with psycopg.connect(address) as connection:
        for table in TABLES:
            connection.execute(
                f"CREATE TABLE cut (LIKE {table} INCLUDING ALL) PARTITION BY HASH (shop)"
            )
            connection.execute(f"DROP TABLE {table}")
            connection.execute(f"ALTER TABLE cut RENAME TO {table}")
            for part in range(4):
                connection.execute(
                    f"CREATE TABLE {table}_{part} PARTITION OF {table} "
                    f"FOR VALUES WITH (MODULUS 4, REMAINDER {part})"
                )
            connection.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
            connection.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
            connection.execute(
                f"CREATE POLICY {table}_of_shop ON {table} "
                "USING (shop = current_setting('coatledger.shop'))"
            )
        for table in ("events", SUBJECTS.name):
            for verb in ("update", "delete", "truncate"):
                connection.execute(
                    f"CREATE TRIGGER {table}_refuse_{verb} BEFORE {verb.upper()} ON {table} "
                    "FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history()"
                )


def test_every_statement_filters_by_shop_even_above_the_wall(postgresql_address: str) -> None:
    """As a superuser, whom no policy holds: what one shop does is nothing to the other."""
    as_root = postgresql_address.replace(f"{KEEPER}@", "postgres@")
    fill(as_root)
    with (
        closing(open_store(as_root, "dune-end")) as one,
        closing(open_store(as_root, "quay")) as other,
    ):
        before = everything(other)
        append(
            one, *[Act(("piece:A-1", "piece:B-1", "gun:G-1"))] * 120,
            folds=[fold("piece:A-1", "coated"), fold("piece:B-1")],
            climate=[reading("spray", 5, 4)], gone=[(1, 4)], tallies={("coats", "k"): 5.0},
            notes=[Note(event_id(1), b"new", "other words"), Note(event_id(9), b"s", "more")],
        )  # fmt: skip
        assert everything(other) == before
        with other.reading() as reader:
            assert reader.shelf("piece", ["coated"], "", 9) == []
            assert reader.of_subject("piece:B-1") == []
            assert reader.of_subject("gun:G-1", newest=9)[-1].position == 3
            assert reader.of_subject("gun:G-1", types=("sanded",))[-1].position == 3
            assert reader.position_at(2**60) == 3
            assert reader.notes([event_id(9)]) == {}
            assert reader.climate_before("spray", 9) == reading("spray", 1, 1)
            assert reader.climate("spray", 0, 9, known=2**40) == [reading("spray", 1, 1)]
            assert [one.value for one in reader.tallies("coats")] == [1.0]
            assert reader.by_id([event_id(4)]) == {}
