"""Rules of film on film, each seen to fire and to stay silent."""

from typing import Any

import pytest
from bench import Bench
from coatledger.events.bare import PieceStarted
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import GrainFilled
from coatledger.events.setup import ProductDescribed, ScheduleDescribed, Step
from coatledger.findings import layers
from judged import Case, codes, judge, ready


def with_can(bench: Bench, lot: str, **sheet: Any) -> str:
    bench.record(ProductDescribed, product=f"p-{lot}", **{"kind": "oil_based", **sheet})
    bench.can(lot, f"p-{lot}")
    return lot


def coats(bench: Bench, count: int, hours: float, **fields: Any) -> CoatApplied:
    for _ in range(count):
        bench.coat("T-1", **fields)
        bench.later(hours)
    return bench.would_coat("T-1", **fields)


def scheduled(bench: Bench, word: str, **fields: Any) -> PieceStarted:
    steps = (Step(act="sand"), Step(act="coat", product="clear-w"))
    bench.record(ScheduleDescribed, schedule="s1", steps=steps, **fields)
    return bench.pieces(word, species="white_oak", schedule="s1")


CASES = (
    Case(
        "film_too_thick",
        lambda b: b.would_coat("T-1", wet_film_um=140.0),
        lambda b: b.would_coat("T-1", wet_film_um=125.0),
    ),
    Case(
        "film_too_thin",
        lambda b: b.would_coat("T-1", wet_film_um=60.0),
        lambda b: b.would_coat("T-1", wet_film_um=75.0),
    ),
    Case(
        "over_coats_max",
        lambda b: (
            b.clear("few", coats_max=2),
            b.can("can-2", "few"),
            coats(b, 2, 4, lot="can-2"),
        ),
        lambda b: (
            b.clear("few", coats_max=2),
            b.can("can-2", "few"),
            coats(b, 1, 4, lot="can-2"),
        ),
    ),
    Case(
        "too_many_coats_in_a_day",
        lambda b: coats(b, 3, 3.5),
        lambda b: coats(b, 3, 9),
    ),
    Case(
        "kinds_without_tie",
        lambda b: (
            b.coat("T-1", lot=with_can(b, "oil")),
            b.at("5 08:00").would_coat("T-1", role="build"),
        ),
        lambda b: (
            b.coat("T-1", lot=with_can(b, "oil")),
            b.at("5 08:00").would_coat("T-1", role="tie"),
        ),
    ),
    Case(
        "lacquer_over_other_kind",
        lambda b: (
            b.coat("T-1"),
            b.at("3 08:00").would_coat("T-1", lot=with_can(b, "nc", kind="lacquer")),
        ),
        lambda b: (
            b.coat("T-1", lot=with_can(b, "nc", kind="lacquer")),
            b.at("3 08:00").would_coat("T-1", lot="nc"),
        ),
    ),
    Case(
        "not_a_finish",
        lambda b: b.would_coat("T-1", lot=with_can(b, "thin", use="reducer")),
        lambda b: b.would_coat("T-1", lot=with_can(b, "clear", use="clear")),
    ),
    Case(
        "product_not_in_schedule",
        lambda b: (scheduled(b, "S-1"), b.would_coat("S-1", lot=with_can(b, "oil"))),
        lambda b: (scheduled(b, "S-1"), b.would_coat("S-1")),
    ),
    Case(
        "pores_unfilled",
        lambda b: (scheduled(b, "S-1", look="filled"), b.would_coat("S-1")),
        lambda b: (
            scheduled(b, "S-1", look="filled"),
            b.record(GrainFilled, pieces=("S-1",)),
            b.would_coat("S-1"),
        ),
    ),
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.code)
def test_a_rule_fires_and_stays_silent(case: Case) -> None:
    assert case.code in codes(case.fires)
    assert case.code not in codes(case.silent)


def test_every_rule_has_its_case() -> None:
    assert {case.code for case in CASES} == {rule.code for rule in layers.RULES}


def test_a_film_is_told_from_its_litres_when_nobody_gauged_it() -> None:
    bench = ready()
    # 0.4 L over two tops of half a square metre at 65 % is 260 um.
    found = judge(bench, bench.would_coat("T-1", "T-2", wet_film_um=None, amount_l=0.4))
    assert [(f.code, f.seen[0].says) for f in found] == [
        ("film_too_thick", "260 um wet, at most 125 um")
    ]


def test_without_a_limit_in_the_sheet_practice_speaks() -> None:
    bench = ready()
    bench.clear("silent", wet_film_max_um=None)
    bench.can("can-2", "silent")
    (found,) = judge(bench, bench.would_coat("T-1", lot="can-2", wet_film_um=160.0))
    assert (found.code, found.source) == (
        "film_too_thick",
        "common practice, no published source",
    )


def test_a_natural_look_may_show_its_pores() -> None:
    bench = ready()
    scheduled(bench, "S-1", look="natural")
    assert "pores_unfilled" not in {f.code for f in judge(bench, bench.would_coat("S-1"))}
