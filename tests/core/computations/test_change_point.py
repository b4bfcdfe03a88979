"""Dating a change: found where it was put, and its range holds it as often as it says."""

import math

import numpy as np
import pytest
from coatledger.computations.change_point import change_in_share
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st


def test_a_plain_change_is_dated_to_its_week() -> None:
    found = change_in_share([1, 0, 1, 1, 0, 1, 6, 5, 7, 6], [12] * 10)
    assert (found.first_after, found.earliest, found.latest) == (6, 6, 6)
    assert found.share_before == pytest.approx(4 / 72)
    assert found.share_after == pytest.approx(24 / 48)
    assert found.favours_change > 1_000


def test_a_steady_share_favours_no_change() -> None:
    found = change_in_share([1, 2, 1, 2, 1, 2, 1, 2], [20] * 8)
    assert found.favours_change < 1.0
    assert found.latest - found.earliest >= 5


def test_two_groups_are_weighed_by_their_beta_functions() -> None:
    """By hand for 0 of 1 and 1 of 1: B(1/2, 3/2)^2 / (B(3/2, 3/2) B(1/2, 1/2)) = 2."""

    def beta(a: float, b: float) -> float:
        return math.gamma(a) * math.gamma(b) / math.gamma(a + b)

    by_hand = beta(0.5, 1.5) * beta(1.5, 0.5) / (beta(1.5, 1.5) * beta(0.5, 0.5))
    assert by_hand == pytest.approx(2.0)
    assert change_in_share([0, 1], [1, 1]).favours_change == pytest.approx(by_hand)


def test_the_range_holds_the_true_date_at_least_as_often_as_it_says() -> None:
    """600 seeded series; at 90 % three standard errors are 3.7 points. Drawn with every date
    equally likely and shares from Jeffreys' prior, as the method supposes."""
    rng = np.random.default_rng(11)
    held = 0
    for _ in range(600):
        true = int(rng.integers(1, 20))
        shares = np.repeat(rng.beta(0.5, 0.5, 2), [true, 20 - true])
        found = change_in_share(rng.binomial(15, shares).tolist(), [15] * 20, 0.9)
        held += found.earliest <= true <= found.latest
    assert held / 600 >= 0.9 - 0.037


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(9, 30)), min_size=2, max_size=30))
def test_a_date_lies_in_its_range_and_good_and_bad_may_change_names(
    groups: list[tuple[int, int]],
) -> None:
    bad, sizes = [x for x, _ in groups], [n for _, n in groups]
    found = change_in_share(bad, sizes)
    assert 1 <= found.earliest <= found.first_after <= found.latest <= len(groups) - 1
    mirrored = change_in_share([n - x for x, n in groups], sizes)
    assert mirrored.favours_change == pytest.approx(found.favours_change)


def test_overwhelming_evidence_is_told_as_infinite() -> None:
    found = change_in_share([0] * 5 + [1_000] * 5, [1_000] * 10)
    assert found.favours_change == math.inf
    assert found.first_after == 5


@pytest.mark.parametrize(
    ("bad", "sizes", "named"),
    [([1], [2], "groups"), ([1, 2], [2], "groups"), ([1], [2, 2], "counts"),
     ([3, 0], [2, 2], "defective"), ([0, 0], [0, 2], "inspected")],
)  # fmt: skip
def test_series_that_hold_no_change_are_refused(
    bad: list[int], sizes: list[int], named: str
) -> None:
    with pytest.raises(OutOfRange, match=named):
        change_in_share(bad, sizes)
