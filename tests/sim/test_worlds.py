"""The worlds: the same each time, busy but not drowned, and telling only what was known."""

from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from judge_worlds import judge_world, report
from judging import Table
from knowing import Knowing
from shop_spec import Range, require_possible
from wall_clock import MINUTE
from worlds import WEEKS, known_stretches, planned, world
from worlds_known import Known, Ledger, rest_of
from worlds_truth import Lived, live, since_start

SEED = 3


@cache
def lived(seed: int) -> Lived:
    return live(world(seed))


@cache
def ledger(seed: int) -> Ledger:
    return Ledger(lived(seed))


@cache
def known(seed: int, number: int) -> Known:
    return ledger(seed).known_at(lived(seed).judged()[number])


def test_a_seed_is_one_world_and_another_seed_is_another() -> None:
    assert live(world(SEED)).ships == lived(SEED).ships
    assert world(0).nature != world(SEED).nature


def test_worlds_differ_in_what_a_shop_may_be() -> None:
    some = [world(seed).shop for seed in range(12)]
    assert len({shop.zone for shop in some}) >= 4
    assert {len(shop.people) for shop in some} == {1, 2, 3}
    assert len({shop.pick_up_weekdays for shop in some}) >= 3
    assert len({shop.openings for shop in some}) >= 3


@pytest.mark.parametrize("seed", range(4))
def test_a_world_is_busy_and_every_order_ships_at_a_cut_off_after_it_was_taken(seed: int) -> None:
    one = lived(seed)
    assert len(one.judged()) > 90
    leads = [(one.ship_date(o.id) - o.ordered_at.date()).days for o in one.judged()]
    assert 4 < np.mean(leads) < 40
    assert np.std(leads) > 2.0
    for order in one.judged():
        ships = one.ships[order.id]
        local = one.clock.moment(ships).astimezone(one.clock.zone)
        assert ships > since_start(one.world, order.ordered_at)
        assert local.isoweekday() in one.world.shop.pick_up_weekdays
        assert local.time() == one.world.shop.cut_off


def test_only_orders_of_the_half_year_are_judged_and_none_of_the_first_weeks() -> None:
    start = world(SEED).shop.now
    moments = [order.ordered_at - start for order in lived(SEED).judged()]
    assert timedelta(weeks=4) <= min(moments) <= max(moments) < timedelta(weeks=WEEKS)


@pytest.mark.parametrize("number", range(0, 90, 6))
def test_what_is_known_is_a_possible_shop_with_the_order_in_it(number: int) -> None:
    order, snapshot = lived(SEED).judged()[number], known(SEED, number)
    require_possible(snapshot.shop)
    asked = [batch for batch in snapshot.shop.batches if batch.order == order.id]
    assert len(asked) == len(order.batches)
    assert all(batch.position == 0 and batch.in_hand is None for batch in asked)
    assert snapshot.orders[-1].id == order.id
    assert set(snapshot.kinds) == {b.id for o in snapshot.orders for b in o.batches}


def test_late_entries_never_leave_a_person_or_gun_in_two_places() -> None:
    for seed in (0, 1, SEED):
        for number in range(0, 90, 2):
            require_possible(known(seed, number).shop)


@pytest.mark.parametrize("number", range(0, 90, 9))
def test_nothing_of_the_future_is_known(number: int) -> None:
    one, snapshot = lived(SEED), known(SEED, number)
    now = snapshot.shop.now
    at = since_start(one.world, now) / MINUTE
    assert max(row.ended_min for row in snapshot.jobs) <= at
    assert max(row.ended_min for row in snapshot.waits) <= at
    assert max(row.at_min for row in snapshot.judged) <= at
    assert all(row.ships_at <= now for row in snapshot.shipped)
    # Erasing all that was recorded later changes nothing that is known.
    cut = replace(one, entries=tuple(e for e in one.entries if e.recorded <= at * MINUTE))
    fresh = Ledger(cut)
    assert fresh.known_at(snapshot.orders[-1]) == snapshot


def test_some_of_what_has_happened_is_not_known_yet() -> None:
    late = [e.recorded - e.at for e in lived(SEED).entries if e.what == "ended"]
    share = float(np.mean([delay > 10 * MINUTE for delay in late]))
    assert 0.02 < share < 0.25
    assert max(late) > 300 * MINUTE


def test_sickness_is_told_on_its_morning_and_a_closure_when_it_is_announced() -> None:
    one = world(SEED)
    for told in one.absences:
        before = told.told_at - timedelta(minutes=1)
        assert told.stretch not in known_stretches(one.absences, before, told.person)
        assert told.stretch in known_stretches(one.absences, told.told_at, told.person)
    notices = [(told.stretch.starts_at - told.told_at).days for told in one.closures]
    assert min(notices) < 15
    assert max(notices) > 100


def test_of_one_sick_spell_only_what_was_told_last_counts() -> None:
    spells = [told.spell for seed in range(6) for told in world(seed).absences]
    assert len(spells) > len(set(spells))
    for person in world(SEED).shop.people:
        stretches = sorted(person.absences, key=lambda stretch: stretch.starts_at)
        for first, second in pairwise(stretches):
            assert first.ends_at <= second.starts_at


def test_nature_is_not_what_the_shop_plans() -> None:
    snapshot, nature = known(SEED, 80), world(SEED).nature
    ratio = np.mean([np.log(job.told_min / job.planned_min) for job in snapshot.jobs])
    truth = np.mean([np.log(nature.hands[job.kind, job.operation]) for job in snapshot.jobs])
    # Told minutes spread by some 30 % a job about what nature has for it.
    assert ratio == pytest.approx(truth, abs=4 * 0.35 / len(snapshot.jobs) ** 0.5)
    looks = [row for row in snapshot.judged if row.again or row.scrap]
    assert 0 < len(looks) < len(snapshot.judged)
    assert all(row.again + row.scrap <= row.pieces for row in snapshot.judged)
    assert all(0 <= w.not_before_min <= w.not_after_min for w in snapshot.waits)


def test_what_is_left_of_a_wait_keeps_its_chances() -> None:
    span = Range(60.0, 100.0, 250.0)
    assert rest_of(span, 0.0) == span
    # After its median has passed, half of what is left of the law is the old 75 % point.
    left = rest_of(span, 100.0)
    upper = np.log(251.0 / 101.0) / 1.2815515655446004
    assert left.p50 == pytest.approx(101.0 * np.exp(0.6744897501960817 * upper) - 101.0, rel=1e-9)
    assert rest_of(span, 10_000.0) == Range(0.0, 0.0, 0.0)
    assert rest_of(Range(5.0, 5.0, 5.0), 6.0) == Range(0.0, 0.0, 0.0)


def test_a_table_goes_a_longer_way_and_dries_longer_than_a_box() -> None:
    table, box = planned("table", 0), planned("box", 0)
    assert len(table) > len(box)


def fortnight(known: Known, order: str, rng: np.random.Generator) -> Table:
    """Say two weeks to everyone, or else ten."""
    first = known.shop.now.date()
    return [(first + timedelta(days=14), 0.8), (first + timedelta(days=70), 1.0)]


def test_a_quoter_that_says_one_lead_to_all_gains_nothing_on_the_fixed_lead() -> None:
    judged = [judge_world(fortnight, seed, every=3) for seed in (0, SEED)]
    figures = report(judged).figures
    # Its dates are UTC days and the shop's are local: a day's difference at most.
    assert figures["lead_vs_fixed_80"] > 0.93
    assert figures["kept_95"] > 0.99
    assert set(figures) >= {"kept_80", "chance_error_95", "lead_vs_past_quantile"}


def test_a_quoter_that_knows_nature_says_what_comes_true() -> None:
    judged = judge_world(lambda one: Knowing(one, 20), SEED, every=12, knowing=True)
    high = [p for p in judged.promises if p.level == 0.95]
    assert sum(p.kept for p in high) >= 0.7 * len(high)
    assert np.mean([p.lead for p in high]) < 2.0 * np.mean([p.true_lead for p in high])
