"""A ledger moved between SQLite and PostgreSQL: the same bytes and root, and only one lives."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from any_history import any_history
from bench import Bench
from coatledger.computations import merkle
from coatledger.events.coating import Turned
from coatledger_adapters.checkpoints import SqlCheckpoints
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.fold_versions import keep_as
from coatledger_adapters.holds import Held, SqlHolds
from coatledger_adapters.keys import make_key
from coatledger_adapters.migrate import migrate
from coatledger_adapters.move import Moved, MoveError, move
from coatledger_adapters.promise_watch import SqlWatch
from coatledger_adapters.scan import scan
from coatledger_adapters.self_check import self_check
from coatledger_adapters.signing import Signer
from coatledger_adapters.sql_keys import SqlKeys
from coatledger_adapters.sql_reader import MOVED, StaleFoldsError
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.tables import METADATA
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from scribe import SHOP
from telling import message, webhook

SIGNER = Signer(SHOP, bytes(range(32)))
# In the order of both: these are the same on either side, row by row. A reading's place within its
# write, the last word of its key, may differ; a count that came down to nothing is not kept.
SAME = sorted(set(METADATA.tables) - {"head", "climate", "tally"})


def filled(store: SqlStore) -> Bench:
    bench = any_history(store, 9, acts=60)
    for number in range(150):
        bench.later(0.1).climate(18 + number % 9)
    SqlCheckpoints(store, SIGNER).sign(bench.now_us)
    bench.later(1).pieces("Z-1", note="the customer's grandmother's table")
    SqlKeys(store).add(make_key(b"s" * 32, "spray room", ("record",), 1)[1])
    SqlWebhooks(store).add(webhook())
    SqlWebhooks(store).tell([message(1)], 1)
    with store.tending() as ledger:
        size = ledger.head().size
        ledger.cursor.execute(
            store.words(METADATA.tables["person_name"].insert()), (SHOP, "p1", b"\x00sealed")
        )
    held = Held("cart", 0, 9, "f" * 64, b"{}", b"\x00\xff", taken_for="o-1")
    assert SqlHolds(store).place(held, 0, size) is not None
    watch = SqlWatch(store)
    watch.begin(size, 1)
    watch.lease("one", 1, 9)
    assert watch.keep("one", {"o-1": b"late"})
    return bench


@contextmanager
def stores(source: str, target: str) -> Iterator[tuple[SqlStore, SqlStore]]:
    with (
        closing(open_store(source, SHOP, moved_too=True)) as one,
        closing(open_store(target, SHOP, moved_too=True)) as other,
    ):
        yield one, other


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    """The addresses of two files with their tables."""
    one, two = (f"sqlite:///{tmp_path / name}.db" for name in ("one", "two"))
    migrate(one)
    migrate(two)
    return one, two


@pytest.fixture(params=["to postgresql", "to sqlite", "between files"])
def places(request: pytest.FixtureRequest, files: tuple[str, str]) -> tuple[str, str]:
    if request.param == "between files":
        return files
    server = request.getfixturevalue("postgresql_address")
    return (files[0], server) if request.param == "to postgresql" else (server, files[0])


def rows_of(store: SqlStore, table: str) -> list[Any]:
    with store.beside() as ledger:
        found = [row for page in scan(store, ledger, METADATA.tables[table]) for row in page]
    return [tuple(bytes(v) if isinstance(v, memoryview) else v for v in row) for row in found]


def climate_of(store: SqlStore) -> list[Any]:
    found = [(*row[:3], *row[4:]) for row in rows_of(store, "climate")]
    return sorted(found, key=repr)


def counts_of(store: SqlStore) -> list[Any]:
    return [row for row in rows_of(store, "tally") if row[2]]


def moved_from(places: tuple[str, str]) -> Moved:
    with closing(open_store(places[0], SHOP)) as store:
        filled(store)
    with stores(*places) as (source, target):
        return move(source, target)


@pytest.mark.postgres
def test_every_byte_arrives_and_the_root_is_the_same(places: tuple[str, str]) -> None:
    moved = moved_from(places)
    assert moved.root_before == moved.root_after != merkle.root(())
    assert moved.parked == ()
    once = {name: count for name, count in moved.copied.items() if name != "notes"}
    assert set(once.values()) == {1}
    assert moved.copied["notes"] >= 1
    with stores(*places) as (source, target):
        for table in SAME:
            assert rows_of(target, table) == rows_of(source, table), table
        assert climate_of(target) == climate_of(source)
        assert counts_of(target) == counts_of(source)
        with source.beside() as old, target.reading() as new:
            assert new.head() == old.head() == moved.head


@pytest.mark.postgres
def test_the_moved_ledger_is_whole_and_goes_on(places: tuple[str, str]) -> None:
    moved = moved_from(places)
    with closing(open_store(places[1], SHOP)) as store:
        report = self_check(store, SIGNER.key)
        assert report.is_whole, report.wrong
        assert (report.root, report.heads) == (moved.root_after, 1)
        bench = Bench(store=store, start="40 07:00")
        bench.count = 9_000
        bench.record(Turned, pieces=("Z-1",))
        assert self_check(store, SIGNER.key).size == moved.head.size + 1
        # A head signed now continues the one that was signed before the move.
        assert SqlCheckpoints(store, SIGNER).sign(bench.now_us).size == moved.head.size + 1


@pytest.mark.postgres
def test_the_old_ledger_is_closed_for_those_who_open_it_and_for_those_who_have_it_open(
    places: tuple[str, str],
) -> None:
    with closing(open_store(places[0], SHOP)) as source:
        bench = filled(source)
        with closing(open_store(places[1], SHOP)) as target:
            move(source, target)
        bench.at_hand.forget()
        with pytest.raises(StaleFoldsError, match="lives there now"):
            bench.later(1).record(Turned, pieces=("Z-1",))
        with source.reading() as reader, pytest.raises(StaleFoldsError):
            reader.head()
    with pytest.raises(UnfitError, match="moved to another database"):
        open_store(places[0], SHOP)


def test_a_place_that_is_not_empty_is_refused_and_nothing_changes(files: tuple[str, str]) -> None:
    one, two = files
    for address in files:
        with closing(open_store(address, SHOP)) as store:
            filled(store)
    with stores(one, two) as (source, target), pytest.raises(MoveError, match="already holds"):
        move(source, target)
    open_store(one, SHOP).close()
    open_store(two, SHOP).close()


def test_a_place_with_only_a_key_in_it_is_refused_too(files: tuple[str, str]) -> None:
    one, two = files
    with closing(open_store(one, SHOP)) as store:
        filled(store)
    with closing(open_store(two, SHOP)) as store:
        SqlKeys(store).add(make_key(b"s" * 32, "office", ("read",), 1)[1])
    with stores(one, two) as (source, target), pytest.raises(MoveError, match="api_key"):
        move(source, target)


def test_nothing_is_not_moved(files: tuple[str, str]) -> None:
    one, two = files
    with stores(one, two) as (source, target), pytest.raises(MoveError, match="no events"):
        move(source, target)


@contextmanager
def broken_at_the_last_step(target: SqlStore, *, commits: bool) -> Iterator[None]:
    """The line is cut just before the new ledger's commit, or between it and its answer."""
    real = target.tending

    @contextmanager
    def breaks() -> Iterator[Any]:
        with real() as writer:
            yield writer
            if not commits:
                raise OSError("the line is cut")
        raise OSError("the line is cut")

    with patch.object(target, "tending", breaks):
        yield


@pytest.mark.postgres
def test_a_move_that_fails_at_its_last_step_leaves_the_old_ledger_open(
    places: tuple[str, str],
) -> None:
    with closing(open_store(places[0], SHOP)) as store:
        filled(store)
    with stores(*places) as (source, target):
        broken = broken_at_the_last_step(target, commits=False)
        with broken, pytest.raises(OSError, match="cut"):
            move(source, target)
        with source.reading() as reader, target.reading() as nothing:
            assert reader.head().size > 100
            assert nothing.head().size == 0
        assert move(source, target).root_before  # and then it goes


@pytest.mark.postgres
def test_a_move_whose_last_answer_was_lost_is_done_and_the_old_ledger_stays_closed(
    places: tuple[str, str],
) -> None:
    with closing(open_store(places[0], SHOP)) as store:
        filled(store)
    with stores(*places) as (source, target):
        with broken_at_the_last_step(target, commits=True):
            moved = move(source, target)
        with target.reading() as reader:
            assert reader.head() == moved.head
    with pytest.raises(UnfitError, match="moved to another database"):
        open_store(places[0], SHOP)


def test_while_nobody_can_look_whether_it_arrived_the_old_ledger_stays_closed(
    files: tuple[str, str],
) -> None:
    with closing(open_store(files[0], SHOP)) as store:
        filled(store)
    with stores(*files) as (source, target):
        out_of_reach = patch.object(target, "beside", side_effect=OSError("no route"))
        broken = broken_at_the_last_step(target, commits=False)
        with broken, out_of_reach, pytest.raises(MoveError, match="stays closed"):
            move(source, target)
        with pytest.raises(MoveError, match="--again"):
            move(source, target)
        assert move(source, target, again=True).root_before


def test_a_move_that_was_cut_short_is_taken_up_only_when_asked(files: tuple[str, str]) -> None:
    """The machine died between the two commits: the old one is closed, the new one is empty."""
    one, two = files
    with closing(open_store(one, SHOP)) as store:
        filled(store)
        with store.tending() as writer:
            keep_as(store, writer, MOVED)
    with stores(one, two) as (source, target):
        with pytest.raises(MoveError, match="--again"):
            move(source, target)
        moved = move(source, target, again=True)
    with closing(open_store(two, SHOP)) as store:
        assert self_check(store).root == moved.root_before


@pytest.mark.parametrize(
    ("bent", "why"),
    [
        (
            "UPDATE events SET leaf = CAST(replace(CAST(leaf AS TEXT), 'key', 'kay') AS BLOB)",
            "not whole|root",
        ),
        ("UPDATE events SET type = 'sanded' WHERE position = 1", "not whole"),
        ("DELETE FROM events WHERE position = 20", "gap"),
        ("UPDATE head SET frontier = zeroblob(length(frontier))", "not whole|root"),
    ],
)  # fmt: skip
def test_a_ledger_that_was_bent_is_not_moved(files: tuple[str, str], bent: str, why: str) -> None:
    one, two = files
    with closing(open_store(one, SHOP)) as store:
        filled(store)
        with store.tending() as writer:
            writer.cursor.execute("DROP TRIGGER events_refuse_update")
            writer.cursor.execute("DROP TRIGGER events_refuse_delete")
            writer.cursor.execute(bent)
        with closing(open_store(two, SHOP)) as target:
            with pytest.raises(MoveError, match=why):
                move(store, target)
            with target.reading() as reader:
                assert reader.head().size == 0
            with store.beside() as ledger:
                assert ledger.head().size > 100


def test_an_index_or_fold_that_was_bent_does_not_go_along(files: tuple[str, str]) -> None:
    one, two = files
    with closing(open_store(one, SHOP)) as store:
        filled(store)
        with store.tending() as writer:
            writer.cursor.execute("DROP TRIGGER event_subjects_refuse_delete")
            writer.cursor.execute("DELETE FROM event_subjects WHERE position = 3")
            writer.cursor.execute("UPDATE fold SET shelf = 'lost'")
            writer.cursor.execute("UPDATE tally SET value = 99")
        with closing(open_store(two, SHOP)) as target:
            move(store, target)
            assert self_check(target, SIGNER.key).is_whole
