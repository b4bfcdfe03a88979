"""The engine against an independent model of the same words, queues with printed values, and days
worked out by hand."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from coatledger.computations.calendar import NeverOpen
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.simulate.compiled import COMPILES
from coatledger.computations.simulate.forward import quantile_day, simulate
from coatledger.computations.simulate.shop import Impossible, Likely
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace as changed
from open_shops import agree, open_shop
from queue_cases import (
    UNIT_MIN,
    machines,
    poisson_min,
    rows,
    served_in_turn,
    waits_in_turn,
)
from shop_cases import TEN_SHOPS
from shop_spec import (
    NOBODY,
    PERSON,
    RACK,
    SPRAY,
    Batch,
    Gun,
    InHand,
    Opening,
    Operation,
    Person,
    Range,
    Shop,
    Stretch,
)
from simpy_shop import simulate as reference

MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
SHOP = Shop(
    zone="UTC",
    now=MONDAY,
    openings=tuple(Opening(day, time(8), time(16)) for day in range(1, 6)),
    people=(Person("ann"),),
    batches=(),
    pick_up_weekdays=(2, 4),
    cut_off=time(12),
    guns=(Gun("g1", "clear"),),
    changeover_min=15.0,
)
SAND = Operation("sand", PERSON, 10.0, 5.0)
COAT = Operation("coat", SPRAY, 10.0, 5.0, product="clear", wait=Range(180, 180, 180), place=RACK)
PACK = Operation("pack", PERSON, 20.0, 0.0)


def batch(name: str, *operations: Operation, pieces: int = 2, due: int = 20) -> Batch:
    return Batch(
        name, name, pieces, MONDAY - timedelta(days=1), date(2026, 3, due), tuple(operations)
    )


def ready(shop: Shop) -> dict[str, int]:
    """Return the whole minutes after which each order is ready, where nothing is left to chance."""
    found = simulate(open_shop(shop), 1, 1)
    return {order: int(found.ready_min[n, 0]) for n, order in enumerate(found.orders)}


def shipped(shop: Shop) -> list[date]:
    found = simulate(open_shop(shop), 1, 1)
    return [date.fromordinal(int(day)) for day in found.ships_on[:, 0]]


@pytest.mark.parametrize("number", range(len(TEN_SHOPS)))
def test_the_engine_agrees_with_the_independent_model(number: int) -> None:
    shop = TEN_SHOPS[number]
    agree(reference(shop, 7, 300), simulate(open_shop(shop), 1, 3_000))


@pytest.mark.skipif(not COMPILES, reason="numba is not installed")
@pytest.mark.parametrize("number", range(len(TEN_SHOPS)))
def test_what_is_compiled_gives_the_same_numbers(number: int) -> None:
    shop = open_shop(TEN_SHOPS[number])
    watched = (shop.batches[0].order, shop.batches[-1].order)
    one, other = (simulate(shop, 3, 60, watched, compiled=how) for how in (True, False))
    assert np.array_equal(one.ready_min, other.ready_min)
    assert np.array_equal(one.ships_on, other.ships_on)
    assert one.spent == other.spent


def test_waits_that_have_run_for_a_while_end_sooner_and_what_is_over_is_ready() -> None:
    shop = open_shop(replace(SHOP, batches=(batch("b", PACK),)))
    (waits,) = shop.batches
    for passed, done in ((0.0, 120), (40.0, 80), (500.0, 20)):
        half = changed(waits, ready_in=Likely(100, 100, 100), passed_min=passed)
        found = simulate(changed(shop, batches=(half,)), 1, 1)
        assert found.ready_min[0, 0] == done


@pytest.mark.parametrize("service", ["exponential", "constant"])
def test_a_queue_of_one_person_waits_as_the_recursion_says(service: str) -> None:
    rng = np.random.default_rng(5)
    arrivals = poisson_min(rng, 0.8, 1_500)
    needs = rng.exponential(UNIT_MIN, 1_500) if service == "exponential" else arrivals * 0 + 60.0
    found = ready(served_in_turn(arrivals, needs))
    expected = arrivals + waits_in_turn(arrivals, needs) + needs
    # Each duration is rounded to a whole second once, and the end to a whole minute.
    assert max(abs(found[f"c{n:07d}"] - at) for n, at in enumerate(expected)) < 1_500 / 60.0


@pytest.mark.parametrize("row", rows("queues.csv", "machine repair M/M/1//K"),
                         ids=lambda row: f"{row['lam']} {row['K']}")  # fmt: skip
def test_one_repairer_keeps_as_many_machines_running_as_printed(row: dict[str, str]) -> None:
    rng = np.random.default_rng(11)
    count, cycles = int(row["K"]), 3_000
    runs = rng.exponential(UNIT_MIN / float(row["lam"]), (count, cycles))
    repairs = rng.exponential(UNIT_MIN / float(row["mu"]), (count, cycles))
    # All machines are repaired equally often; the last of them ends when nearly all have.
    ends = ready(machines(runs, repairs))
    done = count * cycles * min(ends.values()) / max(ends.values())
    assert done / (min(ends.values()) / UNIT_MIN) == pytest.approx(float(row["extra"]), rel=0.05)


def test_a_batch_is_sanded_coated_dried_and_packed() -> None:
    # Sand 20, coat 20, dry 180, pack 20 minutes.
    assert ready(replace(SHOP, batches=(batch("b", SAND, COAT, PACK),))) == {"b": 240}


def test_a_job_stops_at_closing_and_goes_on_after_the_weekend() -> None:
    friday = replace(SHOP, now=MONDAY + timedelta(days=4, hours=7, minutes=50))
    done = ready(replace(friday, batches=(batch("b", SAND),)))["b"]
    assert friday.now + timedelta(minutes=done) == datetime(2026, 3, 9, 8, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "saturday", "opens", "hours"),
    [
        ("Europe/Dublin", "2026-03-28T20:00", time(0), 5.0),  # the clock springs forward
        ("Europe/Dublin", "2026-10-24T20:00", time(0), 5.0),  # and falls back
        ("Europe/Dublin", "2026-03-28T20:00", time(4), 8.0),
        ("Europe/Dublin", "2026-10-24T20:00", time(4), 10.0),
    ],
)
def test_work_over_a_clock_change_is_elapsed_time(
    zone: str, saturday: str, opens: time, hours: float
) -> None:
    now = datetime.fromisoformat(saturday).replace(tzinfo=ZoneInfo(zone))
    always = tuple(Opening(day, opens, time(0)) for day in range(7, 8))
    shop = replace(SHOP, zone=zone, now=now, openings=always)
    done = ready(replace(shop, batches=(batch("b", Operation("sand", PERSON, 60.0, 0.0)),)))["b"]
    assert done == hours * 60.0


def test_leap_day_month_end_and_a_holiday_on_the_pick_up_day() -> None:
    now = datetime(2028, 2, 28, 8, tzinfo=UTC)
    plain = replace(SHOP, now=now, batches=(batch("b", SAND),))
    assert shipped(plain) == [date(2028, 2, 29)]
    off = Stretch(datetime(2028, 2, 29, tzinfo=UTC), datetime(2028, 3, 1, tzinfo=UTC))
    assert shipped(replace(plain, closures=(off,))) == [date(2028, 3, 2)]


def test_a_shop_closed_for_two_weeks_ships_after_them() -> None:
    off = Stretch(MONDAY, MONDAY + timedelta(days=14))
    shop = replace(SHOP, closures=(off,), batches=(batch("b", SAND),))
    assert shipped(shop) == [date(2026, 3, 17)]


def test_ready_at_the_cut_off_is_in_time_and_a_minute_later_is_not() -> None:
    tuesday = replace(SHOP, now=MONDAY + timedelta(days=1, hours=3))
    for minutes, day in ((60.0, 3), (61.0, 5)):
        steps = (Operation("sand", PERSON, minutes, 0.0),)
        assert shipped(replace(tuesday, batches=(batch("b", *steps),))) == [date(2026, 3, day)]


def test_the_earlier_due_date_goes_first_then_what_the_gun_holds_then_the_smaller_id() -> None:
    satin = replace(COAT, product="satin", wait=None, place="")
    clear = replace(COAT, wait=None, place="")
    shop = replace(SHOP, batches=(batch("a", satin), batch("b", clear), batch("c", clear)))
    assert ready(shop) == {"b": 20, "c": 40, "a": 75}
    sooner = replace(shop, batches=(batch("a", satin, due=19), *shop.batches[1:]))
    assert ready(sooner) == {"a": 35, "b": 70, "c": 90}


def test_nobody_begins_while_away_and_what_was_begun_is_finished() -> None:
    away = Stretch(MONDAY + timedelta(minutes=5), MONDAY + timedelta(hours=2))
    shop = replace(SHOP, people=(Person("ann", (away,)),))
    assert ready(replace(shop, batches=(batch("a", SAND), batch("b", SAND)))) == {"a": 20, "b": 140}


def test_a_full_rack_lets_what_needs_no_place_go_first() -> None:
    shop = replace(SHOP, rack_places=2)
    found = ready(replace(shop, batches=(batch("a", COAT), batch("b", COAT), batch("c", SAND))))
    assert found == {"a": 200, "c": 40, "b": 400}


def test_a_job_in_hand_keeps_its_person_gun_and_places() -> None:
    held = replace(batch("a", COAT), in_hand=InHand("ann", 30.0, gun="g1"))
    shop = replace(SHOP, rack_places=2, batches=(held, batch("b", COAT), batch("c", SAND)))
    assert ready(shop) == {"a": 210, "c": 50, "b": 410}


def test_what_nobody_does_runs_through_the_night_before_between_and_after() -> None:
    night = Operation("off the bench", NOBODY, 1_440.0, 0.0)
    shop = replace(SHOP, batches=(batch("b", night, SAND, night, night, PACK, night),))
    # Ready on Tuesday at 8:00, sanded by 8:20, packed on Thursday from 8:20 to 8:40, and a day.
    assert ready(shop) == {"b": 1440 + 20 + 2880 + 20 + 1440}


def test_what_surely_comes_back_is_done_again_as_often_as_it_may() -> None:
    look = Operation("look", PERSON, 10.0, 0.0, rework_chance=1.0, back=1, rounds=2)
    assert ready(replace(SHOP, batches=(batch("b", SAND, look, PACK),))) == {"b": 3 * 30 + 20}
    used = replace(batch("b", SAND, look, PACK), rounds_done=(0, 2, 0))
    assert ready(replace(SHOP, batches=(used,))) == {"b": 50}


def test_scrap_begins_again_after_the_joiners_lead() -> None:
    look = Operation("look", PERSON, 10.0, 0.0, scrap_chance=1.0, back=0, rounds=1)
    shop = replace(SHOP, joinery_lead=Range(60, 60, 60), batches=(batch("b", SAND, look),))
    assert ready(shop) == {"b": 30 + 60 + 30}


def test_the_same_seed_gives_the_same_minutes_however_many_run_beside_it() -> None:
    shop = open_shop(TEN_SHOPS[0])
    few, many, other = simulate(shop, 1, 20), simulate(shop, 1, 50), simulate(shop, 2, 20)
    assert np.array_equal(few.ready_min, many.ready_min[:, :20])
    assert not np.array_equal(few.ready_min, other.ready_min)


def test_a_later_order_leaves_the_luck_of_the_others_alone() -> None:
    shop = open_shop(replace(SHOP, batches=(batch("a", replace(SAND, spread=0.5)),)))
    extra = open_shop(replace(SHOP, batches=(batch("b", replace(SAND, spread=0.5), due=25),)))
    both = changed(shop, batches=(*shop.batches, *extra.batches))
    alone, beside = simulate(shop, 3, 40), simulate(both, 3, 40)
    assert np.array_equal(alone.ready_min[0], beside.ready_min[beside.row("a")])


def test_what_takes_the_time_adds_up_to_the_time_it_takes() -> None:
    shop = open_shop(TEN_SHOPS[6])
    order = shop.batches[-1].order
    found = simulate(shop, 4, 400, (order,))
    (_, spent), mean = found.spent[0], found.ready_min[found.row(order)].mean()
    parts = (spent.queue_min, spent.hands_on_min, spent.drying_min, spent.cure_min, spent.again_min)
    assert sum(parts) == pytest.approx(mean, abs=1.0)  # ready is rounded up to whole minutes
    assert min(parts) >= 0.0
    assert spent.again_min > 0.0


def test_an_impossible_shop_is_refused_with_every_fault() -> None:
    shop = replace(SHOP, people=(), guns=(), batches=(batch("b", SAND, COAT),))
    with pytest.raises(Impossible) as refused:
        simulate(open_shop(shop), 1, 1)
    assert refused.value.faults == (
        "b: sand: there are no people",
        "b: coat: there are no people",
        "b: coat: there is no gun or no booth",
    )


def test_a_shop_that_never_opens_again_is_told_not_waited_for() -> None:
    ever = Stretch(MONDAY, MONDAY + timedelta(days=5_000))
    with pytest.raises(NeverOpen):
        simulate(open_shop(replace(SHOP, closures=(ever,), batches=(batch("b", SAND),))), 1, 1)


def test_no_replications_are_refused() -> None:
    with pytest.raises(OutOfRange):
        simulate(open_shop(SHOP), 1, 0)


def test_points_of_a_duration_ascend() -> None:
    with pytest.raises(ValueError, match="do not ascend"):
        Likely(3.0, 2.0, 4.0)


@given(st.lists(st.integers(738_000, 738_050), min_size=1, max_size=50), st.floats(0.01, 1.0))
def test_a_quantile_is_the_first_day_that_reaches_the_level(days: list[int], level: float) -> None:
    found = quantile_day(np.array(days), level).toordinal()
    assert np.mean(np.array(days) <= found) >= level - 1e-9
    assert np.mean(np.array(days) < found) < level
