"""What every store answers: the same suite on memory, SQLite and PostgreSQL."""

from collections.abc import Sequence
from uuid import UUID

import pytest
from coatledger.ledger.record import Row
from coatledger.ledger.store import ClimateRow, Head, Note, Store, Tally, TreeNode
from coatledger_adapters.sql_store import SqlStore
from scribe import EVERY_BYTE, Act, append, changes, event_id, fold, reading

PIECE, OTHER, GUN = "piece:A-1", "piece:A-2", "gun:G-1"


def positions(rows: Sequence[Row]) -> list[int]:
    return [row.position for row in rows]


def test_a_new_ledger_is_empty_and_has_its_epoch(store: Store) -> None:
    with store.reading() as reader:
        assert reader.head() == Head(0, 0, (), "first")
        assert list(reader.rows(0, 10)) == []
        assert reader.position_at(2**60) == 0
        assert list(reader.of_subject(PIECE)) == []
        assert reader.climate_before("spray", 2**60) is None


def test_the_head_comes_back_as_it_was_written(store: Store) -> None:
    for _ in range(5):
        append(store, Act((PIECE,)), Act((PIECE,)), recorded_us=7)
    with store.reading() as reader:
        head = reader.head()
    assert head == Head(10, 7, ((10).to_bytes(32), (10).to_bytes(32)), "first")


def test_bytes_in_are_bytes_out(store: Store) -> None:
    (row,) = append(store, Act((PIECE,), "coat_applied", -5), recorded_us=9)
    assert EVERY_BYTE in row.leaf
    with store.reading() as reader:
        assert list(reader.rows(0, 1)) == [row]
        (found,) = reader.of_subject(PIECE)
    assert found == row
    assert type(found.leaf) is bytes
    assert type(found.event_id) is UUID


def test_positions_have_no_gap_and_the_feed_follows_them(store: Store) -> None:
    for count in (1, 3, 64, 65, 1, 130):
        append(store, *[Act((PIECE, GUN), occurred_us=-n) for n in range(count)])
    with store.reading() as reader:
        assert positions(reader.rows(0, 1000)) == list(range(1, 265))
        assert positions(reader.rows(100, 7)) == list(range(101, 108))
        assert positions(reader.rows(260, 7)) == [261, 262, 263, 264]
        assert positions(reader.rows(264, 7)) == []


@pytest.mark.parametrize("count", [1, 15, 16, 17, 64, 65, 256, 257, 600])
def test_events_are_found_by_id_however_many_are_asked_for(store: Store, count: int) -> None:
    append(store, *[Act((PIECE,))] * count)
    unknown = [event_id(position) for position in (count + 1, count + 2)]
    with store.reading() as reader:
        found = reader.by_id([*(event_id(n) for n in range(1, count + 1)), *unknown])
        assert reader.by_id([]) == {}
    assert {i: row.position for i, row in found.items()} == {
        event_id(n): n for n in range(1, count + 1)
    }


def test_an_id_asked_for_twice_is_one_answer(store: Store) -> None:
    append(store, Act((PIECE,)))
    with store.reading() as reader:
        assert list(reader.by_id([event_id(1)] * 20)) == [event_id(1)]


# Positions 1 to 6 of one piece, entered late and out of order; 2 and 5 at the same time.
HISTORY = (
    Act((PIECE,), "sanded", 50),
    Act((PIECE, GUN), "coat_applied", 30),
    Act((PIECE,), "sanded", 10),
    Act((PIECE, GUN), "coat_applied", 40),
    Act((PIECE,), "inspected", 30),
    Act((OTHER, GUN), "coat_applied", 20),
)


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ({}, [3, 2, 5, 4, 1]),
        ({"known": 4}, [3, 2, 4, 1]),
        ({"known": 0}, []),
        ({"until_us": 30}, [3, 2, 5]),
        ({"until_us": 29}, [3]),
        ({"until_us": 9}, []),
        ({"types": ["sanded"]}, [3, 1]),
        ({"types": ["coat_applied", "inspected", "shipped"]}, [2, 5, 4]),
        ({"types": ["sanded", "sanded"]}, [3, 1]),
        ({"types": []}, []),
        ({"newest": 2}, [4, 1]),
        ({"newest": 9}, [3, 2, 5, 4, 1]),
        ({"newest": 0}, []),
        ({"newest": 1, "types": ["coat_applied"]}, [4]),
        ({"newest": 2, "types": ["coat_applied", "inspected"]}, [5, 4]),
        ({"newest": 1, "until_us": 30}, [5]),
        ({"newest": 1, "until_us": 30, "known": 4}, [2]),
        ({"newest": 2, "until_us": 45, "known": 5, "types": ["inspected", "sanded"]}, [3, 5]),
        ({"until_us": 40, "known": 4, "types": ["coat_applied"]}, [2, 4]),
    ],
    ids=str,
)
def test_a_subjects_events_come_in_order_of_when_they_happened(
    store: Store, asked: dict[str, object], expected: list[int]
) -> None:
    append(store, *HISTORY[:4])
    append(store, *HISTORY[4:])
    with store.reading() as reader:
        found = reader.of_subject(PIECE, **asked)  # type: ignore[arg-type]
        assert positions(reader.of_subject(OTHER)) == [6]
        assert positions(reader.of_subject("piece:A")) == []
    assert positions(found) == expected


def test_the_newest_are_found_among_more_than_a_key_holds_at_once(store: Store) -> None:
    types = [f"type_{n:02}" for n in range(40)]
    append(store, *[Act((GUN,), types[n % 40], n * 7 % 1000) for n in range(1000)])
    in_order = sorted(range(1, 1001), key=lambda position: ((position - 1) * 7 % 1000, position))
    with store.reading() as reader:
        assert positions(reader.of_subject(GUN, newest=300)) == in_order[-300:]
        assert positions(reader.of_subject(GUN, newest=300, types=types)) == in_order[-300:]
        assert positions(reader.of_subject(GUN, types=types)) == in_order


def test_a_fold_takes_the_place_of_the_one_before(store: Store) -> None:
    append(store, Act((PIECE, GUN)), folds=[fold(PIECE, "bare"), fold(GUN, "", 1, EVERY_BYTE)])
    newer = fold(PIECE, "coated", state=b"")._replace(position=2, folded_us=-4)
    append(store, Act((PIECE,)), folds=[newer])
    with store.reading() as reader:
        assert reader.folds([PIECE, GUN, "piece:none"]) == {
            PIECE: newer,
            GUN: fold(GUN, "", 1, EVERY_BYTE),
        }
        assert reader.folds([]) == {}


@pytest.mark.parametrize("read_first", [True, False])
def test_a_fold_changes_its_shelf_whether_or_not_it_was_read_before(
    store: Store, read_first: bool
) -> None:
    append(store, Act((PIECE, OTHER)), folds=[fold(PIECE, "bare"), fold(OTHER, "bare")])
    with store.writing() as writer:
        if read_first:
            writer.folds([PIECE, OTHER])
        moved = [fold(PIECE, "coated", 2), fold(OTHER, "bare", 2)]
        writer.write(changes(writer.head(), [Act((PIECE, OTHER))], folds=moved))
    with store.reading() as reader:
        assert list(reader.shelf("piece", ["coated"], "", 9)) == [fold(PIECE, "coated", 2)]
        assert list(reader.shelf("piece", ["bare"], "", 9)) == [fold(OTHER, "bare", 2)]


def shelved(store: Store) -> None:
    """Thirty pieces on three shelves, and subjects whose kinds sort beside `piece`."""
    shelves = ("bare", "coated", "shipped")
    pieces = [fold(f"piece:{n:02}", shelves[n % 3]) for n in range(30)]
    others = [fold(f"{kind}:01", "bare") for kind in ("piecework", "pie", "lot", "piece-x", "q")]
    append(store, Act((PIECE,)), folds=[*pieces, *others, fold("shop", "bare")])


@pytest.mark.parametrize(
    "shelves", [None, ["bare"], ["bare", "coated"], ["coated", "none", "coated"], ["none"], []]
)
@pytest.mark.parametrize("page", [1, 4, 100])
def test_a_shelf_is_paged_in_order_without_loss_or_repeat(
    store: Store, shelves: list[str] | None, page: int
) -> None:
    shelved(store)
    seen: list[str] = []
    with store.reading() as reader:
        while found := reader.shelf("piece", shelves, seen[-1] if seen else "", page):
            assert len(found) <= page
            seen += [one.subject for one in found]
    names = ("bare", "coated", "shipped")
    assert seen == [
        f"piece:{n:02}" for n in range(30) if shelves is None or names[n % 3] in shelves
    ]


def test_words_are_ordered_by_their_bytes(store: Store) -> None:
    words = ["piece:a", "piece:B", "piece:A-1", "piece:A.1", "piece:A1", "piece:_", "piece:a-b"]
    append(store, Act((PIECE,)), folds=[fold(word) for word in words])
    with store.reading() as reader:
        found = [one.subject for one in reader.shelf("piece", None, "", 99)]
    assert found == sorted(words)


def test_tallies_add_up_and_nothing_is_left_of_nothing(store: Store) -> None:
    append(store, Act((PIECE,)), tallies={("coats", "b"): 2, ("coats", "a"): 0.5, ("wip", "a"): 1})
    append(store, Act((PIECE,)), tallies={("coats", "b"): 3, ("wip", "a"): -1, ("wip", "z"): 0})
    with store.reading() as reader:
        assert list(reader.tallies("coats")) == [Tally("coats", "a", 0.5), Tally("coats", "b", 5)]
        assert list(reader.tallies("wip")) == []
        assert list(reader.tallies("none")) == []


def test_tallies_are_cut_by_key_with_both_ends_in(store: Store) -> None:
    append(store, Act((PIECE,)), tallies={("coats", f"{n:03}"): n for n in range(1, 200)})
    with store.reading() as reader:
        found = [one.key for one in reader.tallies("coats", "017", "019")]
        assert len(reader.tallies("coats", "150")) == 50
    assert found == ["017", "018", "019"]


def test_climate_comes_in_order_of_time_with_both_ends_in(store: Store) -> None:
    spread = [reading("spray", at_us, 1, air_c) for at_us, air_c in ((30, 1), (10, 2), (20, 3))]
    append(store, Act(("room:spray",)), climate=[*spread, reading("dry", 20, 1)])
    append(store, Act(("room:spray",)), climate=[reading("spray", 20, 2, 4.0)])
    with store.reading() as reader:
        assert [row.air_c for row in reader.climate("spray", 10, 30)] == [2, 3, 4, 1]
        assert [row.air_c for row in reader.climate("spray", 11, 29)] == [3, 4]
        assert [row.air_c for row in reader.climate("spray", 0, 99, known=1)] == [2, 3, 1]
        before = reader.climate_before("spray", 25)
        assert before == reading("spray", 20, 2, 4.0)
        assert reader.climate_before("spray", 9) is None
        assert reader.climate_before("none", 99) is None


def test_one_event_may_read_the_same_minute_twice(store: Store) -> None:
    twice = [reading("spray", 10, 1, 20.0), reading("spray", 10, 1, 22.0)]
    append(store, Act(("room:spray",)), climate=twice)
    with store.reading() as reader:
        assert list(reader.climate("spray", 0, 99)) == twice
        assert reader.climate_before("spray", 99) == twice[1]


def test_a_reading_taken_back_is_known_only_to_those_who_ask_for_the_past(store: Store) -> None:
    append(store, Act(("room:spray",)), climate=[reading("spray", n, 1) for n in (10, 20)])
    append(store, Act(("room:spray",)), climate=[reading("spray", 30, 2)])
    # Position 3 takes position 1 back and says another thing of the same time.
    append(
        store,
        Act(("room:spray",)),
        gone=[(1, 3)],
        climate=[ClimateRow("spray", 20, 3, 9.5, 80.25, 7.125, None)],
    )
    with store.reading() as reader:
        assert [(r.at_us, r.position) for r in reader.climate("spray", 0, 99)] == [(20, 3), (30, 2)]
        known = [(r.at_us, r.position) for r in reader.climate("spray", 0, 99, known=2)]
        assert known == [(10, 1), (20, 1), (30, 2)]
        now = reader.climate_before("spray", 25)
        assert now == ClimateRow("spray", 20, 3, 9.5, 80.25, 7.125, None)
        then = reader.climate_before("spray", 25, known=2)
        assert then is not None
        assert (then.position, then.gone_at) == (1, 3)
        assert reader.climate_before("spray", 15) is None


def test_a_reading_is_taken_back_once(store: Store) -> None:
    append(store, Act(("room:spray",)), climate=[reading("spray", 10, 1)])
    append(store, Act(("room:spray",)), gone=[(1, 2)])
    append(store, Act(("room:spray",)), gone=[(1, 3)])
    with store.reading() as reader:
        (row,) = reader.climate("spray", 0, 99, known=1)
    assert row.gone_at == 2


@pytest.mark.parametrize("size", [1, 2, 3, 64, 100])
def test_a_time_leads_to_the_last_position_recorded_by_then(store: Store, size: int) -> None:
    for n in range(size):
        append(store, Act((PIECE,)), recorded_us=10 * (n // 3))
    with store.reading() as reader:
        for us in range(-1, 10 * (size // 3) + 12):
            by_then = sum(10 * (n // 3) <= us for n in range(size))
            assert reader.position_at(us) == by_then


def test_notes_are_kept_apart_and_can_be_erased(store: Store) -> None:
    first = Note(event_id(1), b"\x00salt", "näh – “quite” \x00 ✓")
    append(store, Act((PIECE,)), Act((PIECE,)), notes=[first, Note(event_id(2), b"", "two")])
    append(store, Act((PIECE,)), notes=[Note(event_id(2), b"", None)])
    with store.reading() as reader:
        assert reader.notes([event_id(n) for n in range(1, 20)]) == {
            event_id(1): first,
            event_id(2): Note(event_id(2), b"", None),
        }


def test_hashes_of_subtrees_are_kept(store: Store) -> None:
    nodes = [TreeNode(6, 0, b"a" * 32), TreeNode(6, 1, b"b" * 32), TreeNode(7, 0, b"c" * 32)]
    append(store, Act((PIECE,)), tree=nodes)
    with store.reading() as reader:
        found = reader.subtrees([(6, 1), (7, 0), (7, 1), (6, 0)])
    assert found == {(6, 0): b"a" * 32, (6, 1): b"b" * 32, (7, 0): b"c" * 32}


def test_a_reader_sees_one_state_however_much_is_written_meanwhile(sql_store: SqlStore) -> None:
    # A reader of the memory store holds its lock, so there nothing is written meanwhile.
    store = sql_store
    append(store, Act((PIECE,)), folds=[fold(PIECE)])
    with store.reading() as reader:
        assert reader.head().size == 1
        append(store, Act((PIECE,)), folds=[fold(PIECE, "coated", 2)])
        assert reader.head().size == 1
        assert len(reader.rows(0, 9)) == 1
        assert reader.folds([PIECE])[PIECE].shelf == "bare"
    with store.reading() as reader:
        assert reader.head().size == 2


def test_a_writer_sees_everything_recorded_before_it(store: Store) -> None:
    for expected in range(5):
        with store.writing() as writer:
            assert writer.head().size == expected
            assert len(writer.of_subject(PIECE)) == expected
            assert len(writer.by_id([event_id(n) for n in range(9)])) == expected
            writer.write(changes(writer.head(), [Act((PIECE,))]))


def test_a_large_write_is_as_whole_as_a_small_one(store: Store) -> None:
    acts = [Act((f"piece:{n % 77}", GUN, "lot:L-1"), "coat_applied", n) for n in range(1000)]
    folds = [fold(f"piece:{n}", "coated", n) for n in range(77)]
    readings = [reading("spray", n, 1) for n in range(500)]
    tallies = {("coats", f"{n}"): 1.5 for n in range(130)}
    append(store, *acts, folds=folds, climate=readings, tallies=tallies)
    with store.reading() as reader:
        assert reader.head().size == 1000
        assert positions(reader.of_subject(GUN)) == list(range(1, 1001))
        assert len(reader.of_subject("piece:5")) == 13
        assert len(reader.shelf("piece", ["coated"], "", 999)) == 77
        assert list(reader.climate("spray", 0, 999)) == readings
        assert len(reader.tallies("coats")) == 130
