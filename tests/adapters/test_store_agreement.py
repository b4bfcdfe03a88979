"""Any history written to memory and to a database answers every question the same way."""

from collections.abc import Callable, Iterator
from contextlib import closing
from itertools import count
from pathlib import Path
from shutil import copyfile
from typing import Any
from unittest.mock import patch

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Changes, ClimateRow, Note, Reader, StoredFold, TreeNode
from coatledger.subjects.registry import FOLDS, kind_of
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.sql_writer import SqlWriter
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from scribe import SHOP, Act, changes, event_id

SUBJECTS = ("piece:A-1", "piece:A-2", "piece:é", "lot:L-1", "gun:G-1", "shop")
TYPES = ("sanded", "coat_applied", "inspected")
SHELVES = ("bare", "coated", "")
NewStore = Callable[[], SqlStore]
# Each try opens a database, so finding the smallest failing history would take minutes.
PHASES = (Phase.explicit, Phase.generate)

times = st.integers(-3, 12) | st.integers(-(2**50), 2**50)
numbers = st.floats(-1000, 1000, allow_nan=False).map(lambda number: round(number, 3))
acts = st.builds(
    Act,
    st.sets(st.sampled_from(SUBJECTS), max_size=4).map(tuple),
    st.sampled_from(TYPES),
    times,
)
folds = st.builds(
    # Of this program's version: those of another are refused, which the store's own tests show.
    lambda subject, *rest: StoredFold(subject, FOLDS[kind_of(subject)].version, *rest),
    st.sampled_from(SUBJECTS),
    st.integers(0, 99),
    times,
    st.sampled_from(SHELVES),
    st.binary(max_size=5),
)
tallies = st.dictionaries(
    st.tuples(st.sampled_from(("coats", "wip")), st.text(st.characters(codec="utf-8"), max_size=2)),
    st.integers(-2, 2).map(float),
    max_size=4,
).filter(lambda found: not any("\x00" in key for _, key in found))
readings = st.builds(
    ClimateRow,
    st.sampled_from(("spray", "dry")),
    st.integers(0, 9),
    st.integers(1, 20),
    numbers,
    numbers,
    st.none() | numbers,
    st.none() | st.integers(1, 20),
)
notes = st.builds(
    Note, st.integers(1, 9).map(event_id), st.binary(max_size=4), st.none() | st.text(max_size=9)
)
writes = st.fixed_dictionaries(
    {
        "acts": st.lists(acts, min_size=1, max_size=6),
        "recorded_after": st.integers(0, 3),
        "folds": st.lists(folds, max_size=4),
        "tallies": tallies,
        "climate": st.lists(readings, max_size=4),
        "gone": st.lists(st.tuples(st.integers(1, 20), st.integers(1, 20)), max_size=3),
        "notes": st.lists(notes, max_size=3),
        "read_first": st.booleans(),
    }
)
histories = st.lists(writes, min_size=1, max_size=6)


def write(store: MemoryStore | SqlStore, one: dict[str, Any]) -> None:
    with store.writing() as writer:
        head = writer.head()
        if one["read_first"]:
            writer.folds(SUBJECTS)
        made = changes(
            head,
            one["acts"],
            recorded_us=head.recorded_us + one["recorded_after"],
            # A reading stands at the position of one of the events written with it.
            climate=[
                reading._replace(position=head.size + 1 + reading.position % len(one["acts"]))
                for reading in one["climate"]
            ],
            tree=[TreeNode(6, head.size, b"h" * 32)],
            **{name: one[name] for name in ("folds", "tallies", "gone", "notes")},
        )
        writer.write(made)


def answers(reader: Reader) -> Iterator[tuple[object, ...]]:
    """Every question there is, over the small world that histories are drawn from."""
    head = reader.head()
    yield ("head", head)
    for after in range(0, head.size + 2, 3):
        yield ("rows", after, list(reader.rows(after, 4)))
    ids = [event_id(n) for n in range(head.size + 3)]
    yield ("by_id", dict(reader.by_id(ids)), dict(reader.notes(ids)))
    yield ("folds", dict(reader.folds((*SUBJECTS, "lot:none"))))
    yield ("subtrees", dict(reader.subtrees([(6, n) for n in range(9)])))
    for us in range(-1, head.recorded_us + 2):
        yield ("position_at", us, reader.position_at(us))
    for name in ("coats", "wip"):
        yield ("tallies", name, list(reader.tallies(name)), list(reader.tallies(name, "0", "é")))
    for kind in ("piece", "lot"):
        for shelves in (None, SHELVES, ("coated",)):
            for last in ("", "piece:A-1"):
                yield ("shelf", kind, shelves, list(reader.shelf(kind, shelves, last, 2)))
    for room in ("spray", "dry"):
        for known in (None, 0, 5, head.size):
            yield ("climate", room, known, list(reader.climate(room, 2, 8, known)))
            yield ("before", room, known, [reader.climate_before(room, n, known) for n in range(9)])
    yield from named(reader, head.size)


def named(reader: Reader, size: int) -> Iterator[tuple[object, ...]]:
    for subject in SUBJECTS:
        for known in (None, size // 2):
            for until_us in (None, 5):
                for types in (None, TYPES[:2], ()):
                    for newest in (None, 1, 3):
                        found = reader.of_subject(
                            subject, known=known, until_us=until_us, types=types, newest=newest
                        )
                        yield (subject, known, until_us, types, newest, list(found))


def agree(new_store: NewStore, history: list[dict[str, Any]]) -> None:
    memory = MemoryStore(SHOP, "first")
    with closing(new_store()) as store:
        for one in history:
            write(memory, one)
            write(store, one)
        with memory.reading() as expected, store.reading() as found:
            for one_expected, one_found in zip(answers(expected), answers(found), strict=True):
                assert one_found == one_expected


@pytest.fixture(scope="module")
def on_sqlite(tmp_path_factory: pytest.TempPathFactory) -> NewStore:
    folder = tmp_path_factory.mktemp("agreement")
    migrate(f"sqlite:///{folder / 'template.db'}")
    numbers = count()

    def new_store() -> SqlStore:
        path = Path(folder, f"{next(numbers)}.db")
        copyfile(folder / "template.db", path)
        return open_store(f"sqlite:///{path}", SHOP, epoch="first")

    return new_store


@settings(max_examples=60, phases=PHASES, suppress_health_check=[HealthCheck.too_slow])
@given(history=histories)
def test_sqlite_answers_as_memory_does(on_sqlite: NewStore, history: list[dict[str, Any]]) -> None:
    agree(on_sqlite, history)


@pytest.mark.postgres
def test_postgresql_answers_as_memory_does(postgresql_address: str) -> None:
    shops = count()

    def new_store() -> SqlStore:
        # A shop of its own for each history: the others in the same tables must not show.
        return open_store(postgresql_address, f"shop-{next(shops)}", epoch="first")

    @settings(max_examples=25, phases=PHASES, suppress_health_check=[HealthCheck.too_slow])
    @given(history=histories)
    def check(history: list[dict[str, Any]]) -> None:
        agree(new_store, history)

    check()


def test_a_store_that_forgets_one_fold_would_be_found_out(on_sqlite: NewStore) -> None:
    real = SqlWriter._write_folds

    def forgetful(writer: SqlWriter, made: Changes) -> None:
        real(writer, made._replace(folds=made.folds[:3]))

    @settings(max_examples=200, phases=PHASES, suppress_health_check=[HealthCheck.too_slow])
    @given(history=histories)
    def check(history: list[dict[str, Any]]) -> None:
        agree(on_sqlite, history)

    with patch.object(SqlWriter, "_write_folds", forgetful), pytest.raises(AssertionError):
        check()
