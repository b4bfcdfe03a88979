"""Balanced films on wide panels."""

import pytest
from coatledger.computations.balance import balance
from coatledger.computations.practice import PRACTICE
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st


def test_a_wide_panel_with_a_bare_underside_is_unbalanced() -> None:
    found = balance(90, 0, 600)
    assert (found.verdict, found.thinner, found.share_pct) == ("unbalanced", "underside", 0)
    assert "Coat the underside" in found.advice


def test_a_narrow_one_is_let_be_and_says_whose_habit_that_is() -> None:
    found = balance(90, 0, 100)
    assert found.verdict == "narrow"
    assert PRACTICE in found.advice


def test_like_films_and_no_films_are_balanced() -> None:
    assert balance(90, 90, 600).thinner == "neither"
    assert balance(0, 0, 600).verdict == "balanced"
    assert balance(60, 100, 600).verdict == "balanced"
    assert balance(59, 100, 600).thinner == "show"


@given(one=st.floats(0, 500), other=st.floats(0, 500))
def test_turning_the_panel_over_changes_nothing_but_the_name(one: float, other: float) -> None:
    this, that = balance(one, other, 500), balance(other, one, 500)
    assert (this.share_pct, this.verdict) == (that.share_pct, that.verdict)


def test_an_impossible_film_is_refused() -> None:
    with pytest.raises(OutOfRange, match="show_um"):
        balance(-1, 10, 500)
