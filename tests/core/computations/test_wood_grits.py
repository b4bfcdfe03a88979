"""P grades against the recorded FEPA sizes."""

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.wood_grits import GRAIN_UM, grades_skipped, grain_um

GOLDEN = Path(__file__).parents[2] / "golden" / "computations" / "wood_grits.csv"


def rows() -> list[dict[str, str]]:
    lines = GOLDEN.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["grade"])
def test_a_grade_has_its_standard_grain(row: dict[str, str]) -> None:
    """FEPA 43-1 and 43-2, ISO 6344: the median as printed."""
    assert grain_um(int(row["grade"][1:])) == float(row["um"])


def test_a_higher_grade_is_finer() -> None:
    assert all(
        low < high and GRAIN_UM[low] > GRAIN_UM[high] for low, high in pairwise(tuple(GRAIN_UM))
    )


@pytest.mark.parametrize(
    ("start", "end", "skipped"), [(120, 150, 0), (80, 150, 2), (80, 220, 4), (220, 150, 0)]
)
def test_grades_between_are_counted_going_finer(start: int, end: int, skipped: int) -> None:
    assert grades_skipped(start, end) == skipped


def test_a_number_that_is_no_grade_is_refused() -> None:
    with pytest.raises(OutOfRange, match="ISO 6344"):
        grain_um(125)
    with pytest.raises(OutOfRange):
        grades_skipped(80, 130)
