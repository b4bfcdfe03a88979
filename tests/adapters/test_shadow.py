"""The place beside the live state: the last fold counts, and all of it is thrown away."""

from pathlib import Path

import pytest
from coatledger.ledger.store import ClimateRow, StoredFold
from coatledger_adapters.shadow import shadow


def fold(subject: str, position: int = 1) -> StoredFold:
    return StoredFold(subject, 1, position, 0, "", b"{}")


def reading(room: str, at_us: int, position: int) -> ClimateRow:
    return ClimateRow(room, at_us, position, 20.0, 50.0, None, None)


def test_the_last_fold_of_a_subject_counts() -> None:
    with shadow() as beside:
        beside.put([fold("piece:A"), fold("piece:B")])
        beside.put([fold("piece:A", 2)])
        assert beside.folds(["piece:A", "piece:C"]) == {"piece:A": fold("piece:A", 2)}
        assert [list(page) for page in beside.subjects()] == [["piece:A", "piece:B"]]


def test_many_subjects_are_asked_for_in_groups() -> None:
    many = [fold(f"piece:{number:05}") for number in range(9_000)]
    with shadow() as beside:
        beside.put(many)
        assert list(beside.folds(one.subject for one in many).values()) == many
        assert [len(page) for page in beside.subjects()] == [4_000, 4_000, 1_000]


def test_readings_come_in_order_and_are_taken_back_once() -> None:
    with shadow() as beside:
        beside.add_climate([reading("b", 5, 1), reading("a", 7, 1), reading("a", 6, 2)])
        beside.end_climate(1, 9)
        beside.end_climate(1, 12)
        found = list(beside.climate())
        assert [(r.room, r.at_us, r.gone_at) for r in found] == [
            ("a", 6, None),
            ("a", 7, 9),
            ("b", 5, 9),
        ]
        assert beside.climate_of(1) == (found[2], found[1])


def test_nothing_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    with shadow() as beside:
        beside.put([fold("piece:A")])
        assert list(tmp_path.iterdir())
    assert not list(tmp_path.iterdir())
