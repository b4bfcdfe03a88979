"""Scores of the clock's past word: hand-made checks whose penalties can be worked out."""

from uuid import UUID

import pytest
from coatledger.clocks.hindsight import Hindsight, hindsight
from coatledger.clocks.shop_learning import Observed
from coatledger.computations import learning
from coatledger.computations.scoring import brier
from coatledger.subjects.piece import Check

HOUR_US = 3_600_000_000
DAY_US = 24 * HOUR_US
COAT = UUID(int=1)


def observed(coat: str, day: int, reached: float, ready: bool, bare_wood: bool = False) -> Observed:
    """A coat of 8:00 on a day, checked so many hours later as its factor reached."""
    applied = day * DAY_US + 8 * HOUR_US
    at_us = applied + int(reached * HOUR_US)
    return Observed(
        check=learning.Check(coat, reached, ready), lot="can", piece=coat, coat=COAT,
        applied_us=applied, bare_wood=bare_wood,
        seen=Check(event=COAT, at_us=at_us, stage="sandable", ready=ready),
    )  # fmt: skip


def scored(*seen: Observed) -> Hindsight:
    found = hindsight(seen, "UTC")
    assert found is not None
    return found


def test_the_first_coat_is_foretold_by_the_prior_so_clock_and_sheet_are_alike() -> None:
    """At the factor 1 the prior gives a half: the Brier penalty is a quarter either way."""
    found = scored(observed("a", 1, 1.0, True))
    assert found.clock == found.sheet_alone
    assert found.clock.brier == pytest.approx(0.25, abs=1e-9)


def test_a_coat_of_the_same_day_tells_nothing_yet_and_one_of_the_day_before_does() -> None:
    slow = observed("a", 1, 1.6, False)
    same = scored(slow, observed("b", 1, 1.6, False))
    assert same.clock == same.sheet_alone
    later = scored(slow, observed("b", 2, 1.6, False))
    assert later.clock.brier < later.sheet_alone.brier
    belief = learning.learn(learning.prior(), *learning.intervals([slow.check]))
    second = brier(learning.chance_ready(belief, 1.6), False)
    first = brier(learning.chance_ready(learning.prior(), 1.6), False)
    assert later.clock.brier == pytest.approx((first + second) / 2)


def test_only_checks_near_together_say_where_a_coat_was() -> None:
    near = scored(observed("a", 1, 1.0, False), observed("a", 1, 1.2, True))
    assert near.bracketed == 1
    assert near.clock.ranges is not None
    assert near.clock.ranges.held == 1.0
    far = scored(observed("a", 1, 1.0, False), observed("a", 1, 2.0, True))
    assert (far.bracketed, far.clock.ranges) == (0, None)


def test_a_coat_on_bare_wood_is_foretold_less_surely() -> None:
    over_film = scored(observed("a", 1, 1.5, False)).clock
    bare = scored(observed("a", 1, 1.5, False, bare_wood=True)).clock
    assert bare.brier < over_film.brier
