"""Chances put right by what earlier promises came to: learned, inverted, applied to days."""

from itertools import pairwise

import numpy as np
import pytest
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.recalibration import (
    AS_SIMULATED,
    LOG_STRETCH,
    SHIFT,
    Outcome,
    Recalibration,
    recalibrate,
    recalibrated,
    simulated,
    stated,
)
from hypothesis import given
from hypothesis import strategies as st

SHIFTS, STRETCHES = st.floats(-3.0, 3.0), st.floats(0.2, 3.0)


@given(st.floats(0.001, 0.999), SHIFTS, STRETCHES)
def test_what_is_said_leads_back_to_what_was_simulated(
    chance: float, shift: float, stretch: float
) -> None:
    by = Recalibration(shift, stretch)
    assert simulated(stated(chance, by), by) == pytest.approx(chance, abs=1e-9)


def test_sure_things_stay_sure_and_no_chance_is_above_one() -> None:
    by = Recalibration(-2.0, 0.3)
    assert (stated(0.0, by), stated(1.0, by)) == (0.0, 1.0)
    assert (simulated(0.0, by), simulated(1.0, by)) == (0.0, 1.0)
    with pytest.raises(OutOfRange):
        stated(1.1, by)


def test_worked_by_hand() -> None:
    # log(0.9 / 0.1) = 2.1972; halved and moved by 0.5: 1.5986, which is a chance of 0.8318.
    assert stated(0.9, Recalibration(0.5, 0.5)) == pytest.approx(0.8318, abs=1e-4)


def test_days_come_as_often_as_is_said_and_keep_their_order() -> None:
    days = np.repeat([10, 12, 15, 20], [500, 300, 150, 50])
    days = np.random.default_rng(1).permutation(days)
    by = Recalibration(-0.3, 0.7)
    found = recalibrated(days, by)
    for day, share in ((10, 0.5), (12, 0.8), (15, 0.95)):
        assert np.mean(found <= day) == pytest.approx(stated(share, by), abs=0.0011)
    for one, other in pairwise(np.argsort(days, kind="stable")[::50]):
        assert found[one] <= found[other]
    assert recalibrated(days, AS_SIMULATED) is days


def test_each_row_is_put_right_by_itself() -> None:
    rows = np.array([[1, 2, 3, 4], [8, 7, 6, 5]])
    by = Recalibration(-1.5, 1.0)
    both = recalibrated(rows, by)
    assert np.array_equal(both[0], recalibrated(rows[0], by))
    assert np.array_equal(both[1], recalibrated(rows[1], by))


def drawn(count: int, by: Recalibration, seed: int = 3) -> list[Outcome]:
    """Draw what became of promises whose simulated chances come true as `by` says."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(count):
        points = [0.0, *sorted(rng.uniform(0.4, 0.99, 4)), 1.0]
        at = simulated(float(rng.random()), by)
        low = max(p for p in points if p <= at)
        found.append(Outcome(float(low), float(min(p for p in points if p >= at))))
    return found


def test_without_outcomes_the_belief_stands() -> None:
    nothing = recalibrate([])
    assert nothing.shift == pytest.approx(SHIFT, abs=0.001)
    assert nothing.stretch == pytest.approx(np.exp(LOG_STRETCH), abs=0.001)
    assert recalibrate([Outcome(0.0, 1.0)] * 50) == nothing


@pytest.mark.parametrize(
    "true", [Recalibration(0.0, 0.6), Recalibration(-0.8, 0.9), Recalibration(0.6, 1.2)]
)
def test_a_model_that_is_off_is_found_out_by_its_promises(true: Recalibration) -> None:
    believed = recalibrate(drawn(1_500, true))
    for chance in (0.6, 0.8, 0.9, 0.97):
        assert stated(chance, believed) == pytest.approx(stated(chance, true), abs=0.03)


def test_a_few_promises_move_the_belief_a_little() -> None:
    bold = [Outcome(0.95, 1.0)] * 4
    few, many = recalibrate(bold), recalibrate(bold * 20)
    nothing = recalibrate([])
    assert stated(0.8, many) < stated(0.8, few) < stated(0.8, nothing)


def test_levels_hold_afterwards_on_promises_that_were_not_learned_from() -> None:
    true = Recalibration(-0.5, 0.7)
    believed = recalibrate(drawn(1_500, true, seed=5))
    rng = np.random.default_rng(9)
    for level in (0.8, 0.95):
        needed = simulated(level, believed)
        kept = np.mean([simulated(float(rng.random()), true) <= needed for _ in range(4_000)])
        assert kept == pytest.approx(level, abs=0.035)
