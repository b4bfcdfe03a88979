"""A quoter that knows the nature of a world, but not its future: how well promises can be made.

It runs the reference model from what the ledger holds, with the true hands, finish and chances, and
lets orders go on coming as they do. Slow; for judging the judges and for the limit of sharpness.
"""

from collections.abc import Generator
from dataclasses import replace
from datetime import date, timedelta
from math import exp, sqrt
from typing import Any

import numpy as np
import simpy
from judging import Table
from shop_spec import Operation, Range
from simpy_shop import Chance, OpenShop, Run
from wall_clock import MINUTE, WallClock
from worlds import DRY_SPREAD, WEATHER_SPREAD, Order
from worlds_known import Known
from worlds_truth import Lived, NatureChance

FUTURE_DAYS = 25


class KnowingChance(NatureChance):
    """Nature's own chances, but tomorrow's weather and bad weeks are only known on average."""

    def wait_min(self, run: Run, wait: Range, at: int) -> float:
        if wait is run.batch.ready_in:
            step = run.batch.operations[run.batch.position - 1]
            return Chance.wait_min(self, run, wait, at) * self.nature.finish[step.product]
        spread = sqrt(DRY_SPREAD**2 + WEATHER_SPREAD**2) * float(self.rng.standard_normal())
        step = run.batch.operations[run.position]
        return wait.p50 * self.nature.finish[step.product] * exp(spread)

    def judged(self, run: Run, step: Operation, pieces: int, at: int) -> tuple[int, int]:
        kind = self.world.kinds[run.batch.id.removeprefix("~").partition("~")[0]]
        burst = float(np.mean(self.nature.burst))
        scrap = int(self.rng.binomial(pieces, self.nature.scrap))
        return int(self.rng.binomial(pieces - scrap, self.nature.rework[kind] * burst)), scrap

    def hands_on_min(self, run: Run, step: Operation, pieces: int, at: int) -> float:
        kind = self.world.kinds[run.batch.id.removeprefix("~").partition("~")[0]]
        plan = step.setup_min + step.piece_min * pieces
        return plan * self.nature.hands[kind, step.name] * self.spread(step.spread)


class Knowing:
    """Quotes by so many replications of the reference model."""

    def __init__(self, lived: Lived, replications: int = 100, future: bool = True) -> None:
        self.lived, self.replications, self.future = lived, replications, future

    def __call__(self, known: Known, order: str, rng: np.random.Generator) -> Table:
        clock = WallClock(known.shop)
        days: list[date] = []
        for _ in range(self.replications):
            chance = KnowingChance(self.lived.world, rng)
            model = OpenShop(known.shop, chance, clock)
            mine = [run for run in model.runs if run.batch.order == order]
            if self.future:
                model.env.process(self._go_on(model, known, rng))
            while any(run.finished is None for run in mine):
                model.env.step()
            ready = max(run.finished or 0 for run in mine)
            days.append(clock.local_date(clock.pick_up(ready)))
        return [(day, sum(d <= day for d in days) / len(days)) for day in sorted(set(days))]

    def _go_on(
        self, model: OpenShop, known: Known, rng: np.random.Generator
    ) -> Generator[simpy.Event, Any, None]:
        """Let orders such as those of before come as often as in the last eight weeks."""
        now = known.shop.now
        recent = [o for o in known.orders if o.ordered_at > now - timedelta(weeks=8)]
        first = min(o.ordered_at for o in recent)
        gap = (now - first) / timedelta(minutes=1) / max(1, len(recent) - 1)
        at = 0.0
        while at < FUTURE_DAYS * 1440.0:
            wait = float(rng.exponential(gap))
            at += wait
            yield model.env.timeout(round(wait * MINUTE))
            chosen: Order = recent[int(rng.integers(len(recent)))]
            later = now + timedelta(minutes=at) - chosen.ordered_at
            for batch in chosen.batches:
                model.add(
                    replace(
                        batch,
                        id=f"~{batch.id}~{at:.3f}",
                        order=f"~{batch.order}",
                        ordered_at=batch.ordered_at + later,
                        due=batch.due + later,
                    )
                )
