"""Thinning towards a target: a published set of readings, the sheet's limit, the inverse."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from coatledger.computations import thinning
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.viscosity import Range, viscosity_mm2_s
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", [row for row in rows("thinning_readings.csv") if float(row["reduced_s"]) >= 20]
)
def test_published_readings_of_a_thinned_paint_lie_in_the_range(row: dict[str, str]) -> None:
    """Six readings of one water-borne paint; the likely figure is within 5 % of each."""
    before = viscosity_mm2_s("ford_4", float(row["unreduced_s"]))
    after = viscosity_mm2_s("ford_4", float(row["reduced_s"]))
    ours = thinning.thinned_mm2_s(before, float(row["reducer_pct"]))
    assert ours.low < after < ours.high
    assert ours.likely == pytest.approx(after, rel=0.05)


def test_no_reducer_leaves_the_viscosity_and_more_thins_more() -> None:
    assert thinning.thinned_mm2_s(100, 0) == Range(100, 100, 100)
    thinned = [thinning.thinned_mm2_s(100, pct).likely for pct in range(0, 101, 5)]
    assert thinned == sorted(thinned, reverse=True)
    assert len(set(thinned)) == len(thinned)


@given(nu=st.floats(20, 1000), share=st.floats(0.3, 0.95))
def test_the_reducer_needed_is_the_reducer_that_reaches_the_target(nu: float, share: float) -> None:
    target = nu * share
    wanted = thinning.thinning_to(nu, target, 100)
    assert thinning.thinned_mm2_s(nu, wanted.reducer_pct.likely).likely == pytest.approx(target)
    assert wanted.reducer_pct.low <= wanted.reducer_pct.likely <= wanted.reducer_pct.high


@given(nu=st.floats(20, 1000), strength=st.floats(1, 2), pct=st.floats(1, 30))
def test_one_trial_tells_how_strongly_a_reducer_works(
    nu: float, strength: float, pct: float
) -> None:
    after = thinning.thinned_mm2_s(nu, pct, Range(strength, strength, strength)).likely
    assert thinning.strength_seen(nu, after, pct) == pytest.approx(strength, rel=1e-9)


def test_the_sheets_limit_is_never_exceeded_and_says_what_it_reaches() -> None:
    beyond = thinning.thinning_to(200, 60, 10)
    assert beyond.within_limit is False
    assert beyond.allowed_pct == 10 < beyond.reducer_pct.likely
    assert beyond.reached_mm2_s == thinning.thinned_mm2_s(200, 10)
    assert "limit stops short" in beyond.advice
    within = thinning.thinning_to(100, 80, 10)
    assert within.within_limit is True
    assert within.allowed_pct == within.reducer_pct.likely < 10
    assert within.reached_mm2_s.likely == pytest.approx(80)


def test_a_silent_sheet_is_no_permission() -> None:
    silent = thinning.thinning_to(100, 80, None)
    assert silent.within_limit is None
    assert "ask the maker" in silent.advice


@pytest.mark.parametrize(
    ("measured", "target", "limit", "quantity"),
    [
        (100, 110, 10, "target_mm2_s"),
        (100, 0.5, 10, "target_mm2_s"),
        (1.5, 1.2, 10, "viscosity_mm2_s"),
        (100, 80, -1, "limit_pct"),
        (1000, 1.5, None, "reducer's share of the mix"),
        (1000, 12, None, "reducer_pct needed"),
    ],
)
def test_an_impossible_target_is_refused(
    measured: float, target: float, limit: float | None, quantity: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        thinning.thinning_to(measured, target, limit)
    assert refused.value.quantity == quantity
