"""No question of the present and no write costs more because the history grew.

Counted, not timed: SQLite tells how many steps of its machine a call took, PostgreSQL how it means
to go about a statement. A statement that walks the ledger is shown to be found out.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path

import psycopg
import pytest
from coatledger.ledger.store import Reader
from coatledger_adapters.engines import make_engines
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.statements import Statements, for_keys, statements_for
from scribe import SHOP, Act, append, changes, event_id, fold, reading
from sqlalchemy import create_engine, text

FEW, MANY = 200, 20_000
# A key twice as deep takes some steps more; walking a hundred times as many rows takes thousands.
GROWTH_MAX = 1.5
TYPES = ("coat_applied", "gun_flushed", "gun_set_up", "sanded")
DEPTH = {FEW: 1, MANY: 100}


def fill(store: SqlStore, events: int) -> None:
    """A piece has ten events however long the ledger is; a gun is named by every one."""
    for first in range(0, events, 1000 if events > FEW else events):
        numbers = range(first, min(first + 1000, events))
        acts = [Act((f"piece:{n // 10:05}", "gun:G-1"), TYPES[n % 3], 1000 * n) for n in numbers]
        pieces = sorted({f"piece:{n // 10:05}" for n in numbers})
        append(
            store,
            *acts,
            recorded_us=1000 * first,
            folds=[*(fold(piece, "shipped") for piece in pieces), fold("gun:G-1", "")],
            tallies={("coats", f"{n:06}"): 1 for n in numbers[::10]},
            climate=[reading("spray", 1000 * n, first + 1) for n in numbers],
        )
    append(store, Act(("piece:x",)), folds=[fold("piece:x", "bare"), fold("lot:L-1", "")])


CALLS: Mapping[str, Callable[[Reader], object]] = {
    "head": lambda reader: reader.head(),
    "by_id": lambda reader: reader.by_id([event_id(n) for n in (1, 50, 100, 2**40)]),
    "rows": lambda reader: reader.rows(100, 50),
    "a piece": lambda reader: reader.of_subject("piece:00007"),
    "a piece as known": lambda reader: reader.of_subject("piece:00007", known=75, until_us=10**9),
    "a piece's coats": lambda reader: reader.of_subject("piece:00007", types=["coat_applied"]),
    "a gun's last": lambda reader: reader.of_subject("gun:G-1", newest=1),
    "a gun's last coats": lambda reader: reader.of_subject("gun:G-1", newest=3, types=TYPES[:1]),
    "what a gun never had": lambda reader: reader.of_subject("gun:G-1", newest=1, types=["none"]),
    "what a gun had by then": lambda reader: reader.of_subject(
        "gun:G-1", newest=1, types=TYPES[:2], until_us=100_000
    ),
    "folds": lambda reader: reader.folds(["piece:00007", "gun:G-1", "piece:none"]),
    "a page of pieces": lambda reader: reader.shelf("piece", None, "piece:00003", 5),
    "a page of a shelf": lambda reader: reader.shelf("piece", ["shipped", "bare"], "", 5),
    "the bare ones": lambda reader: reader.shelf("piece", ["bare"], "", 5),
    "tallies": lambda reader: reader.tallies("coats", "000050", "000100"),
    "climate": lambda reader: reader.climate("spray", 50_000, 100_000),
    "climate before": lambda reader: reader.climate_before("spray", 100_500),
    "the last climate": lambda reader: reader.climate_before("spray", 2**50),
    "a time's position": lambda reader: reader.position_at(0),
    "notes": lambda reader: reader.notes([event_id(1)]),
    "subtrees": lambda reader: reader.subtrees([(6, 0)]),
}


@contextmanager
def counting(connection: sqlite3.Connection) -> Iterator[list[int]]:
    """Count the steps of SQLite's machine, in tens."""
    steps = [0]

    def step() -> int:
        steps[0] += 1
        return 0

    connection.set_progress_handler(step, 10)
    yield steps
    connection.set_progress_handler(None, 0)


def cost(store: SqlStore, call: Callable[[Reader], object]) -> int:
    with store.beside() as ledger, counting(ledger.cursor.connection) as steps:
        call(ledger)
        return steps[0]


def write_cost(store: SqlStore) -> int:
    """The steps of writing one act on three pieces with a gun, all of them known."""
    named = ("piece:00001", "piece:00002", "piece:00003", "gun:G-1")
    with store.beside(writing=True) as ledger, counting(ledger.cursor.connection) as steps:
        ledger.folds(named)
        folds = [fold(subject, "shipped", 9) for subject in named]
        made = changes(
            ledger.head(),
            [Act(named, "coat_applied", 1000)],
            folds=folds,
            tallies={("coats", "000010"): 3},
            climate=[reading("spray", 5, 10**6)],
            gone=[(10**6 - 1, 10**6)],
        )
        ledger.write(made)  # type: ignore[attr-defined]
        return steps[0]


@pytest.fixture(scope="module")
def short_and_long(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[SqlStore, SqlStore]]:
    folder = tmp_path_factory.mktemp("flat")
    stores = []
    for events in (FEW, MANY):
        address = f"sqlite:///{folder / str(events)}.db"
        migrate(address)
        stores.append(open_store(address, SHOP))
        fill(stores[-1], events)
    yield stores[0], stores[1]
    for store in stores:
        store.close()


@pytest.mark.parametrize("name", CALLS)
def test_a_question_costs_the_same_in_a_long_ledger(
    short_and_long: tuple[SqlStore, SqlStore], name: str
) -> None:
    short, long = (cost(store, CALLS[name]) for store in short_and_long)
    # Halving is the one search that takes some steps more for every doubling.
    growth_max = 2.5 if name == "a time's position" else GROWTH_MAX
    assert long <= growth_max * short + 3, (short, long)


def test_a_write_costs_the_same_in_a_long_ledger(
    short_and_long: tuple[SqlStore, SqlStore],
) -> None:
    short, long = (write_cost(store) for store in short_and_long)
    assert long <= GROWTH_MAX * short + 3, (short, long)


def test_without_counts_of_its_rows_sqlite_would_walk_the_ledger(tmp_path: Path) -> None:
    costs: list[Mapping[str, int]] = []
    for events in (FEW, 2_000):
        address = f"sqlite:///{tmp_path / str(events)}.db"
        migrate(address)
        with closing(open_store(address, SHOP)) as store, store.beside(writing=True) as ledger:
            ledger.cursor.execute("DELETE FROM sqlite_stat1")
        with closing(open_store(address, SHOP)) as store:
            fill(store, events)
            found = {name: cost(store, call) for name, call in CALLS.items()}
            costs.append({**found, "write": write_cost(store)})
    grown = {name for name, steps in costs[1].items() if steps > 4 * costs[0][name]}
    assert grown, costs


def plans(address: str, statements: Statements) -> Mapping[str, str]:
    """How PostgreSQL means to find the rows of each statement, whatever the parameters are."""
    found = {}
    with psycopg.connect(address) as connection:
        for name, words in vars(statements).items():
            if words.startswith("BEGIN") or name.startswith("one_"):
                continue
            asked = words if not name.startswith("these_") else for_keys(words, 4)
            numbers = iter(range(1, 300))
            numbered = "".join(
                f"${next(numbers)}{part}" if n else part for n, part in enumerate(asked.split("%s"))
            )
            rows = connection.execute(f"EXPLAIN (GENERIC_PLAN) {numbered}").fetchall()
            found[name] = "\n".join(line for (line,) in rows)
    return found


@pytest.mark.postgres
def test_postgresql_follows_a_key_to_whatever_is_asked(postgresql_address: str) -> None:
    with closing(open_store(postgresql_address, SHOP)) as store:
        fill(store, MANY)
    engine = create_engine(postgresql_address, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text("ANALYZE"))
    engine.dispose()
    with closing(make_engines(postgresql_address)) as engines:
        found = plans(postgresql_address, statements_for(engines.writer.dialect))
    small = {"head", "lock_head", "move_head", "these_notes", "these_subtrees"}  # a page or none
    walking = {name for name, plan in found.items() if "Seq Scan" in plan}
    assert walking <= small, "\n".join(found[name] for name in walking - small)
    assert "events_event_id" in found["these_ids"]
    assert "fold_shelf" in found["folds_on_shelf"]
    assert "climate_position" in found["take_back"]
