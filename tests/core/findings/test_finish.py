"""Rules of the can, each seen to fire and to stay silent, and told once a day."""

from datetime import date
from typing import Any

import pytest
from bench import Bench
from coatledger.events.finish import (
    LotDiscarded,
    LotFrozen,
    LotMixed,
    LotReceived,
    LotStirred,
    LotStrained,
    Parent,
    ViscosityMeasured,
)
from coatledger.events.setup import ProductDescribed
from coatledger.findings import finish
from judged import Case, codes, judge, ready

BASE = Parent(lot="can-1", amount_l=1.0)


def unstirred(bench: Bench, **sheet: Any) -> LotReceived:
    bench.clear("new", **sheet)
    return bench.record(LotReceived, lot="can-2", product="new", amount_l=5.0)


def mix(bench: Bench, *parts: Parent, product: str = "clear-w", **fields: Any) -> LotMixed:
    return bench.fact(LotMixed, lot="mix-1", product=product, parents=(BASE, *parts), **fields)


def mixed(bench: Bench, *parts: Parent, **fields: Any) -> LotMixed:
    return bench.record(LotMixed, lot="mix-1", product="clear-w", parents=(BASE, *parts), **fields)


def part(name: Any, amount_l: float, lot: str = "x") -> Parent:
    return Parent(lot=lot, amount_l=amount_l, part=name)


def strained(bench: Bench, mesh_um: float) -> LotStrained:
    bench.clear("new", strain_um=190.0)
    bench.can("can-2", "new")
    return bench.record(LotStrained, lot="can-2", mesh_um=mesh_um)


def oil(bench: Bench) -> ProductDescribed:
    bench.record(ProductDescribed, product="oil", kind="oil_based")
    bench.can("can-oil", "oil")
    return bench.clear("thin", reducer_max_pct=10.0)


CASES = (
    Case(
        "can_not_stirred",
        lambda b: (unstirred(b), b.would_coat("T-1", lot="can-2")),
        lambda b: (unstirred(b, stir=False), b.would_coat("T-1", lot="can-2")),
    ),
    Case(
        "can_not_strained",
        lambda b: (strained(b, 280.0), b.would_coat("T-1", lot="can-2")),
        lambda b: (strained(b, 190.0), b.would_coat("T-1", lot="can-2")),
    ),
    Case(
        "past_pot_life",
        lambda b: (mixed(b, pot_life_h=4.0), b.later(4.1).would_coat("T-1", lot="mix-1")),
        lambda b: (mixed(b, pot_life_h=4.0), b.later(4).would_coat("T-1", lot="mix-1")),
    ),
    Case(
        "past_use_by",
        lambda b: (
            b.can("can-2", "clear-w", use_by=date(2026, 3, 1)),
            b.would_coat("T-1", lot="can-2"),
        ),
        lambda b: (
            b.can("can-2", "clear-w", use_by=date(2026, 3, 2)),
            b.would_coat("T-1", lot="can-2"),
        ),
    ),
    Case(
        "can_was_frozen",
        lambda b: (b.record(LotFrozen, lot="can-1"), b.would_coat("T-1")),
        lambda b: (b.record(LotFrozen, lot="can-9"), b.would_coat("T-1")),
    ),
    Case(
        "can_was_discarded",
        lambda b: (b.record(LotDiscarded, lot="can-1"), b.would_coat("T-1")),
        lambda b: b.would_coat("T-1"),
    ),
    Case(
        "took_more_than_was_left",
        lambda b: b.would_coat("T-1", amount_l=5.5),
        lambda b: b.would_coat("T-1", amount_l=5.0),
    ),
    Case(
        "reducer_over_limit",
        lambda b: (oil(b), mix(b, part("water", 0.12), product="thin")),
        lambda b: (oil(b), mix(b, part("water", 0.10), product="thin")),
    ),
    Case(
        "pot_life_unknown",
        lambda b: mix(b, part("crosslinker", 0.03)),
        lambda b: mix(b, part("crosslinker", 0.03), pot_life_h=4.0),
    ),
    Case(
        "water_in_solvent_finish",
        lambda b: (oil(b), mix(b, part("water", 0.05), product="oil")),
        lambda b: (oil(b), mix(b, part("reducer", 0.05), product="oil")),
    ),
    Case(
        "kinds_mixed",
        lambda b: (oil(b), mix(b, part("base", 0.5, "can-oil"))),
        lambda b: (b.can("can-2", "clear-w"), mix(b, part("base", 0.5, "can-2"))),
    ),
    Case(
        "mixed_from_old_can",
        lambda b: (
            b.can("can-2", "clear-w", use_by=date(2026, 3, 1)),
            mix(b, part("base", 0.5, "can-2")),
        ),
        lambda b: (
            b.can("can-2", "clear-w", use_by=date(2026, 3, 2)),
            mix(b, part("base", 0.5, "can-2")),
        ),
    ),
    Case(
        "cup_out_of_range",
        lambda b: b.fact(ViscosityMeasured, lot="can-1", cup="ford_4", efflux_s=19.0),
        lambda b: b.fact(ViscosityMeasured, lot="can-1", cup="ford_4", efflux_s=20.0),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in finish.RULES}


def test_a_can_not_stirred_is_told_once_a_day_until_it_is_stirred() -> None:
    bench = ready().at("2 08:00")
    bench.climate()
    first = bench.would_coat("T-1")
    assert [f.code for f in judge(bench, first)] == ["can_not_stirred"]
    bench.take(first)
    assert judge(bench, bench.would_coat("T-2")) == ()
    bench.at("3 08:00").climate()
    assert "can_not_stirred" in {f.code for f in judge(bench, bench.would_coat("T-3"))}
    bench.record(LotStirred, lot="can-1")
    assert "can_not_stirred" not in {f.code for f in judge(bench, bench.would_coat("T-3"))}


def test_a_mix_takes_its_pot_life_from_the_sheet_when_nobody_said() -> None:
    bench = ready()
    bench.clear("two-part", pot_life_h=4.0)
    parts = (BASE, part("crosslinker", 0.03))
    bench.record(LotMixed, lot="mix-1", product="two-part", parents=parts)
    found = judge(bench, bench.later(5).would_coat("T-1", lot="mix-1"))
    assert [f.seen[0].says for f in found] == ["mix-1 was past its pot life by 1.0 h"]


def test_shelf_life_counts_from_when_the_can_came_in() -> None:
    bench = ready()
    bench.clear("short", shelf_life_days=10)
    bench.can("can-2", "short")
    assert "past_use_by" not in {
        f.code for f in judge(bench, bench.at("11 08:00").would_coat("T-1", lot="can-2"))
    }
    assert "past_use_by" in {
        f.code for f in judge(bench, bench.at("12 08:00").would_coat("T-1", lot="can-2"))
    }
