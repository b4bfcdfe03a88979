"""Stock against needs: nothing is made or lost, the pessimist runs out first, pots end in time."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from coatledger.computations import stock
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.viscosity import Range
from hypothesis import given
from hypothesis import strategies as st

NOW = datetime(2026, 3, 2, 8, tzinfo=UTC)


def need(piece: str, hours: float, likely: float, spread: float = 0.2) -> stock.Need:
    litres = Range(likely * (1 - spread), likely, likely * (1 + spread))
    return stock.Need(piece, NOW + timedelta(hours=hours), litres)


def test_the_finish_runs_out_at_the_piece_that_finds_the_can_empty() -> None:
    """One litre against four pieces of 0.3 L: likely at the fourth, at worst there too."""
    needs = [need(f"table-{number}", number, 0.3) for number in (1, 2, 3, 4)]
    seen = stock.outlook([stock.Lot("can-1", 1.0)], needs, NOW)
    assert seen.likely is not None
    assert (seen.likely.piece, seen.likely.at) == ("table-4", NOW + timedelta(hours=4))
    assert seen.likely.missing_l == pytest.approx(0.2)
    assert seen.earliest is not None
    assert seen.earliest.piece == "table-3"
    assert seen.latest is None
    assert (seen.to_buy_l.low, seen.to_buy_l.likely) == pytest.approx((0, 0.2))
    assert seen.to_buy_l.high == pytest.approx(0.44)


def test_a_lot_that_ends_sooner_is_used_sooner_and_what_stays_in_it_is_waste() -> None:
    lots = [
        stock.Lot("keeps", 1.0),
        stock.Lot("mixed", 0.5, NOW + timedelta(hours=4)),
        stock.Lot("gone", 0.7, NOW - timedelta(hours=1)),
    ]
    seen = stock.outlook(lots, [need("box-1", 1, 0.3), need("box-2", 5, 0.3)], NOW)
    assert seen.usable_l == 1.5
    assert seen.likely is None
    assert [(spoilt.lot, round(spoilt.litres, 6)) for spoilt in seen.waste] == [
        ("gone", 0.7),
        ("mixed", 0.2),
    ]
    assert seen.left_l == pytest.approx(0.7)


def test_a_lot_ends_at_its_moment_and_not_after() -> None:
    lots = [stock.Lot("mixed", 1.0, NOW + timedelta(hours=1))]
    short = stock.outlook(lots, [need("box-1", 1, 0.3)], NOW).likely
    assert short is not None
    assert short.piece == "box-1"
    in_time = stock.outlook(lots, [need("box-1", 0.99, 0.3)], NOW)
    assert in_time.likely is None


amounts = st.floats(0.01, 3)


@given(
    lots=st.lists(st.tuples(amounts, st.one_of(st.none(), st.floats(-5, 50))), max_size=6),
    needs=st.lists(st.tuples(st.floats(0, 40), amounts), max_size=12),
)
def test_what_was_there_is_used_wasted_or_left(
    lots: list[tuple[float, float | None]], needs: list[tuple[float, float]]
) -> None:
    cans = [
        stock.Lot(f"can-{n}", left, None if end is None else NOW + timedelta(hours=end))
        for n, (left, end) in enumerate(lots)
    ]
    asks = [need(f"piece-{n}", hours, litres) for n, (hours, litres) in enumerate(needs)]
    seen = stock.outlook(cans, asks, NOW)
    used = seen.needed_l.likely - seen.to_buy_l.likely
    wasted = sum(spoilt.litres for spoilt in seen.waste)
    assert used + wasted + seen.left_l == pytest.approx(sum(left for left, _ in lots), abs=1e-6)
    ends = [short.at for short in (seen.earliest, seen.likely, seen.latest) if short]
    assert ends == sorted(ends)
    assert seen.to_buy_l.low <= seen.to_buy_l.likely <= seen.to_buy_l.high


@given(more=st.floats(0, 5))
def test_another_can_never_brings_the_end_nearer(more: float) -> None:
    needs = [need(f"shelf-{number}", number, 0.25) for number in range(12)]
    before = stock.outlook([stock.Lot("a", 1.0)], needs, NOW).likely
    after = stock.outlook([stock.Lot("a", 1.0), stock.Lot("b", more)], needs, NOW).likely
    assert before is not None
    assert after is None or after.at >= before.at


def test_a_use_by_day_ends_at_the_shops_midnight_and_a_pot_life_by_the_clock() -> None:
    """29 March 2026 has 23 hours in Berlin; the day still ends at its own midnight."""
    end = stock.usable_until(date(2026, 3, 29), None, None, "Europe/Berlin")
    assert end == datetime(2026, 3, 29, 22, tzinfo=UTC)
    mixed = datetime(2026, 3, 28, 23, tzinfo=timezone(timedelta(hours=1)))
    pot = stock.usable_until(date(2026, 3, 29), mixed, 6, "Europe/Berlin")
    assert pot == datetime(2026, 3, 29, 4, tzinfo=UTC)
    assert stock.usable_until(None, mixed, None, "Europe/Berlin") is None
    leap = stock.usable_until(date(2028, 2, 29), None, None, "UTC")
    assert leap == datetime(2028, 3, 1, tzinfo=UTC)


def test_a_batch_is_mixed_in_parts_and_pots_that_last() -> None:
    """3 L at 1 L/h with two hours of pot life: four fifths of it sprays 1.6 L, so two pots."""
    mix = stock.next_mix(3, [("base", 10), ("crosslinker", 1)], 1, 2, NOW, loss_per_pot_l=0.05)
    assert len(mix.pots) == 2
    assert mix.mixed_l == pytest.approx(3.1)
    assert mix.lost_l == pytest.approx(0.1)
    for pot in mix.pots:
        (base, crosslinker) = pot.parts
        assert base[1] / crosslinker[1] == pytest.approx(10)
        assert base[1] + crosslinker[1] == pytest.approx(pot.litres)
    assert mix.pots[0].use_until == NOW + timedelta(hours=2)
    assert mix.pots[1].use_until == NOW + timedelta(hours=3.5)


def test_without_a_pot_life_one_pot_does() -> None:
    mix = stock.next_mix(3, [("base", 1)], 1, None, NOW)
    assert len(mix.pots) == 1
    assert mix.pots[0].use_until is None


@given(needed=st.floats(0.05, 20), speed=st.floats(0.5, 10), life=st.floats(0.5, 24))
def test_every_pot_is_empty_before_its_life_ends(needed: float, speed: float, life: float) -> None:
    mix = stock.next_mix(needed, [("base", 1)], speed, life, NOW)
    spray_h = needed / len(mix.pots) / speed
    assert spray_h <= 0.8 * life * (1 + 1e-6)
    assert mix.mixed_l - mix.lost_l == pytest.approx(needed)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stock.outlook([stock.Lot("a", -1)], [], NOW), "left_l of a is -1"),
        (lambda: stock.outlook([stock.Lot("a", 1)] * 2, [], NOW), "listed twice"),
        (
            lambda: stock.outlook([], [stock.Need("p", NOW, Range(2, 1, 3))], NOW),
            "likely litres for p is 1",
        ),
        (lambda: stock.next_mix(1, [], 1, 2, NOW), "at least one part"),
        (lambda: stock.next_mix(1, [("base", 0)], 1, 2, NOW), "parts of base is 0"),
        (lambda: stock.next_mix(900, [("base", 1)], 0.1, 1, NOW), "pots is"),
        (
            lambda: stock.next_mix(1, [("base", 1)], 1, 2, NOW.replace(tzinfo=None)),
            "has no offset",
        ),
    ],
)
def test_bad_stock_is_refused_by_name(call: Callable[[], object], words: str) -> None:
    with pytest.raises((OutOfRange, ValueError), match=words):
        call()
