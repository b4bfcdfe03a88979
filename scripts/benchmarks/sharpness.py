"""How well promises can be made: worlds quoted by one who knows their nature, not their future."""

import argparse
import json
from collections.abc import Sequence
from functools import partial
from multiprocessing import Pool

from _promise_worlds import print_shops
from judge_worlds import WorldJudged, judge_world, report
from knowing import Knowing


def main(arguments: Sequence[str]) -> int:
    """Judge worlds 0 to N and print a row a shop; some 10 ms a replication, so hours for it all."""
    parser = argparse.ArgumentParser(prog="scripts/measure sharpness", description=__doc__)
    parser.add_argument("--worlds", type=int, default=8)
    parser.add_argument("--every", type=int, default=6, help="quote only each so-manieth order")
    parser.add_argument("--replications", type=int, default=80)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(arguments)
    with Pool(asked.processes) as pool:
        work = partial(judged, every=asked.every, replications=asked.replications)
        found = report(pool.map(work, range(asked.worlds), chunksize=1))
    figures = {name: round(value, 4) for name, value in found.figures.items()}
    figures["dishonest_tenths"] = found.dishonest_tenths
    if asked.json:
        print(json.dumps(figures))
    else:
        print_shops(found)
        print("\n".join(f"{name:<28}{value:>8}" for name, value in figures.items()))
    return 0


def judged(seed: int, every: int, replications: int) -> WorldJudged:
    """Return one world's promises."""
    return judge_world(partial(Knowing, replications=replications), seed, every, knowing=True)
