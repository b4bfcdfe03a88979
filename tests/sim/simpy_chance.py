"""What one replication of the reference model draws; numbers in comments are those of the words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from shop_spec import Batch, Operation, Range, Shop, Unforeseen
from wall_clock import WallClock

if TYPE_CHECKING:
    from simpy_shop import Run

Z90 = 1.2815515655446004  # the 90 % point of the standard normal
SPELLS_MOST, DAYS_MOST = 6, 3_000


def value_min(span: Range, z: float) -> float:
    """Return the value of a range at a standard normal (14)."""
    low, middle, high = (math.log1p(p) for p in (span.p10, span.p50, span.p90))
    slope = (high - middle) if z >= 0.0 else (middle - low)
    return max(0.0, math.expm1(middle + z * slope / Z90))


class Chance:
    """What one replication draws (29). Another world may answer otherwise."""

    def __init__(self, shop: Shop, rng: np.random.Generator) -> None:
        self.shop = shop
        self.rng = rng
        self.shop_factor = float(rng.standard_normal())

    def hands_on_min(self, run: Run, step: Operation, pieces: int, at: int) -> float:
        return (step.setup_min + step.piece_min * pieces) * self.spread(step.spread)

    def spread(self, spread: float) -> float:
        return math.exp(spread * float(self.rng.standard_normal())) if spread else 1.0

    def wait_min(self, run: Run, wait: Range, at: int) -> float:
        share = self.shop.shop_share
        own = float(self.rng.standard_normal())
        z = math.sqrt(share) * self.shop_factor + math.sqrt(1.0 - share) * own
        return value_min(wait, z)

    def lead_min(self, lead: Range) -> float:
        return value_min(lead, float(self.rng.standard_normal()))

    def comes(self, batch: Batch) -> bool:
        """Say whether a batch comes at all (25)."""
        return batch.chance >= 1.0 or float(self.rng.random()) < batch.chance

    def spells(self, unforeseen: Unforeseen, clock: WallClock) -> list[tuple[int, int]]:
        """Return from when to when somebody is away without having told (30)."""
        found: list[tuple[int, int]] = []
        day = 1
        while unforeseen.a_day > 0.0 and len(found) < SPELLS_MOST and day < DAYS_MOST:
            if float(self.rng.random()) < unforeseen.a_day:
                length = int(self.rng.choice(unforeseen.days))
                found.append((clock.midnight(day), clock.midnight(day + length)))
                day += length
            day += 1
        return found

    def judged(self, run: Run, step: Operation, pieces: int, at: int) -> tuple[int, int]:
        """Return how many pieces are sent back and how many are scrap (16)."""
        draws = self.rng.random(pieces)
        scrap = int(np.count_nonzero(draws < step.scrap_chance))
        either = int(np.count_nonzero(draws < step.scrap_chance + step.rework_chance))
        return either - scrap, scrap
