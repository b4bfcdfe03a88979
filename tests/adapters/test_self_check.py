"""A ledger bent past the program, in each of its tables: found, placed, and mended if it can be."""

import sqlite3
from pathlib import Path

import pytest
from any_history import any_history
from bench import Bench
from coatledger_adapters.checkpoints import SqlCheckpoints
from coatledger_adapters.migrate import migrate
from coatledger_adapters.read_models import compare, mend
from coatledger_adapters.self_check import Report, self_check
from coatledger_adapters.shadow import shadow
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_store import SqlStore, open_store

SHOP = "dune-end"
SIGNER = Signer(SHOP, bytes(range(32)))


def filled(store: SqlStore) -> None:
    bench = any_history(store, 5, acts=40)
    for number in range(100):
        bench.later(0.1).climate(20 + number % 5)
    SqlCheckpoints(store, SIGNER).sign(bench.now_us)
    bench.climate(21.0)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A ledger to copy from, closed."""
    path = tmp_path_factory.mktemp("whole") / "ledger.db"
    address = f"sqlite:///{path}"
    migrate(address)
    store = open_store(address, SHOP, epoch="first")
    filled(store)
    store.close()
    return path


class Bent:
    """A copy of the ledger, changed by somebody with the file."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def run(self, *statements: str) -> None:
        file = sqlite3.connect(self.path, isolation_level=None)
        kept = dict(
            file.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        )
        for name in kept:
            file.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert file.execute(statement).rowcount != 0, statement
        for made in kept.values():  # whoever bends a ledger puts its guards back
            file.execute(made)
        file.close()

    def check(self, *, mending: bool = False) -> Report:
        store = open_store(f"sqlite:///{self.path}", SHOP)
        try:
            return self_check(store, SIGNER.key, mending=mending)
        finally:
            store.close()


@pytest.fixture
def bent(whole: Path, tmp_path: Path) -> Bent:
    path = tmp_path / "ledger.db"
    path.write_bytes(whole.read_bytes())
    return Bent(path)


def test_a_ledger_as_it_was_recorded_is_whole_on_each_engine(sql_store: SqlStore) -> None:
    filled(sql_store)
    report = self_check(sql_store, SIGNER.key)
    assert report.wrong == ()
    assert report.heads == 1
    with sql_store.reading() as reader:
        assert report.size == reader.head().size


@pytest.mark.parametrize(
    ("change", "first"),
    [
        ("UPDATE events SET leaf = CAST(replace(CAST(leaf AS TEXT), 'key', 'yek') AS BLOB)", None),
        ("UPDATE events SET leaf = CAST('{}' AS BLOB)", 70),
        ("UPDATE events SET type = 'held'", 70),
        ("UPDATE events SET occurred_at = occurred_at + 1", 70),
        ("UPDATE events SET recorded_at = recorded_at + 1", 70),
        ("UPDATE events SET event_id = zeroblob(16)", 70),
        ("DELETE FROM events", 70),
    ],
)
def test_a_bent_log_is_found_and_placed(bent: Bent, change: str, first: int | None) -> None:
    bent.run(f"{change} WHERE position = 70")
    report = bent.check()
    says = [wrong.says for wrong in report.wrong if wrong.part == "log"]
    where = "one of the events 65 to 128" if first is None else f"event {first}"
    assert where in says[0]
    assert "it is evidence" in report.wrong[0].next_step


def test_a_log_cut_short_is_found_where_it_ends(bent: Bent) -> None:
    bent.run("DELETE FROM events WHERE position > 100")
    assert "one of the events 101 to" in bent.check().wrong[-1].says


def test_swapped_and_inserted_events_are_found(bent: Bent) -> None:
    bent.run(
        "UPDATE events SET position = 9999 WHERE position = 70",
        "UPDATE events SET position = 70 WHERE position = 71",
        "UPDATE events SET position = 71 WHERE position = 9999",
    )
    assert "event 70" in bent.check().wrong[0].says


def test_a_log_and_its_head_rewritten_together_do_not_give_the_signed_head(bent: Bent) -> None:
    bent.run("UPDATE checkpoint SET note = CAST(replace(CAST(note AS TEXT), 'first', 'other') "
             "AS BLOB)")  # fmt: skip
    report = bent.check()
    assert [wrong.part for wrong in report.wrong] == ["heads"]
    assert "is not that key's" in report.wrong[0].says


def test_a_signed_head_beyond_the_ledger_tells_of_lost_events(bent: Bent) -> None:
    store = open_store(f"sqlite:///{bent.path}", SHOP)
    SqlCheckpoints(store, SIGNER).sign(1)
    with store.reading() as reader:
        size = reader.head().size
    store.close()
    bent.run(f"UPDATE head SET size = {size - 1}", f"DELETE FROM events WHERE position = {size}")
    says = " ".join(wrong.says for wrong in bent.check().wrong)
    assert f"a head was signed at {size} events, but the ledger has {size - 1}" in says


STRAY = "SELECT shop, 'piece:Z', version, position, folded_at, shelf, state FROM fold"
BENDS = (
    ("folds", """UPDATE fold SET state = CAST('{"piece":"A"}' AS BLOB) WHERE subject='piece:A'"""),
    ("folds", "UPDATE fold SET shelf = 'packed' WHERE subject = 'piece:B'"),
    ("folds", "UPDATE fold SET position = position - 1 WHERE subject = 'gun:g1'"),
    ("folds", "UPDATE fold SET version = 77 WHERE subject = 'piece:A'"),
    ("folds", "DELETE FROM fold WHERE subject = 'piece:A'"),
    ("folds", f"INSERT INTO fold {STRAY} WHERE subject = 'piece:A'"),
    ("counts", "UPDATE tally SET value = value + 1 WHERE name = 'started'"),
    ("counts", "DELETE FROM tally WHERE name = 'started'"),
    ("counts", "INSERT INTO tally SELECT shop, name, 'odd', 3 FROM tally WHERE name = 'started'"),
    ("climate", "UPDATE climate SET air_c = air_c + 1 WHERE position > 80"),
    ("climate", "UPDATE climate SET gone_at = 70 WHERE gone_at IS NULL AND position < 60"),
    ("climate", "DELETE FROM climate WHERE position > 80"),
    ("tree", "UPDATE tree SET hash = zeroblob(32)"),
    ("tree", "DELETE FROM tree WHERE level = 6"),
)


@pytest.mark.parametrize(("part", "statement"), BENDS)
def test_what_follows_from_the_log_is_named_and_mended(
    bent: Bent, part: str, statement: str
) -> None:
    bent.run(statement)
    report = bent.check()
    assert part in {wrong.part for wrong in report.wrong}, report
    assert all("--mend" in wrong.next_step for wrong in report.wrong)
    mended = bent.check(mending=True)
    assert (mended.mended, mended.wrong) == (True, ())
    assert bent.check().wrong == ()


def test_everything_beside_the_log_can_be_lost_and_comes_back(bent: Bent) -> None:
    bent.run("DELETE FROM fold", "DELETE FROM tally", "DELETE FROM climate", "DELETE FROM tree")
    assert bent.check(mending=True).mended
    assert bent.check().wrong == ()


def test_an_index_that_is_not_that_of_the_events_is_named(bent: Bent) -> None:
    bent.run("DELETE FROM event_subjects WHERE position = 40")
    report = bent.check(mending=True)
    assert [wrong.part for wrong in report.wrong] == ["index"]
    assert "cannot be changed in place" in report.wrong[0].next_step


def test_a_bent_log_is_never_mended_nor_what_follows_from_it(bent: Bent) -> None:
    bent.run("UPDATE events SET type = 'held' WHERE position = 70", "DELETE FROM fold")
    report = bent.check(mending=True)
    assert not report.mended
    assert {wrong.part for wrong in report.wrong} == {"log"}


def test_a_damaged_file_is_named(bent: Bent) -> None:
    data = bytearray(bent.path.read_bytes())
    file = sqlite3.connect(bent.path)
    (page,) = file.execute("SELECT rootpage FROM sqlite_master WHERE name = 'fold_shelf'")
    size = file.execute("PRAGMA page_size").fetchone()[0]
    file.close()
    start = (page[0] - 1) * size
    data[start : start + 40] = bytes(40)
    bent.path.write_bytes(data)
    report = bent.check()
    assert "file" in {wrong.part for wrong in report.wrong}
    assert "look at the disk" in next(w.next_step for w in report.wrong if w.part == "file")


def test_mending_goes_on_while_facts_come_in(sql_store: SqlStore) -> None:
    bench = any_history(sql_store, 8, acts=30)
    with sql_store.beside(writing=True) as ledger:
        ledger.cursor.execute("UPDATE fold SET shelf = 'lost', folded_at = 1")
        ledger.cursor.execute("DELETE FROM tally")
        ledger.cursor.execute("DELETE FROM climate")
    with shadow() as beside:
        with sql_store.beside() as ledger:
            found = compare(sql_store, ledger, beside)
        later = Bench(store=sql_store)
        later.now, later.count = bench.now, 5_000
        later.pieces("Z-1")
        later.later(1).climate(23.0)
        mend(sql_store, found, beside)
    assert self_check(sql_store).wrong == ()
