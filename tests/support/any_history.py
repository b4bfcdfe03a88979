"""Random small histories: late facts, corrections of corrections' originals, batches, refusals."""

from __future__ import annotations

import random
from datetime import timedelta
from typing import Any

from bench import Bench
from coatledger.events.about import EventVoided, FindingSettled
from coatledger.events.base import Fact
from coatledger.events.catalogue import EventAmended
from coatledger.events.coating import CoatApplied, Moved
from coatledger.events.judging import DefectFound, Inspected, ReworkFinished, ReworkStarted
from coatledger.events.leaving import Packed, Returned, Shipped
from coatledger.events.orders import PieceAllotted
from coatledger.events.preparing import Sanded
from coatledger.events.room_gun import ClimateRead, GunFlushed, GunSetUp, Reading
from coatledger.ledger.store import Store
from msgspec.structs import replace

PIECES = ("A", "B", "C", "D")


def any_history(store: Store, seed: int, acts: int = 60) -> Bench:
    """Live through a random history; what is refused is simply not recorded."""
    rng = random.Random(seed)
    bench = Bench(store=store).open_shop()
    bench.pieces(*PIECES[: rng.randint(2, 4)])
    told: list[Any] = []
    while len(told) < acts:
        bench.later(rng.random() * 3)
        facts = [_act(bench, rng, told) for _ in range(rng.choice((1, 1, 1, 4)))]
        receipts = bench.post(*facts, lenient=True)
        told += [fact for fact, one in zip(facts, receipts, strict=True) if not one.faults]
    return bench


def _act(bench: Bench, rng: random.Random, told: list[Any]) -> Fact:
    plain = [one for one in told if not isinstance(one, (EventVoided, EventAmended))]
    if plain and rng.random() < 0.2:
        return _correction(bench, rng, rng.choice(plain))
    # A fifth is told late, up to a day after it happened.
    late = timedelta(hours=rng.random() * 24) if rng.random() < 0.2 else timedelta(0)
    bench.now -= late
    fact = _plain(bench, rng, plain)
    bench.now += late
    return fact


def _correction(bench: Bench, rng: random.Random, original: Any) -> Fact:
    if rng.random() < 0.4:
        return bench.fact(EventVoided, original=original.id, reason="never_happened")
    earlier = original.occurred_at - timedelta(hours=rng.random() * 5)
    changed = replace(original, occurred_at=earlier)
    if hasattr(original, "pieces") and rng.random() < 0.5:
        changed = replace(changed, pieces=_words(rng))
    if isinstance(original, ClimateRead):
        changed = replace(changed, readings=(_reading(rng),))
    return bench.fact(EventAmended, original=original.id, replacement=changed, reason="wrong_value")


def _plain(bench: Bench, rng: random.Random, told: list[Any]) -> Fact:
    pieces = _words(rng)
    made: tuple[tuple[Any, dict[str, Any]], ...] = (
        (ClimateRead, {"room": "spray", "readings": (_reading(rng), _reading(rng))}),
        (GunSetUp, {"gun": "g1", "lot": "can-1", "nozzle_mm": 1.3}),
        (GunFlushed, {"gun": "g1"}),
        (Sanded, {"pieces": pieces, "stage": "bare", "grit": 150}),
        (CoatApplied, {"pieces": pieces, "lot": "can-1", "gun": "g1", "room": "spray",
                       "amount_l": round(rng.random(), 3) + 0.001}),
        (Moved, {"pieces": pieces, "room": "spray"}),
        (Inspected, {"pieces": pieces, "point": "final", "passed": rng.random() < 0.7}),
        (DefectFound, {"pieces": pieces, "kind": "nib"}),
        (ReworkStarted, {"pieces": pieces, "remedy": "recoat", "because": "nib"}),
        (ReworkFinished, {"pieces": pieces, "done": "recoat"}),
        (Packed, {"pieces": pieces, "touching": "paper"}),
        (Shipped, {"pieces": pieces}),
        (Returned, {"pieces": pieces}),
        (Returned, {"pieces": pieces}),
        (PieceAllotted, {"pieces": pieces, "order": None}),
    )  # fmt: skip
    if told and rng.random() < 0.05:
        about = rng.choice(told).id
        return bench.fact(FindingSettled, about=about, code="some_finding", how="accepted")
    kind, fields = rng.choice(made)
    fact: Fact = bench.fact(kind, **fields)
    return fact


def _words(rng: random.Random) -> tuple[str, ...]:
    return tuple(rng.sample(PIECES, rng.randint(1, 3)))


def _reading(rng: random.Random) -> Reading:
    return Reading(air_c=round(15 + rng.random() * 10, 1), rh_pct=round(30 + rng.random() * 40, 1))
