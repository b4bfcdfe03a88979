"""Invented shops whose pieces wait, dry, are reworked and leave as chance has it, in a ledger."""

from datetime import datetime, timedelta
from typing import Any

import numpy as np
from bench import Bench
from coatledger.events.bare import PieceStarted
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied
from coatledger.events.judging import Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Scrapped, Shipped
from coatledger.ledger.store import Store
from msgspec.structs import replace

DAYS = 90


def bad_weeks(seed: int) -> tuple[Store, datetime]:
    """Play a quarter of a shop that starts a few batches a week; some pieces never leave."""
    rng = np.random.default_rng(seed)
    bench = Bench().open_shop()
    facts: list[Fact] = []
    begun = bench.now
    for number in range(int(rng.integers(60, 120))):
        start = begun + timedelta(minutes=int(rng.integers(1, DAYS * 24 * 60)))
        words = tuple(f"p{number}-{i}" for i in range(int(rng.integers(1, 7))))
        facts += _batch(bench, rng, start, words)
    now = begun + timedelta(days=DAYS)
    for fact in sorted((f for f in facts if f.occurred_at < now), key=lambda f: f.occurred_at):
        bench.take(fact)
    bench.now = now
    return bench.store, now


def _batch(
    bench: Bench, rng: np.random.Generator, start: datetime, words: tuple[str, ...]
) -> list[Fact]:
    def later(at: datetime, hours: float) -> datetime:
        return at + timedelta(hours=float(rng.exponential(hours)) + 0.1)

    def fact(sort: type[Fact], at: datetime, **fields: Any) -> Fact:
        return replace(bench.fact(sort, **fields), occurred_at=at)

    facts = [
        fact(
            PieceStarted, start, pieces=words, kind="shelf", species="ash", coat_area_m2=0.5,
            use="shelf",
        )
    ]  # fmt: skip
    at = start
    for _ in range(3):
        at = later(at, 6.0)
        facts.append(fact(CoatApplied, at, pieces=words, lot="can-1", gun="g1", room="spray"))
    for word in words:
        end = later(at, 12.0)
        if rng.random() < 0.1:
            facts.append(fact(ReworkStarted, end, pieces=(word,), remedy="spot_sand"))
            end = later(end, 3.0)
            facts.append(fact(ReworkFinished, end, pieces=(word,), done="spot_sand"))
        end = later(end, 2.0)
        facts.append(fact(Inspected, end, pieces=(word,), point="final", passed=True))
        gone = later(end, 48.0)
        chance = rng.random()
        if chance < 0.9:
            facts.append(fact(Shipped, gone, pieces=(word,)))
        elif chance < 0.95:
            facts.append(fact(Scrapped, gone, pieces=(word,)))
    return facts
