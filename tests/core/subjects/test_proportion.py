"""A share stands with both intervals, and few are called few."""

from coatledger.computations.intervals import exact, wilson
from coatledger.subjects.proportion import FEW, proportion


def test_a_share_has_both_intervals_and_nothing_has_none() -> None:
    share = proportion(3, 40)
    assert (share.low, share.high) == (wilson(3, 40).low, wilson(3, 40).high)
    assert (share.exact_low, share.exact_high) == (exact(3, 40).low, exact(3, 40).high)
    assert proportion(0, 0).value is None


def test_few_are_called_few() -> None:
    assert proportion(1, FEW - 1).few
    assert not proportion(1, FEW).few
