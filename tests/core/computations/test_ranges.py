"""A number outside its formula's range is refused with all that is needed to say so."""

import math
import pickle

import numpy as np
import pytest
from coatledger.computations.ranges import OutOfRange, require, require_all


def test_a_value_within_its_range_comes_back_edges_included() -> None:
    assert [require("t", value, 0.0, 1.0, "a test") for value in (0.0, 0.5, 1.0)] == [0.0, 0.5, 1.0]


@pytest.mark.parametrize("value", [-0.001, 1.001, math.nan, math.inf, -math.inf])
def test_a_value_outside_is_refused_with_its_range_and_source(value: float) -> None:
    with pytest.raises(OutOfRange, match=r"speed is .* the table holds from 0 to 1") as caught:
        require("speed", value, 0.0, 1.0, "the table")
    fault = caught.value
    assert (fault.quantity, fault.low, fault.high, fault.source) == ("speed", 0.0, 1.0, "the table")


def test_infinity_is_refused_even_where_the_range_has_no_end() -> None:
    with pytest.raises(OutOfRange):
        require("speed", math.inf, 0.0, math.inf, "the table")


def test_of_many_values_the_first_outside_is_named() -> None:
    with pytest.raises(OutOfRange) as caught:
        require_all("speed", np.array([[0.5, 0.2], [7.0, 9.0]]), 0.0, 1.0, "the table")
    assert caught.value.value == 7.0
    with pytest.raises(OutOfRange):
        require_all("speed", np.array([0.5, np.nan]), 0.0, 1.0, "the table")


def test_the_refusal_crosses_a_process_whole() -> None:
    fault = OutOfRange("speed", 2.0, 0.0, 1.0, "the table")
    copy = pickle.loads(pickle.dumps(fault))
    assert (str(copy), copy.value, copy.source) == (str(fault), 2.0, "the table")
