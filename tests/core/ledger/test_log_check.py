"""Reading the log against everything that says what it should be: each bend is found and placed."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from any_history import any_history
from bench import Bench
from coatledger.computations import merkle
from coatledger.ledger import tree
from coatledger.ledger.log_check import LogReport, check_log, named_sum
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import Row
from coatledger.ledger.store import Changes, SubjectRow

EVENTS = 200
PARTS = ("body", "by", "offset", "previous", "recorded_at", "shop", "position")


def filled(shop: str = "trial") -> MemoryStore:
    bench = Bench(store=MemoryStore(shop, "first")).open_shop()
    bench.pieces("A", "B")
    for number in range(EVENTS - 7):
        bench.later(0.1).climate(20 + number % 5)
    return bench.store  # type: ignore[return-value]


def checked(store: MemoryStore, signed: dict[int, bytes] | None = None) -> LogReport:
    with store.reading() as reader:
        return check_log(reader, store.shop, signed, page=70)


def bent(change: Callable[[list[Row]], None]) -> LogReport:
    """Change stored rows past the program, as somebody with the file could."""
    store = filled()
    change(store._rows)
    return checked(store)


def rewritten(row: Row, **fields: Any) -> Row:
    leaf = {**json.loads(row.leaf), **fields}
    text = json.dumps(leaf, sort_keys=True, separators=(",", ":")).encode()
    return row._replace(leaf=text)


def test_a_log_as_it_was_recorded_has_no_fault() -> None:
    store = filled()
    report = checked(store)
    assert (report.size, report.faults, report.wrong_nodes) == (EVENTS, (), ())
    assert report.root == merkle.root(store.head().frontier)


@pytest.mark.parametrize("seed", range(5))
def test_any_history_has_no_fault(seed: int) -> None:
    store = MemoryStore("trial")
    any_history(store, seed)
    assert checked(store).faults == ()


@pytest.mark.parametrize("position", [1, 64, 65, 128, 150, EVENTS])
@pytest.mark.parametrize("part", PARTS)
def test_a_change_in_any_part_of_a_leaf_is_found_and_placed(part: str, position: int) -> None:
    def change(rows: list[Row]) -> None:
        row = rows[position - 1]
        leaf = json.loads(row.leaf)
        fields: dict[str, Any] = {
            "body": {**leaf["body"], "actor": "else"}, "by": "else", "offset": 60_000,
            "previous": {**leaf["previous"], next(iter(leaf["previous"])): 999},
            "recorded_at": "2020-01-01T00:00:00.000000Z", "shop": "else", "position": 7_000,
        }  # fmt: skip
        rows[position - 1] = rewritten(row, **{part: fields[part]})

    report = bent(change)
    assert report.faults
    if part in ("body", "by"):  # nothing but the hashes can tell
        tile = (position - 1) // tree.TILE * tree.TILE
        assert (report.faults[0].first, report.first_bad) == (tile + 1, tile + 1)
        assert report.faults[0].last <= tile + tree.TILE
    else:
        assert any(fault.first == fault.last == position for fault in report.faults)


def test_every_byte_of_a_leaf_is_held_fast() -> None:
    store = filled()
    row = store._rows[99]
    for at in range(len(row.leaf)):
        changed = row.leaf[:at] + bytes([row.leaf[at] ^ 1]) + row.leaf[at + 1 :]
        store._rows[99] = row._replace(leaf=changed)
        report = checked(store)
        assert report.faults, at
        assert 65 <= (report.first_bad or 0) <= 100


@pytest.mark.parametrize("column", ["event_id", "type", "occurred_us", "recorded_us"])
def test_a_column_that_says_otherwise_than_its_leaf_is_found_where_it_is(column: str) -> None:
    def change(rows: list[Row]) -> None:
        other = rows[3]
        rows[70] = rows[70]._replace(**{column: getattr(other, column)})

    report = bent(change)
    assert report.faults[0][:2] == (71, 71)
    assert "beside them" in report.faults[0].says


def test_a_dropped_event_is_a_gap() -> None:
    report = bent(lambda rows: rows.__delitem__(120))
    assert (report.first_bad, report.faults[0].says) == (
        121, "positions have a gap: 122 follows 120",
    )  # fmt: skip


def test_dropped_last_events_are_missed_by_the_head() -> None:
    report = bent(lambda rows: rows.__delitem__(slice(-3, None)))
    assert "the log ends before its head says so" in report.faults[0].says
    assert report.first_bad == EVENTS - 2


def test_two_swapped_events_are_found() -> None:
    def swap(rows: list[Row]) -> None:
        rows[10], rows[11] = (
            rows[11]._replace(position=11),
            rows[10]._replace(position=12),
        )

    assert bent(swap).first_bad == 11


def test_an_inserted_event_is_found() -> None:
    def insert(rows: list[Row]) -> None:
        rows.insert(50, rows[49]._replace(position=51))
        rows[51:] = [row._replace(position=row.position + 1) for row in rows[51:]]

    report = bent(insert)
    assert report.first_bad == 51


def test_a_wrong_kept_hash_accuses_the_tree_and_not_the_log() -> None:
    store = filled()
    store._tree[6, 1] = bytes(32)
    store._tree[7, 0] = bytes(32)
    report = checked(store)
    assert report.faults == ()
    assert [node[:2] for node in report.wrong_nodes] == [(6, 1), (7, 0)]
    store.write(Changes(store.head(), (), (), (), {}, (), (), (), report.wrong_nodes))
    assert checked(store).wrong_nodes == ()


def test_a_ledger_rewritten_as_a_whole_is_found_by_the_heads_that_were_signed() -> None:
    store = filled()
    signed = {size: tree.root_of(store, size) for size in (50, 100, EVENTS)}
    assert checked(store, signed).faults == ()
    other = MemoryStore("trial", "first")
    bench = Bench(store=other).open_shop()
    bench.pieces("A", "B")
    for number in range(EVENTS - 7):
        bench.later(0.1).climate(20 + number % 5 if number != 60 else 12.0)
    report = checked(other, signed)
    assert [(fault.first, fault.last) for fault in report.faults[:1]] == [(51, 100)]


def test_faults_are_kept_but_not_by_the_thousand() -> None:
    def change(rows: list[Row]) -> None:
        rows[:] = [row._replace(type="else") for row in rows]

    assert 50 <= len(bent(change).faults) <= 52


def test_the_index_of_subjects_is_summed_in_any_order() -> None:
    rows = [SubjectRow("piece:A", 1, 5, "held"), SubjectRow("piece:B", 1, 5, "held")]
    assert named_sum(rows) == named_sum(rows[::-1])
    assert named_sum(rows) != named_sum(rows[:1])
    store = filled()
    named = [
        SubjectRow(subject, position, us, tag)
        for subject, places in store._subjects.items()
        for us, position, tag in places
    ]
    assert checked(store).named == named_sum(named) % (1 << 128)
