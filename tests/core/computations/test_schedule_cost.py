"""A schedule's hours, litres and days, by hand and as properties."""

import pytest
from coatledger.computations.film import litres_needed
from coatledger.computations.practice import USUAL_DAYS
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.schedule import Ask, Proposal, ProposedStep, Sheet, propose
from coatledger.computations.schedule_cost import MIN_PER_M2, Cost, compare, cost
from hypothesis import given
from hypothesis import strategies as st


def plan(*steps: ProposedStep) -> Proposal:
    return Proposal(steps, 1, ("all",), ())


COAT = ProposedStep("coat", "why", role="build", wet_film_um=100, wait_h=3)


def test_two_coats_are_counted_by_hand() -> None:
    """2 m²: (3 min x 2 + 15) twice; 2 m² x 100 µm = 0.2 L, over 50 %: 0.4 L a coat."""
    found = cost(plan(COAT, COAT), 2, 50)
    assert found.hands_on_h == pytest.approx(42 / 60)
    assert found.litres == pytest.approx(0.8)
    assert found.elapsed_h == pytest.approx(3 + 42 / 60)
    assert found.days == 1


def test_the_litres_are_those_of_the_film() -> None:
    """The same litres by the spreading rate: a 100 µm wet film at 40 % is 40 µm dry."""
    found = cost(plan(COAT), 3, 65)
    assert found.litres == pytest.approx(litres_needed(3, 40, 40, 65))


def test_a_step_that_does_not_fit_before_closing_waits_for_the_morning() -> None:
    """Coats of 21 min at 3 h intervals in a nine-hour day: the fourth would end at 10.4 h."""
    four = cost(plan(COAT, COAT, COAT, COAT), 2, 50, day_h=9)
    assert four.days == 2
    assert four.elapsed_h == pytest.approx(24 + 21 / 60)
    long_day = cost(plan(COAT, COAT, COAT, COAT), 2, 50, day_h=11)
    assert long_day.days == 1


def test_three_coats_fit_one_long_day_and_two_days_are_the_rhythm() -> None:
    """Common practice, no published source: decor is sprayed on day one, packed on day two."""
    decor = propose(Ask(species="ash", use="decor", sheet=Sheet(recoat_h=3, wrap_h=12)))
    assert cost(decor, 1.0, 65, day_h=10).days == USUAL_DAYS
    last_coat = max(n for n, step in enumerate(decor.steps) if step.act == "coat")
    until_coated = Proposal(decor.steps[: last_coat + 1], 3, ("all",), ())
    assert cost(until_coated, 1.0, 65, day_h=10).days == 1


def test_a_filled_table_costs_more_than_a_natural_one() -> None:
    natural = propose(Ask(species="white oak", use="table"))
    filled = propose(Ask(species="white oak", use="table", look="filled"))
    found = compare(cost(natural, 4, 65), cost(filled, 4, 65))
    assert found.hands_on_h > 0
    assert found.litres > 0
    assert found.days >= 1
    assert found.words.startswith("The second takes")
    assert "more litres" in found.words
    back = compare(found.second, found.first)
    assert (back.hands_on_h, back.litres, back.days) == (
        -found.hands_on_h, -found.litres, -found.days
    )  # fmt: skip
    same = compare(Cost(1, 1, 1, 1), Cost(1, 1, 1, 1))
    assert same.words.count("the same") == 3


@given(area=st.floats(0.1, 4), more=st.floats(0.01, 4))
def test_a_larger_batch_never_takes_less(area: float, more: float) -> None:
    table = propose(Ask(species="walnut", use="table"))
    small, large = cost(table, area, 65), cost(table, area + more, 65)
    assert large.hands_on_h > small.hands_on_h
    assert large.litres > small.litres
    assert large.days >= small.days


def test_a_batch_too_large_for_a_day_is_refused_and_so_is_an_unknown_act() -> None:
    with pytest.raises(OutOfRange, match="make the batch smaller"):
        cost(propose(Ask(species="ash", use="decor")), 500, 65)
    with pytest.raises(ValueError, match="no minutes are known for carve"):
        cost(plan(ProposedStep("carve", "why")), 1, 65)
    with pytest.raises(OutOfRange, match="minutes of coat"):
        cost(plan(COAT), 1, 65, min_per_m2={**MIN_PER_M2, "coat": -1})


def test_work_by_hand_takes_half_as_long_again() -> None:
    """Common practice, no published source."""
    machine = cost(plan(ProposedStep("scuff", "why")), 2, 65).hands_on_h
    hand = cost(plan(ProposedStep("scuff", "why", by_hand=True)), 2, 65).hands_on_h
    assert hand == pytest.approx(1.5 * machine)
