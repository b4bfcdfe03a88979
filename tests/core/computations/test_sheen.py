"""Gloss readings against the sheen asked: bands touch, verdicts follow the mean."""

from itertools import pairwise
from typing import get_args

import pytest
from coatledger.computations import sheen
from coatledger.computations.ranges import OutOfRange
from coatledger.events.bare import Sheen as AskedSheen
from hypothesis import given
from hypothesis import strategies as st


def test_every_sheen_that_can_be_asked_has_a_band_and_bands_touch() -> None:
    assert set(get_args(AskedSheen)) == set(sheen.BANDS_GU)
    bands = list(sheen.BANDS_GU.values())
    assert bands[0][0] == 0
    assert bands[-1][1] == 100
    assert all(lower[1] == upper[0] for lower, upper in pairwise(bands))


@given(gloss=st.floats(0, 100))
def test_a_gloss_falls_in_the_band_named_for_it(gloss: float) -> None:
    low, high = sheen.BANDS_GU[sheen.band_of(gloss)]
    assert low <= gloss <= high


@pytest.mark.parametrize(("gloss", "angle"), [(5, 85), (10, 60), (35, 60), (70, 60), (71, 20)])
def test_dull_and_bright_films_are_measured_at_their_own_angle(gloss: float, angle: int) -> None:
    """ISO 2813, from memory: 20° above 70 units at 60°, 85° below 10."""
    assert sheen.geometry_deg(gloss) == angle


def test_readings_are_judged_by_their_mean() -> None:
    satin = sheen.judge_sheen([34, 36, 35], "satin")
    assert (satin.verdict, satin.band, satin.mean_gu, satin.off_by_gu) == (
        "as_asked", "satin", 35, 0
    )  # fmt: skip
    duller = sheen.judge_sheen([20, 20, 20], "satin")
    assert (duller.verdict, duller.band, duller.off_by_gu) == ("duller", "matte", 5)
    shinier = sheen.judge_sheen([50, 50, 50], "satin")
    assert (shinier.verdict, shinier.off_by_gu) == ("shinier", 5)


def test_few_or_scattered_readings_ask_for_more() -> None:
    assert "at least 3 readings" in sheen.judge_sheen([35], "satin").notes[1]
    assert "Readings spread over 9 units" in sheen.judge_sheen([30, 34, 39], "satin").notes[1]
    assert len(sheen.judge_sheen([34, 35, 36], "satin").notes) == 1


def test_an_impossible_reading_or_sheen_is_refused() -> None:
    with pytest.raises(OutOfRange, match="ISO 2813"):
        sheen.judge_sheen([120], "gloss")
    with pytest.raises(ValueError, match="no sheen is called eggshell"):
        sheen.judge_sheen([35], "eggshell")
    with pytest.raises(ValueError, match="at least one reading"):
        sheen.judge_sheen([], "satin")


def test_a_reading_on_the_line_belongs_to_the_shinier_band_and_fails_neither() -> None:
    assert sheen.band_of(25) == "satin"
    assert sheen.judge_sheen([25] * 3, "satin").verdict == "as_asked"
    assert sheen.judge_sheen([25] * 3, "matte").verdict == "as_asked"
