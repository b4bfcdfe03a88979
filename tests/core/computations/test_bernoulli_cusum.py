"""The piece by piece CUSUM: its run length exactly, against cases by hand and against chance."""

import numpy as np
import pytest
from coatledger.computations.bernoulli_cusum import chart, design, run_length, step_for
from coatledger.computations.ranges import OutOfRange


def test_with_the_least_bound_the_first_bad_piece_signals() -> None:
    """Then the pieces to it are geometric, and 1 / chance on average."""
    for chance in (0.01, 0.25, 0.9):
        assert run_length(chance, 5, 1) == pytest.approx(1 / chance, rel=1e-12)


def test_two_bad_pieces_close_together_by_hand() -> None:
    """Step 2, bound 2: a bad piece leads to 1, another to the signal, a good one back to 0.

    E0 = 1 + p E1 + q E0 and E1 = 1 + q E0 give E0 = (1 + p) / p^2.
    """
    for p in (0.1, 0.5, 0.8):
        assert run_length(p, 2, 2) == pytest.approx((1 + p) / p**2, rel=1e-12)


def test_the_run_length_is_what_chance_gives() -> None:
    rng = np.random.default_rng(7)
    plan = design(0.06, 2.0, 600.0)
    for chance, runs in ((0.06, 250), (0.12, 1000)):
        lengths = [
            chart(
                (rng.random(8_000 if chance < 0.1 else 2_000) < chance).tolist(),
                plan.step,
                plan.bound,
            ).signals[0]
            + 1
            for _ in range(runs)
        ]
        wanted = run_length(chance, plan.step, plan.bound)
        error = 3.5 * float(np.std(lengths)) / runs**0.5
        assert float(np.mean(lengths)) == pytest.approx(wanted, abs=error)


def test_a_design_keeps_its_false_alarms_apart_and_no_smaller_bound_does() -> None:
    for usual, apart in ((0.02, 2_000.0), (0.1, 500.0)):
        plan = design(usual, 2.0, apart)
        assert plan.pieces_to_false_alarm >= apart
        assert run_length(usual, plan.step, plan.bound - 1) < apart
        assert plan.pieces_to_signal < plan.pieces_to_false_alarm / 3


def test_the_weight_of_a_bad_piece_is_the_likelihoods() -> None:
    """By hand for 0.05 doubled: r1 = ln(0.95/0.90), r2 = ln(0.1 x 0.95 / (0.05 x 0.9))."""
    assert step_for(0.05, 2.0) == round(0.747214 / 0.0540672)


def test_the_sum_goes_as_it_says_and_begins_anew_after_a_signal() -> None:
    passed = chart([False, True, False, True, True], 3, 4)
    assert passed.sums == (0, 2, 1, 3, 5)
    assert passed.signals == (4,)
    again = chart([True, True, True, True], 3, 4)
    assert again.signals == (1, 3)


@pytest.mark.parametrize(("usual", "times"), [(0.0, 2.0), (0.6, 2.0), (0.3, 4.0), (0.1, 1.0)])
def test_chances_that_cannot_be_are_refused(usual: float, times: float) -> None:
    with pytest.raises(OutOfRange):
        design(usual, times, 100.0)
