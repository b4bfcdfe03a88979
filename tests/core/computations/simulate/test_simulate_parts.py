"""The parts of the engine, each against what it stands for: calendar, luck, order, places."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from coatledger.computations.calendar import add_working_minutes, next_open, next_pick_up
from coatledger.computations.simulate import compiled, heap, lots
from coatledger.computations.simulate.again import idle_s
from coatledger.computations.simulate.away import no_spells
from coatledger.computations.simulate.calendar import NEVER, lay, may_begin, work_at, work_end
from coatledger.computations.simulate.draws import SCRAP, Luck, draw_job, judged, lucks, mixed
from coatledger.computations.simulate.jobs import begin
from coatledger.computations.simulate.kernel import run_all
from coatledger.computations.simulate.numbers import fixed, moving
from coatledger.computations.simulate.state import CURING, RACK, State, place_code
from coatledger.computations.simulate.step import choose, step
from coatledger.computations.simulate.tables import Tables, curve, tables
from coatledger.computations.simulate.watch import DRYING, IN_HAND, Watch
from hypothesis import given
from hypothesis import strategies as st
from open_shops import open_shop
from scipy import stats
from shop_cases import TEN_SHOPS

OPEN = tuple(open_shop(shop) for shop in TEN_SHOPS)
CASES = st.integers(0, len(OPEN) - 1)
RUNS = 20_000


def drawn(number: int, share: float = 0.3, runs: int = RUNS) -> tuple[Tables, Luck]:
    table = tables(OPEN[number])
    return table, next(lucks(table, 1, share, runs, runs))


def jobs_of(table: Tables, luck: Luck, k: int) -> tuple[Any, Any, Any]:
    """Draw one operation in every replication."""
    runs = luck.shop.size
    batch = int(table.batch_first.searchsorted(k, side="right")) - 1
    words = luck.words.reshape(-1, runs)[batch]
    ks, zero = np.full(runs, k), np.zeros(runs, dtype=np.int64)
    return draw_job(table, luck, words, ks, zero, zero + table.left[k], np.arange(runs))


@given(CASES, st.integers(0, 20 * 1440), st.integers(1, 3_000))
def test_work_laid_out_ends_when_the_calendar_says(case: int, starts: int, minutes: int) -> None:
    shop = OPEN[case]
    laid = lay(shop, 200)
    start = laid.origin + timedelta(minutes=starts)
    done = int(work_end(laid, np.array([work_at(laid, starts * 60) + minutes * 60]))[0])
    expected = add_working_minutes(start, minutes, shop.hours, shop.closures)
    assert laid.origin + timedelta(seconds=done) == expected


@given(CASES, st.integers(0, 20 * 1440))
def test_a_person_begins_when_the_shop_is_open_and_they_are_there(case: int, at: int) -> None:
    shop = OPEN[case]
    laid = lay(shop, 200)
    for number, person in enumerate(shop.people):
        begins, work = may_begin(laid, number, np.array([at * 60]))
        moment = laid.origin + timedelta(minutes=at)
        away = (*shop.closures, *person.absences)
        assert laid.origin + timedelta(seconds=int(begins[0])) == next_open(
            moment, shop.hours, away
        )
        assert work[0] == work_at(laid, int(begins[0]))


def test_beyond_the_days_laid_out_nobody_begins_and_nothing_ends() -> None:
    laid = lay(OPEN[0], 10)
    late = np.array([11 * 86_400])
    assert may_begin(laid, 0, late)[0][0] == NEVER
    assert work_end(laid, late)[0] >= NEVER


@given(CASES, st.integers(0, 40 * 1440))
def test_what_is_ready_leaves_at_the_next_pick_up(case: int, ready: int) -> None:
    shop = OPEN[case]
    laid = lay(shop, 60)
    at = laid.pick_ups[laid.pick_ups.searchsorted(ready * 60)]
    assert laid.origin + timedelta(seconds=int(at)) == next_pick_up(
        laid.origin + timedelta(minutes=ready), shop.pick_up_weekdays, shop.cut_off,
        shop.hours.zone, shop.closures,
    )  # fmt: skip


def test_the_mixer_gives_the_published_sequence() -> None:
    # The first values of SplitMix64 from the state 1234567, as its author's program prints them;
    # from memory.
    state = np.full(5, 1234567, dtype=np.uint64)
    assert mixed(state, np.arange(1, 6)).tolist() == [
        6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431,
        16408922859458223821,
    ]  # fmt: skip


def test_a_wait_has_the_points_it_is_given_by() -> None:
    table, luck = drawn(6, 0.7)
    k = int(np.flatnonzero(table.waits)[0])
    _, waits, _ = jobs_of(table, luck, k)
    y50, low, high = table.y50[k], table.low[k], table.high[k]
    for level, y in ((0.1, y50 - 1.2815515655 * low), (0.5, y50), (0.9, y50 + 1.2815515655 * high)):
        share = (waits <= np.expm1(y) * 60.0).mean()
        assert share == pytest.approx(level, abs=4.0 * (level * (1 - level) / RUNS) ** 0.5)


def test_two_waits_share_what_the_shop_shares() -> None:
    table, luck = drawn(6, 0.7)
    first, second = np.flatnonzero(table.waits)[:2]
    one, two = (jobs_of(table, luck, int(k))[1] for k in (first, second))
    # Ranks of a pair of normals with correlation 0.7: 6/pi * asin(0.35) = 0.683 (Pearson 1907).
    assert stats.spearmanr(one, two).statistic == pytest.approx(0.683, abs=0.02)


def test_hands_on_time_is_lognormal_about_its_median() -> None:
    table, luck = drawn(0)
    k = int(np.flatnonzero(table.asks == 0)[0])
    hands, _, word = jobs_of(table, luck, k)
    spread = table.spreads[int(table.spread[k]) // 4_096]
    base = table.setup_s[k] + table.piece_s[k] * table.left[k]
    assert np.log(hands / base).mean() == pytest.approx(0.0, abs=4 * spread / RUNS**0.5)
    assert np.log(hands / base).std() == pytest.approx(spread, rel=0.03)
    assert np.unique(word).size == RUNS


def test_pieces_come_back_and_are_lost_as_often_as_their_chances_say() -> None:
    table, luck = drawn(6)
    k = int(np.flatnonzero(table.inspection >= 0)[0])
    _, _, word = jobs_of(table, luck, k)
    pieces = np.full(RUNS, 3)
    codes = judged(table, luck, word, np.full(RUNS, k), pieces)
    chances = (table.rework[k], table.scrap[k], 1 - table.rework[k] - table.scrap[k])
    for sent, scrapped in ((0, 0), (1, 0), (0, 1), (2, 0), (1, 1)):
        expected = stats.multinomial(3, chances).pmf((sent, scrapped, 3 - sent - scrapped))
        found = (codes == sent + SCRAP * scrapped).mean()
        assert found == pytest.approx(expected, abs=4.0 * (expected / RUNS) ** 0.5)


def test_batches_stand_in_the_order_in_which_they_are_served() -> None:
    table = tables(OPEN[8])
    keys = [(batch.due, batch.ordered_at, batch.id) for batch in table.batches]
    assert keys == sorted(keys)
    ends = np.append(table.batch_first[1:], table.asks.size) - 1
    assert (table.next_hands[ends] == -1).all()
    assert curve(OPEN[8].batches[0].joinery_lead)[0] == pytest.approx(np.log1p(4 * 1440.0))


def test_places_are_taken_by_what_dries_and_given_back() -> None:
    shop = OPEN[5]
    table, luck = drawn(5, runs=20)
    state = State(shop, table, lay(shop, 200), luck)
    watch = Watch(table, frozenset(batch.order for batch in table.batches), 20)
    begin(state, watch, tuple(p.id for p in shop.people), tuple(g.id for g in shop.guns))
    while step(state, watch):
        assert (state.free[[RACK, CURING]] >= 0).all()
    state.expire(np.full(20, NEVER - 1))
    assert (state.free[RACK] == shop.rack_places).all()
    assert (state.free[CURING] == shop.curing_places).all()
    assert (state.finish >= 0).all()
    assert (choose(state, np.full(20, NEVER - 1)) == len(table.batches)).all()
    assert watch.spent[IN_HAND].sum() > 0 < watch.spent[DRYING].sum()


def test_a_place_code_holds_a_kind_and_a_number() -> None:
    codes = place_code(np.array([0, RACK, CURING]), np.array([3, 4, 5]))
    assert [divmod(int(code), 65_536) for code in codes] == [(0, 0), (1, 4), (2, 5)]


def test_what_nobody_does_twice_in_a_row_takes_both_times() -> None:
    steps = TEN_SHOPS[0].batches[0].operations
    night = replace(steps[0], needs="nobody", setup_min=60.0, piece_min=0.0, spread=0.0)
    shop = open_shop(
        replace(
            TEN_SHOPS[0],
            batches=(
                replace(
                    TEN_SHOPS[0].batches[1], position=0, left=(), ready_is_wait=False,
                    place_held="", operations=(night, night, steps[0], night),
                ),
            ),
        )
    )  # fmt: skip
    table = tables(shop)
    luck = next(lucks(table, 1, 0.0, 3, 3))
    state = State(shop, table, lay(shop, 60), luck)
    r, zero = np.arange(3), np.zeros(3, dtype=np.int64)
    assert idle_s(state, r, zero, zero).tolist() == [7_200] * 3
    assert idle_s(state, r, zero, zero + 3).tolist() == [3_600] * 3


@pytest.mark.skipif(not compiled.COMPILES, reason="numba is not installed")
def test_compiled_parts_draw_what_the_arrays_draw() -> None:
    table, luck = drawn(6, runs=50)
    shop = OPEN[6]
    watch = Watch(table, frozenset(), 50)
    numbers = fixed(shop, table, lay(shop, 100), luck, watch, no_spells(len(shop.people), 50))
    words = numbers.words[0]
    for times in (0, 3):
        one = [int(lots.mix(word, times << 16)) for word in words]
        assert one == mixed(words, times << 16).tolist()


@pytest.mark.skipif(not compiled.COMPILES, reason="numba is not installed")
def test_the_kernel_ends_every_batch() -> None:
    table, luck = drawn(2, runs=30)
    shop, watch = OPEN[2], Watch(table, frozenset(), 30)
    finish = np.full((len(table.batches), 30), -1, dtype=np.int64)
    numbers = fixed(shop, table, lay(shop, 300), luck, watch, no_spells(len(shop.people), 30))
    run_all(numbers, moving(shop, table), finish, watch.spent)
    assert (finish >= 0).all()
    assert (finish < NEVER).all()


@pytest.mark.skipif(not compiled.COMPILES, reason="records are read by name")
def test_the_soonest_comes_off_the_heap_first() -> None:
    shop = OPEN[0]
    table, luck = drawn(0, runs=1)
    state = moving(shop, table)
    watch = Watch(table, frozenset(), 1)
    numbers = fixed(shop, table, lay(shop, 100), luck, watch, no_spells(len(shop.people), 1))
    push, expire = heap.push, heap.expire
    for number, time in enumerate((50, 20, 70, 20, 10, 90)):
        push(state, time, number, 0, 0)
    for now, left in ((5, 6), (10, 5), (20, 3), (69, 2), (90, 0)):
        expire(numbers, state, now)
        assert state.size[0] == left
    ready = int(np.bitwise_or.reduce(state.bits[:, 0]))
    assert ready == 0b111111
