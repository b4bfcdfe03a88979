"""Spells nobody has told of: as in the independent model, the same compiled, drawn by address."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from coatledger.computations.simulate.away import SPELLS_MOST, present, spells
from coatledger.computations.simulate.calendar import NEVER, lay
from coatledger.computations.simulate.compiled import COMPILES
from coatledger.computations.simulate.draws import lucks
from coatledger.computations.simulate.forward import simulate
from coatledger.computations.simulate.shop import Impossible, OpenShop
from coatledger.computations.simulate.shop import Unforeseen as Spells
from coatledger.computations.simulate.tables import tables
from msgspec.structs import replace as changed
from open_shops import agree, open_shop
from shop_cases import TEN_SHOPS
from shop_spec import AT_ONCE, Shop, Unforeseen
from simpy_shop import simulate as reference

SICK, SHUT = Unforeseen(0.08, (1, 2, 4)), Unforeseen(0.03, (1, 5))


def uncertain(number: int) -> Shop:
    """Return one of the ten shops with spells to come, and some of its batches not sure to."""
    shop = TEN_SHOPS[number]
    batches = tuple(
        replace(batch, chance=0.4)
        if n % 3 == 1 and not batch.in_hand and not batch.place_held else batch
        for n, batch in enumerate(shop.batches)
    )  # fmt: skip
    return replace(shop, batches=batches, away=SICK, shut=SHUT)


@pytest.mark.parametrize("number", [0, 3, 6])
def test_the_engine_agrees_with_the_independent_model_on_what_nobody_told(number: int) -> None:
    shop = uncertain(number)
    agree(reference(shop, 7, 400), simulate(open_shop(shop), 1, 4_000))


@pytest.mark.skipif(not COMPILES, reason="numba is not installed")
@pytest.mark.parametrize("number", [0, 3, 6])
def test_what_is_compiled_gives_the_same_numbers_with_spells(number: int) -> None:
    shop = open_shop(uncertain(number))
    one, other = (simulate(shop, 3, 60, compiled=how) for how in (True, False))
    assert np.array_equal(one.ready_min, other.ready_min)
    assert np.array_equal(one.ships_on, other.ships_on)


def drawn(shop: OpenShop, runs: int, days: int = 400) -> np.ndarray:
    table = tables(shop)
    luck = next(lucks(table, 1, 0.0, runs, runs, len(shop.people)))
    return spells(shop, lay(shop, days), luck)


def test_spells_come_as_often_and_last_as_long_as_said() -> None:
    shop = open_shop(TEN_SHOPS[0])
    begins, ends = np.moveaxis(drawn(changed(shop, away=Spells(0.05, (2, 4))), 4_000)[0], -1, 0)
    day = 86_400.0
    lengths = ((ends - begins) / day)[ends < NEVER]
    assert lengths.mean() == pytest.approx(3.0, abs=0.05)
    # The first begins after so many days on average: a geometric law, its mean (1 - p) / p.
    assert begins[:, 0].mean() / day - 0.5 == pytest.approx(0.95 / 0.05 + 0.5, rel=0.05)
    assert (begins[:, 1:] >= ends[:, :-1]).all()
    assert begins.shape[1] == SPELLS_MOST


def test_a_shop_spell_keeps_everybody_and_another_person_has_other_luck() -> None:
    shop = changed(open_shop(TEN_SHOPS[1]), away=Spells(0.05, (2,)))
    found = drawn(shop, 50)
    assert len(shop.people) > 1
    assert not np.array_equal(found[0], found[1])
    assert (found[-1] == NEVER).all()
    both = drawn(changed(shop, shut=Spells(0.5, (3,))), 50)
    assert np.array_equal(both[:-1], found[:-1])
    assert (both[-1][:, 0] < NEVER).all()


def test_nobody_begins_in_a_spell_and_everybody_the_moment_it_is_over() -> None:
    shop = open_shop(
        replace(TEN_SHOPS[0], zone="UTC", now=datetime(2026, 3, 2, 8, tzinfo=UTC), closures=())
    )
    laid, column = lay(shop, 60), np.arange(2)
    away = np.full((len(shop.people) + 1, 2, 1, 2), NEVER)
    away[0, 0, 0] = laid.midnights[[1, 3]]
    at = np.full(2, 24 * 3_600)  # Tuesday at the hour the shop opens
    begins, work = present(laid, away, column, 0, at)
    assert (begins - at).tolist() == [2 * 86_400, 0]
    open_h = sum((o.closes.hour - o.opens.hour) for o in shop.hours.openings if o.weekday in (2, 3))
    assert work[0] - work[1] == open_h * 3_600


@pytest.mark.parametrize(
    "spoilt", [{"away": Spells(0.1, ())}, {"shut": Spells(1.5, (1,))}, {"away": Spells(0.1, (0,))}]
)
def test_spells_that_cannot_be_are_refused(spoilt: dict[str, Spells]) -> None:
    with pytest.raises(Impossible, match="spells"):
        simulate(changed(open_shop(TEN_SHOPS[0]), **spoilt), 1, 1)


def test_what_never_comes_is_over_at_once_and_keeps_nobody() -> None:
    shop = TEN_SHOPS[0]
    free = [n for n, b in enumerate(shop.batches) if not b.in_hand and not b.place_held]
    none = tuple(
        replace(batch, chance=0.0, ready_in=AT_ONCE) if n in free else batch
        for n, batch in enumerate(shop.batches)
    )
    left = tuple(batch for n, batch in enumerate(shop.batches) if n not in free)
    some, without = (open_shop(replace(shop, batches=rows)) for rows in (none, left))
    one, other = simulate(some, 1, 20), simulate(without, 1, 20)
    for order in other.orders:
        if all(b.order != order for n, b in enumerate(none) if n in free):
            assert np.array_equal(one.ready_min[one.row(order)], other.ready_min[other.row(order)])
    gone = [o for o in one.orders if o not in other.orders]
    assert gone
    assert all((one.ready_min[one.row(order)] == 0).all() for order in gone)
