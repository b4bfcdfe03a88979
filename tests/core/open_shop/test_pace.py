"""What an act takes: a part for the act, a part for what is done in it, and changing a gun over."""

import math

import pytest
from bench import Bench
from coatledger.events.finish import LotReceived
from coatledger.events.room_gun import GunSetUp
from coatledger.open_shop.pace import (
    ACTS_WEIGHT,
    CHANGEOVER_MIN,
    SPREAD_PRIOR,
    UNKNOWN_PACE,
    changeover_min,
    pace,
    recent_work,
)
from coatledger.open_shop.recent import recent
from coatledger.subjects.asked import ask
from hypothesis import given
from hypothesis import strategies as st

SIZES = (5.0, 10.0, 20.0, 40.0, 80.0)


def test_nothing_seen_is_common_practice() -> None:
    assert pace([]) == UNKNOWN_PACE


def test_a_shop_that_sets_out_for_twelve_minutes_is_known_by_its_small_and_large_acts() -> None:
    found = pace([(minutes, 12.0 + 1.3 * minutes) for minutes in SIZES * 16])
    assert found.setup_min == pytest.approx(12.0, rel=0.15)
    assert found.factor == pytest.approx(1.3, rel=0.1)
    assert found.spread < 0.15


def test_a_shop_that_sets_out_for_nothing_has_no_such_part() -> None:
    found = pace([(minutes, 0.8 * minutes) for minutes in SIZES * 16])
    assert found.setup_min < 1.0
    assert found.factor == pytest.approx(0.8, rel=0.05)


def test_one_act_alone_moves_the_belief_by_its_weight() -> None:
    found = pace([(20.0, 60.0)])
    expected = (1.0 * ACTS_WEIGHT + 3.0) / (ACTS_WEIGHT + 1.0)
    assert 1.0 < found.factor * 20.0 + found.setup_min < 20.0 * expected * 1.2
    assert found.spread >= SPREAD_PRIOR * 0.9


@given(st.lists(st.tuples(st.floats(1.0, 500.0), st.floats(0.5, 2_000.0)), min_size=1, max_size=60))
def test_no_history_makes_a_part_less_than_nothing(seen: list[tuple[float, float]]) -> None:
    found = pace(seen)
    assert found.factor > 0.0
    assert found.setup_min >= 0.0
    assert math.isfinite(found.factor + found.setup_min + found.spread)
    assert found.spread > 0.0


def test_the_time_to_change_a_gun_over_is_the_middle_of_those_told() -> None:
    bench = Bench("1 06:00").open_shop()
    bench.record(LotReceived, lot="satin-1", product="satin", amount_l=2.0)
    told = []
    for minutes in (None, 21.0, 22.0, 23.0, 24.0, 25.0):
        bench.later(0.5)
        bench.record(GunSetUp, gun="g1", lot="satin-1", hands_on_min=minutes)
        with bench.store.reading() as reader:
            rows = recent(reader, ask(reader, bench.now))
        told.append(changeover_min(recent_work(rows, bench.now_us)))
    assert told[0] == CHANGEOVER_MIN
    assert told[-1] == 22.0  # the middle of five, with the usual twice below them
    assert told == sorted(told)
