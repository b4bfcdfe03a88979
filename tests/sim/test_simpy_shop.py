"""The reference model against the words: timelines worked out by hand, laws, and its chances."""

import math
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import numpy as np
import pytest
from scipy import stats
from shop_cases import TEN_SHOPS, TWO_HUNDRED_SINGLY, certain
from shop_spec import (
    CURING,
    NOBODY,
    PERSON,
    RACK,
    SPRAY,
    Batch,
    Gun,
    Impossible,
    InHand,
    Opening,
    Operation,
    Person,
    Range,
    Shop,
    Stretch,
    places_taken,
    require_possible,
)
from simpy_chance import Chance
from simpy_shop import OpenShop, Outcome, Seen, simulate
from wall_clock import MINUTE, WallClock

MONDAY = datetime(2026, 3, 2, 8, tzinfo=UTC)
LAST_YEAR = MONDAY.replace(year=2025)
DUE = date(2026, 3, 20)
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


def batch(name: str, *operations: Operation, pieces: int = 2) -> Batch:
    return Batch(name, name, pieces, MONDAY - timedelta(days=1), DUE, operations)


def watched(shop: Shop, seed: int = 0) -> list[Seen]:
    """Return everything that happened in one replication."""
    seen: list[Seen] = []
    require_possible(shop)
    chance = Chance(shop, np.random.default_rng(seed))
    OpenShop(shop, chance, WallClock(shop), seen.append).run()
    return seen


def story(shop: Shop) -> str:
    """Return who was begun when, as "minute batch.operation"."""
    return ", ".join(
        f"{event.at / MINUTE:g} {event.run.batch.id}.{event.run.batch.operations[event.index].name}"
        for event in watched(shop)
        if event.what == "began"
    )


def ready(shop: Shop) -> list[float]:
    return [float(minutes) for minutes in simulate(shop, 0, 1).ready_min[0]]


def test_a_batch_is_sanded_coated_dried_and_packed() -> None:
    shop = replace(SHOP, batches=(batch("a", SAND, COAT, PACK),))
    assert story(shop) == "0 a.sand, 20 a.coat, 220 a.pack"
    outcome = simulate(shop, 0, 1)
    assert outcome.ready_min.tolist() == [[240.0]]
    assert outcome.ships_min.tolist() == [[28 * 60.0]]  # Tuesday noon
    assert outcome.lead_days[0, 0] == pytest.approx(1.0 + 28.0 / 24.0)


def test_a_job_stops_at_closing_and_goes_on_while_a_wait_runs_through_the_night() -> None:
    late = replace(SHOP, now=MONDAY + timedelta(hours=7, minutes=50))
    shop = replace(late, batches=(batch("a", COAT, PACK), batch("b", SAND)))
    # Ten of twenty minutes on Monday, ten on Tuesday at 8; then b is sanded; dry at 11:10.
    assert story(shop) == "0 a.coat, 980 b.sand, 1160 a.pack"


def test_drying_is_elapsed_time_when_the_clock_springs_forward() -> None:
    saturday = datetime(2026, 3, 28, 23, tzinfo=UTC)
    always = tuple(Opening(day, time(0), time(0)) for day in range(1, 8))
    shop = replace(SHOP, zone="Europe/Dublin", now=saturday, openings=always)
    assert ready(replace(shop, batches=(batch("a", COAT),))) == [200.0]


def test_the_earlier_due_date_goes_first_even_when_the_gun_must_change() -> None:
    satin = replace(COAT, product="satin")
    soon = replace(batch("b", satin), due=DUE - timedelta(days=1))
    shop = replace(SHOP, batches=(batch("a", COAT), soon))
    # The change to satin takes 15 minutes before 20 of spraying, the change back 15 again.
    assert story(shop) == "0 b.coat, 35 a.coat"
    assert ready(shop) == [35 + 35 + 180, 35 + 180]


def test_of_one_due_date_what_the_gun_holds_goes_before_what_is_older() -> None:
    older = replace(batch("b", replace(COAT, product="satin")), ordered_at=LAST_YEAR)
    shop = replace(SHOP, batches=(older, batch("c", COAT), batch("a", COAT)))
    assert story(shop) == "0 a.coat, 20 c.coat, 40 b.coat"


def test_sanding_is_no_change_and_the_older_order_goes_first_then_the_smaller_id() -> None:
    older = replace(batch("z", SAND), ordered_at=LAST_YEAR)
    shop = replace(SHOP, batches=(batch("b", COAT), batch("a", SAND), older))
    assert story(shop) == "0 z.sand, 20 a.sand, 40 b.coat"


def test_the_gun_taken_holds_the_product_or_is_the_first_that_is_free() -> None:
    two = replace(
        SHOP,
        people=(Person("ann"), Person("ben")),
        guns=(Gun("g1", ""), Gun("g2", "clear")),
        booth_places=2,
    )
    shop = replace(two, batches=(batch("a", COAT), batch("b", replace(COAT, product="satin"))))
    guns = {event.run.batch.id: event.gun for event in watched(shop) if event.what == "began"}
    assert guns == {"a": "g2", "b": "g1"}
    narrow = replace(shop, booth_places=1)
    assert story(narrow) == "0 a.coat, 20 b.coat"


def test_nobody_waits_for_a_job_that_cannot_begin() -> None:
    shop = replace(
        SHOP, rack_places=3, batches=(batch("a", COAT), batch("b", COAT), batch("c", SAND))
    )
    # b finds one place of the three free until a is dry at 200.
    assert story(shop) == "0 a.coat, 20 c.sand, 200 b.coat"


def test_all_that_happens_at_a_moment_happens_before_the_next_job_is_chosen() -> None:
    expected = replace(
        batch("c", SAND), due=DUE - timedelta(days=1), ready_in=Range(20.0, 20.0, 20.0)
    )
    for order in ((0, 1, 2), (2, 0, 1)):
        three = (batch("a", SAND), batch("b", SAND), expected)
        shop = replace(SHOP, batches=tuple(three[n] for n in order))
        assert story(shop) == "0 a.sand, 20 c.sand, 40 b.sand"


def test_a_person_who_is_away_begins_nothing_but_what_was_begun_is_finished() -> None:
    away = Stretch(MONDAY + timedelta(minutes=10), MONDAY + timedelta(minutes=100))
    shop = replace(
        SHOP, people=(Person("ann", (away,)),), batches=(batch("a", SAND), batch("b", SAND))
    )
    assert story(shop) == "0 a.sand, 100 b.sand"
    assert ready(shop) == [20.0, 120.0]
    from_now = replace(SHOP, people=(Person("ann", (Stretch(MONDAY, away.ends_at),)),))
    assert story(replace(from_now, batches=(batch("a", SAND),))) == "100 a.sand"


def test_what_nobody_does_takes_elapsed_time_and_no_hands() -> None:
    out = Operation("out", NOBODY, 600.0, 0.0)
    shop = replace(SHOP, batches=(batch("a", out, PACK), batch("b", SAND)))
    assert story(shop) == "0 a.out, 0 b.sand, 1440 a.pack"


def test_a_job_in_hand_keeps_person_gun_and_places() -> None:
    busy = replace(batch("a", COAT), in_hand=InHand("ann", 30.0, gun="g1"))
    two = replace(SHOP, people=(Person("ann"), Person("ben")), rack_places=2)
    shop = replace(two, batches=(busy, batch("b", COAT), batch("c", SAND)))
    assert story(shop) == "0 a.coat, 0 c.sand, 210 b.coat"


def test_a_wait_that_runs_keeps_its_places_and_a_supply_does_not() -> None:
    hour = Range(60, 60, 60)
    drying = replace(
        batch("a", COAT, PACK), position=1, ready_in=hour, ready_is_wait=True, place_held=RACK
    )
    expected = replace(batch("b", SAND), ready_in=Range(30, 30, 30))
    shop = replace(SHOP, rack_places=2, batches=(drying, expected, batch("c", COAT)))
    assert story(shop) == "30 b.sand, 60 a.pack, 80 c.coat"


def test_what_comes_back_is_done_again_for_the_failed_pieces_only() -> None:
    look = Operation("look", PERSON, 0.0, 1.0, rework_chance=1.0, back=1, rounds=1)
    shop = replace(SHOP, batches=(batch("a", SAND, look, PACK, pieces=4),))
    assert story(shop) == "0 a.sand, 30 a.look, 34 a.sand, 64 a.look, 68 a.pack"
    failing = replace(look, rework_chance=0.5)
    some = replace(shop, batches=(batch("a", SAND, failing, PACK, pieces=400),))
    again = [e.pieces for e in watched(some) if e.what == "began" and e.index == 0][1]
    assert 160 < again < 240


def test_scrap_starts_again_from_the_beginning_after_the_joiners_lead() -> None:
    look = Operation("look", PERSON, 0.0, 1.0, scrap_chance=1.0, back=0, rounds=1)
    lead = Range(100, 100, 100)
    shop = replace(SHOP, joinery_lead=lead, batches=(batch("a", SAND, SAND, look, PACK),))
    assert story(shop) == (
        "0 a.sand, 20 a.sand, 40 a.look, 142 a.sand, 162 a.sand, 182 a.look, 184 a.pack"
    )


def test_an_order_of_two_batches_is_ready_with_the_later_one() -> None:
    second = replace(batch("b", SAND), order="a")
    assert ready(replace(SHOP, batches=(batch("a", SAND), second))) == [40.0]


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"people": ()}, "no people"),
        ({"guns": ()}, "no gun"),
        ({"openings": ()}, "never open"),
        ({"pick_up_weekdays": ()}, "picked up"),
        ({"rack_places": 1}, "do not fit"),
    ],
)
def test_a_shop_that_cannot_finish_is_refused_by_name(wrong: dict[str, object], told: str) -> None:
    shop = replace(SHOP, batches=(batch("a", COAT),))
    with pytest.raises(Impossible, match=told):
        simulate(replace(shop, **wrong), 0, 1)  # type: ignore[arg-type]


# ---- laws, in shops of every kind


@pytest.mark.parametrize("shop", TEN_SHOPS, ids=lambda shop: shop.zone)
def test_hands_guns_booth_and_places_are_never_used_twice(shop: Shop) -> None:
    for seed in range(3):
        seen = watched(shop, seed)
        clock = WallClock(shop)
        begun = [event for event in seen if event.what == "began" and event.person]
        for name in {event.person for event in begun}:
            assert_apart([(e.at, e.until) for e in begun if e.person == name])
        for name in {event.gun for event in begun} - {""}:
            assert_apart([(e.at, e.until) for e in begun if e.gun == name])
        sprays = [(e.at, e.until) for e in begun if e.gun]
        assert_at_most(shop.booth_places, [(*span, 1) for span in sprays])
        for kind in (RACK, CURING):
            assert_at_most(shop.places(kind), places_used(seen, kind))
        away = {person.id: person.absences for person in shop.people}
        for event in begun:
            if event.run.batch.in_hand and event.at == 0:
                continue
            assert clock.is_open(event.at)
            moment = clock.moment(event.at)
            assert not any(a.starts_at <= moment < a.ends_at for a in away[event.person])


def assert_apart(spans: list[tuple[int, int]]) -> None:
    ordered = sorted(spans)
    for (_, ends), (begins, _) in pairwise(ordered):
        assert ends <= begins


def places_used(seen: list[Seen], kind: str) -> list[tuple[int, int, int]]:
    """Return from when to when how many places of a kind were taken, by what was seen."""
    uses = []
    since = {
        batch.id: (0, places_taken(batch, kind))
        for batch in {event.run.batch for event in seen}
        if places_taken(batch, kind)
    }
    for event in seen:
        name = event.run.batch.id
        if event.what == "began" and event.run.batch.operations[event.index].place == kind:
            since.setdefault(name, (event.at, event.pieces))
        elif event.what == "dry" and name in since:
            begins, pieces = since.pop(name)
            uses.append((begins, event.at, pieces))
    assert not since
    return uses


def assert_at_most(most: int, uses: list[tuple[int, int, int]]) -> None:
    """Hold that what is in use at once is never more than there is; an end counts first."""
    changes = sorted([(a, n) for a, _, n in uses] + [(b, -n) for _, b, n in uses])
    assert all(used <= most for used in np.cumsum([n for _, n in changes]).tolist())


@pytest.mark.parametrize("shop", TEN_SHOPS, ids=lambda shop: shop.zone)
def test_no_piece_is_lost_or_made(shop: Shop) -> None:
    seen = watched(shop, 5)
    finished = Counter(event.run.batch.id for event in seen if event.what == "finished")
    assert finished == Counter(batch.id for batch in shop.batches)
    for batch_ in shop.batches:
        ends = [e for e in seen if e.run.batch.id == batch_.id and e.what == "ended"]
        # The last operation is done once, for every piece; what came back was done again before.
        assert [e.pieces for e in ends if e.index == len(batch_.operations) - 1] == [batch_.pieces]
        back = sum(e.pieces for e in seen if e.run.batch.id == batch_.id and e.what == "back")
        look = next(i for i, step in enumerate(batch_.operations) if step.name == "look over")
        passed = sum(e.pieces for e in ends if e.index == look)
        assert passed == back + (batch_.pieces if batch_.position <= look else 0)


def test_the_same_seed_gives_the_same_dates_and_another_does_not() -> None:
    first, again, other = (simulate(TEN_SHOPS[0], seed, 4).ready_min for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_a_shop_without_chance_has_one_outcome() -> None:
    for shop in TEN_SHOPS:
        times = simulate(certain(shop), 1, 3).ready_min
        assert (times == times[0]).all()
        come_back = sum(
            one.operations[index].rework_chance == 1.0
            for one in certain(shop).batches
            for index in range(one.position, len(one.operations))
        )
        assert sum(event.what == "back" for event in watched(certain(shop))) == come_back
    assert come_back == 0  # the last shop's rework is rare, others' is not
    assert any(step.rework_chance == 1.0 for step in certain(TEN_SHOPS[6]).batches[0].operations)


def test_two_hundred_pieces_of_their_own_are_a_shop_too() -> None:
    assert sum(batch.pieces for batch in TWO_HUNDRED_SINGLY.batches) == 200
    assert (simulate(TWO_HUNDRED_SINGLY, 1, 2).ready_min > 0.0).any()


# ---- chances


def waiting(share: float, count: int = 2) -> Outcome:
    """Return how long waits without any queue last: as many people as batches."""
    quick = Operation("look", PERSON, 1e-6, 0.0)
    wait = replace(quick, wait=Range(60.0, 100.0, 250.0))
    always = tuple(Opening(day, time(0), time(0)) for day in range(1, 8))
    shop = replace(
        SHOP,
        openings=always,
        shop_share=share,
        people=tuple(Person(f"p{n}") for n in range(count)),
        batches=tuple(batch(f"b{n}", wait) for n in range(count)),
    )
    return simulate(shop, 3, 2_000)


def test_a_wait_has_the_quantiles_it_is_given_by() -> None:
    waits = waiting(0.4).ready_min[:, 0]
    for level, value in ((0.1, 60.0), (0.5, 100.0), (0.9, 250.0)):
        below = int((waits < value).sum())
        assert stats.binomtest(below, len(waits), level).pvalue > 1e-4


def test_two_waits_share_what_the_shop_shares() -> None:
    for share in (0.0, 0.4, 1.0):
        first, second = waiting(share).ready_min.T
        # Ranks keep the normal scores: rho_S = 6/pi asin(rho/2) (Pearson 1907).
        expected = 6.0 / math.pi * math.asin(share / 2.0)
        found = float(stats.spearmanr(first, second).statistic)
        assert found == pytest.approx(expected, abs=4.0 / math.sqrt(len(first)))


def test_hands_on_time_is_lognormal_about_its_median() -> None:
    step = Operation("sand", PERSON, 30.0, 10.0, spread=0.3)
    shop = replace(SHOP, batches=(batch("a", step, pieces=3),))
    scores = np.log(simulate(shop, 5, 3_000).ready_min[:, 0] / 60.0) / 0.3
    assert stats.kstest(scores, "norm").pvalue > 1e-4


def test_a_piece_comes_back_as_often_as_its_chance_says() -> None:
    look = Operation("look", PERSON, 10.0, 0.0, rework_chance=0.3, back=0, rounds=2)
    shop = replace(SHOP, batches=(batch("a", look, pieces=1),))
    looks = simulate(shop, 6, 4_000).ready_min[:, 0] / 10.0
    found = [int((looks.round() == n).sum()) for n in (1, 2, 3)]
    # The third round is not judged any more: whatever was sent back twice passes.
    assert stats.chisquare(found, 4_000 * np.array([0.7, 0.21, 0.09])).pvalue > 1e-4
