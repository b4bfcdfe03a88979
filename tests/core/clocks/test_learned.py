"""Checks by hand: what they say of one coat, and of a product over a shop's recent coats."""

import math

import pytest
from bench import Bench, on_day
from coatledger.clocks.learned import Seen, conditioned, intervals_of
from coatledger.clocks.shop_learning import learned, recent_lots
from coatledger.computations.drying import Spread, spread
from coatledger.events.coating import DrynessChecked
from coatledger.ledger.record import micros
from hypothesis import given
from hypothesis import strategies as st


def test_no_check_leaves_the_belief_alone() -> None:
    assert conditioned(spread(), *intervals_of(())) == spread()


def test_checks_that_contradict_each_other_say_nothing() -> None:
    assert intervals_of((Seen(1.0, ready=True), Seen(1.2, ready=False))) == (0.0, math.inf)


@given(low=st.floats(0.05, 3.0), width=st.floats(1.01, 5.0))
def test_a_conditioned_factor_lies_where_the_checks_say_in_order(low: float, width: float) -> None:
    told = conditioned(spread(), low, low * width)
    assert low <= told.p10 <= told.p50 <= told.p90 <= low * width


def test_an_interval_the_belief_rules_out_is_answered_by_its_nearest_end() -> None:
    assert conditioned(Spread(0.9, 1.0, 1.1), 50.0, math.inf) == Spread(50.0, 50.0, 50.0)
    assert conditioned(Spread(0.9, 1.0, 1.1), 0.0, 0.01) == Spread(0.01, 0.01, 0.01)


def test_a_one_sided_check_is_the_truncated_lognormal() -> None:
    # Knowing only that the factor is above its median, the new median is the old 75 % point.
    told = conditioned(spread(1.0, 0.3), 1.0, math.inf)
    assert told.p50 == pytest.approx(math.exp(0.3 * 0.6744897501960817))


def slow_shop() -> Bench:
    """A shop whose coats are sandable only after 4.5 h, where the sheet says 3."""
    bench = Bench().open_shop().at("1 07:30")
    words = tuple(f"T-{i}" for i in range(1, 9))
    bench.pieces(*words)
    bench.climate(21.0, 50.0, at="1 07:45")
    bench.at("1 08:00").coat(*words)
    bench.at("1 12:12").record(DrynessChecked, pieces=words[:4], stage="sandable", ready=False)
    bench.at("1 12:48").record(DrynessChecked, pieces=words, stage="sandable", ready=True)
    return bench


def test_a_shop_without_checks_stands_on_the_sheet() -> None:
    bench = Bench().open_shop()
    found = learned(bench.view(), "clear-w", bench.now_us)
    assert (found.checks, found.prior, found.posterior) == (0, spread(), spread())


def test_checks_move_a_product_towards_what_they_saw_and_sharpen_it() -> None:
    bench = slow_shop()
    found = learned(bench.view("1 13:00"), "clear-w", micros(on_day("1 13:00")))
    assert (found.checks, found.coats) == (12, 8)
    assert 1.3 < found.posterior.p50 < 1.6
    before = found.prior.p90 / found.prior.p10
    assert found.posterior.p90 / found.posterior.p10 < before


def test_checks_of_another_product_do_not_count() -> None:
    bench = slow_shop()
    bench.clear("other")
    assert learned(bench.view(), "other", bench.now_us).checks == 0


def test_recent_lots_are_a_bounded_number() -> None:
    bench = Bench().open_shop()
    for i in range(20):
        bench.can(f"more-{i}", "clear-w")
    assert recent_lots(bench.view(), "clear-w") == tuple(f"more-{i}" for i in range(12, 20))


def test_a_new_can_that_dries_otherwise_is_noticed() -> None:
    bench = slow_shop()
    bench.at("2 07:30").can("can-2", "clear-w")
    words = tuple(f"U-{i}" for i in range(8))
    bench.pieces(*words)
    bench.climate(21.0, 50.0)
    bench.at("2 08:00").coat(*words, lot="can-2")
    bench.at("2 10:00").record(DrynessChecked, pieces=words, stage="sandable", ready=True)
    found = learned(bench.view(), "clear-w", bench.now_us)
    assert found.newest_lot == "can-2"
    assert found.drift is not None
    assert found.drift.notice
    assert found.drift.slower_p50 < 1.0


def test_a_coat_from_a_can_long_past_is_learned_from_without_being_the_newest() -> None:
    bench = slow_shop()
    for i in range(8):  # the first can is no longer among the last eight
        bench.at("2 07:30").can(f"more-{i}", "clear-w")
    bench.at("2 08:00").coat("T-1", lot="more-3")
    found = learned(bench.view(), "clear-w", bench.now_us)
    assert (found.newest_lot, found.checks, found.drift) == ("can-1", 2, None)
    bench.at("2 10:00").record(DrynessChecked, pieces=("T-1",), stage="sandable", ready=False)
    assert learned(bench.view(), "clear-w", bench.now_us).newest_lot == "more-3"
