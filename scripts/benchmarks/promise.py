"""Promises: the engine beside an independent model of the same shop, how long a quote takes, and
whether promises come true in invented shops (`_promise_worlds` says of what those keys are).

Keys: `quantile_error`, the worst of ten shops: how far the engine's quantiles of ready times lie
outside the model's, relative to the lead, on average over orders and levels; a level of the model
is only known within two standard errors of both samples, and what lies within is no error.
`replication_vs_simpy`: how many times quicker than SimPy one replication of 200 open pieces is, in
the same run (`_singly`: each piece a batch of its own). `quote_200_p95_ms`, `quote_2000_p95_ms`: a
quote of 1,000 replications from a ledger with so many open pieces, read and simulated, without ways
to be sooner. `quote_N_ms`: its median with N open pieces; `quote_growth`: the exponent of a line
through the logarithms of these, the smallest shop left out, where what is the same for every shop
still weighs; `quote_growth_n_log_n`, what n log n has between the same sizes: no more is wanted.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from collections.abc import Callable, Sequence
from datetime import date

import numpy as np
from _promise_worlds import calibration, figures, print_shops
from bench import Bench
from coatledger.answers.promises.quote import quote
from coatledger.answers.promises.ways import WAYS
from coatledger.computations.simulate.forward import simulate
from coatledger.events.orders import OrderLine, OrderTaken, PieceAllotted, PromiseMade
from coatledger.events.preparing import Sanded
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.open_shop.asked_for import Wanted
from coatledger.subjects.asked import ask
from open_shops import open_shop
from shop_cases import TEN_SHOPS, TWO_HUNDRED, TWO_HUNDRED_SINGLY
from shop_spec import Shop
from simpy_shop import simulate as reference

LEVELS = (0.5, 0.8, 0.9, 0.95)
MANY = 4_000
SIZES = (50, 100, 200, 500, 1_000, 2_000)
COATS = 3
STEPS = (
    Step(act="sand"),
    *(Step(act="coat", product="clear-w"), Step(act="scuff")) * (COATS - 1),
    Step(act="coat", product="clear-w"),
    Step(act="inspect"),
    Step(act="pack"),
)


def quantile_error(shop: Shop, runs: int) -> float:
    """Return how far the engine's quantiles are outside the model's, relative to the lead."""
    known, found = reference(shop, 7, runs), simulate(open_shop(shop), 1, MANY)
    errors: list[float] = []
    for column, order in enumerate(known.orders):
        theirs, mine = known.ready_min[:, column], found.ready_min[found.row(order)]
        lead = float(known.lead_days[:, column].mean()) * 1440.0
        for level in LEVELS:
            off = 2.0 * (level * (1.0 - level) * (1.0 / runs + 1.0 / MANY)) ** 0.5
            low, high = np.quantile(theirs, (level - off, min(level + off, 1.0)))
            at = float(np.quantile(mine, level))
            errors.append(max(low - at, at - high, 0.0) / lead)
    return statistics.mean(errors)


def seconds(what: Callable[[], object], rounds: int) -> list[float]:
    """Time a call so many times, after one that does not count."""
    what()
    taken = []
    for _ in range(rounds):
        begun = time.perf_counter()
        what()
        taken.append(time.perf_counter() - begun)
    return taken


def replication_vs_simpy(shop: Shop, rounds: int) -> float:
    """Let both take turns; return how many times quicker one replication is."""
    same, ratios = open_shop(shop), []
    simulate(same, 1, 2)
    for number in range(rounds):
        theirs = seconds(lambda number=number: reference(shop, number, 5), 1)[0] / 5  # type: ignore[misc]
        mine = seconds(lambda number=number: simulate(same, number, 1_000), 1)[0] / 1_000  # type: ignore[misc]
        ratios.append(theirs / mine)
    return statistics.median(ratios)


def ledger_of(open_pieces: int) -> Bench:
    """Return a ledger with so many open pieces in orders of one to four, at every stage."""
    bench = Bench("1 06:00").open_shop(people=2, rack_places=max(60, open_pieces))
    bench.climate()
    bench.record(ScheduleDescribed, schedule="three", steps=STEPS)
    orders: list[tuple[str, ...]] = []
    while (begun := sum(map(len, orders))) < open_pieces:
        size = min(1 + len(orders) % 4, open_pieces - begun)
        orders.append(tuple(f"p{begun + n}" for n in range(size)))
    for number, words in enumerate(orders):
        bench.pieces(*words, schedule="three", coat_area_m2=0.4 + 0.2 * (number % 5))
        bench.record(
            OrderTaken, order=f"o{number}", lines=(OrderLine(line="1", quantity=len(words)),)
        )
        bench.record(PieceAllotted, pieces=words, order=f"o{number}")
        bench.record(
            PromiseMade, order=f"o{number}", level_pct=80.0, ships_by=date(2026, 4, 1 + number % 28)
        )
    for coat in range(COATS):
        bench.later(4.0)
        for number, words in enumerate(orders):
            if number % (COATS + 2) > coat:
                if coat == 0:
                    bench.record(Sanded, pieces=words, stage="bare", grit=150, hands_on_min=12.0)
                bench.coat(*words)
    return bench.later(1.0)


def quote_ms(
    open_pieces: int, rounds: int, ways: tuple[str, ...] = (), level: float = 0.95
) -> float:
    """Return the 95 % point of a quote's milliseconds, or another one."""
    bench = ledger_of(open_pieces)
    wanted = (Wanted(quantity=2, schedule="three", species="ash", coat_area_m2=0.6),)
    with bench.store.reading() as reader:
        place = ask(reader, bench.now)
        taken = seconds(lambda: quote(reader, place, wanted, seed=1, ways=ways), rounds)
    return float(np.quantile(taken, level)) * 1_000.0


def growth(rounds: int) -> dict[str, float]:
    """Return the time of a quote by the size of the shop, and how it grows."""
    medians = {size: quote_ms(size, max(rounds // 4, 3), level=0.5) for size in SIZES}
    measured = tuple((size, medians[size]) for size in SIZES[1:])
    wanted = tuple((size, size * math.log(size)) for size in SIZES[1:])
    return {f"quote_{size}_ms": found for size, found in medians.items()} | {
        "quote_growth": exponent(measured), "quote_growth_n_log_n": exponent(wanted),
    }  # fmt: skip


def exponent(points: Sequence[tuple[int, float]]) -> float:
    """Return the slope of the least-squares line through the logarithms of sizes and times.

    >>> round(exponent(((10, 3.0), (100, 300.0))), 6)
    2.0
    """
    sizes, times = (np.log([float(one[n]) for one in points]) for n in (0, 1))
    return float(np.polyfit(sizes, times, 1)[0])


def main(arguments: list[str]) -> int:
    """Measure, print, and as JSON where asked for."""
    parser = argparse.ArgumentParser(prog="scripts/measure promise", description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--runs", type=int, default=1_000, help="replications of the model")
    parser.add_argument("--rounds", type=int, default=20, help="quotes timed")
    parser.add_argument("--only", choices=("worlds", "engine", "growth"), help="a part of it")
    parser.add_argument("--worlds", type=int, default=40, help="invented shops, some 20 s each")
    parser.add_argument("--weeks", type=int, default=26, help="of each; the first four fill it")
    parser.add_argument("--every", type=int, default=1, help="quote each so-manieth order")
    parser.add_argument("--replications", type=int, default=400, help="of each of these quotes")
    parser.add_argument("--processes", type=int, default=2)
    given = parser.parse_args(arguments)
    found: dict[str, float] = {}
    if given.only == "growth":
        found |= growth(given.rounds)
    if given.only in (None, "engine"):
        found |= engine(given.runs, given.rounds)
    if given.only in (None, "worlds"):
        worlds, tenths = calibration(
            range(given.worlds), given.replications, given.every, given.weeks, given.processes
        )
        found |= figures(worlds)
        if not given.json:
            print_shops(worlds)
            print("\n".join(tenths))
    if given.json:
        print(json.dumps({name: round(value, 4) for name, value in found.items()}))
    else:
        for name, value in found.items():
            print(f"{name:<30}{value:12.4f}")
    return 0


def engine(runs: int, rounds: int) -> dict[str, float]:
    """Measure the engine beside the independent model, and the time of a quote."""
    return {
        "quantile_error": max(quantile_error(shop, runs) for shop in TEN_SHOPS),
        "replication_vs_simpy": replication_vs_simpy(TWO_HUNDRED, 5),
        "replication_vs_simpy_singly": replication_vs_simpy(TWO_HUNDRED_SINGLY, 3),
        "quote_200_p95_ms": quote_ms(200, rounds),
        "quote_200_ways_p95_ms": quote_ms(200, rounds, WAYS),
        "quote_2000_p95_ms": quote_ms(2_000, max(rounds // 4, 2)),
        **growth(rounds),
    }
