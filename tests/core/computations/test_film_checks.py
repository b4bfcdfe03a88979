"""SSPC-PA 2 sampling counts and acceptance against the printed figures."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from coatledger import units
from coatledger.computations.film_checks import judge, sampling_plan
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", rows("film_sampling_pa2.csv"), ids=lambda row: f"{row['area_ft2']} ft2"
)
def test_an_area_asks_for_the_printed_count_of_readings(row: dict[str, str]) -> None:
    """SSPC-PA 2 (2015, rev. 2018); counts are exact."""
    plan = sampling_plan(units.m2_from_ft2(float(row["area_ft2"])))
    assert (plan.areas, plan.spots, plan.readings) == (
        int(row["areas"]), int(row["spots"]), int(row["min_readings"])
    )  # fmt: skip


def test_a_thousand_square_feet_are_not_a_thousand_and_one() -> None:
    for area_ft2 in (1000, 2000, 3000, 7000):
        areas = sampling_plan(units.m2_from_ft2(area_ft2)).areas
        assert areas == 3 + (area_ft2 - 1000) // 1000


@given(area=st.floats(0.01, 5000), more=st.floats(0, 500))
def test_a_larger_area_never_asks_for_fewer_readings(area: float, more: float) -> None:
    assert sampling_plan(area + more).readings >= sampling_plan(area).readings


def test_a_spot_may_stray_further_than_an_area() -> None:
    """Printed: specified 8-12 mil, spots from 6.4 to 14.4 mil are accepted, their ends too."""
    assert judge([[6.4, 10, 10, 10, 14.4]], 8, 12).passed
    thin = judge([[6.39, 10, 10, 10, 10], [10.0] * 5], 8, 12)
    assert (thin.passed, thin.areas_outside, thin.spots_outside) == (False, (), ((0, 0),))
    thick = judge([[10.0] * 5, [10, 12, 13, 13, 14.41]], 8, 12)
    assert (thick.areas_outside, thick.spots_outside) == ((1,), ((1, 4),))


def test_nothing_measured_is_not_a_pass() -> None:
    with pytest.raises(ValueError, match="at least one area"):
        judge([], 8, 12)
    with pytest.raises(ValueError, match="at least one spot"):
        judge([[10.0], []], 8, 12)
    with pytest.raises(OutOfRange, match="not below low_um"):
        judge([[10.0]], 12, 8)
