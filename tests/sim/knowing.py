"""A quoter that knows the nature of a world, but not its future: how well promises can be made.

It runs the reference model from what the ledger holds, with the true hands, finish and chances; it
knows how weather, bad weeks, sickness and orders go on, not what they will be. Slow: it judges the
judges and shows what sharpness can be had.
"""

from collections.abc import Generator
from dataclasses import replace
from datetime import date, timedelta
from math import exp
from typing import Any

import numpy as np
import simpy
from judging import Table
from shop_spec import Operation, Range, Shop, Stretch
from simpy_chance import Chance
from simpy_shop import OpenShop, Run
from wall_clock import MINUTE, WallClock
from worlds import BAD, DRY_SPREAD, GOOD, bursts_from, sick_spells, weather_from
from worlds_known import Known
from worlds_truth import DAY, Lived, NatureChance, day_of, since_start

AHEAD_DAYS = 60
FUTURES = 8  # calendars with closures nobody has told of yet


class KnowingChance(NatureChance):
    """Nature's own chances, going on from today."""

    def __init__(self, lived: Lived, now: int, rng: np.random.Generator) -> None:
        super().__init__(lived.world, rng)
        self.today = now
        weather, burst = self.nature.weather, self.nature.burst
        self.weather = weather_from(weather[day_of(weather, now)], AHEAD_DAYS, rng)
        bad = burst[day_of(burst, now)] == BAD
        self.burst = bursts_from(BAD if bad else GOOD, AHEAD_DAYS, rng)

    def kind(self, run: Run) -> str:
        return self.world.kinds[run.batch.id.removeprefix("~").partition("~")[0]]

    def ahead(self, at: int) -> int:
        return min((self.today + at) // DAY - self.today // DAY, AHEAD_DAYS)

    def wait_min(self, run: Run, wait: Range, at: int) -> float:
        if wait is run.batch.ready_in:
            return Chance.wait_min(self, run, wait, at)
        step = run.batch.operations[run.position]
        noise = DRY_SPREAD * float(self.rng.standard_normal())
        slow = self.nature.finish[step.product] * exp(self.weather[self.ahead(at)] + noise)
        return wait.p50 * slow

    def judged(self, run: Run, step: Operation, pieces: int, at: int) -> tuple[int, int]:
        chance = self.nature.rework[self.kind(run)] * self.burst[self.ahead(at)]
        scrap = int(self.rng.binomial(pieces, self.nature.scrap))
        return int(self.rng.binomial(pieces - scrap, chance)), scrap

    def hands_on_min(self, run: Run, step: Operation, pieces: int, at: int) -> float:
        plan = step.setup_min + step.piece_min * pieces
        return plan * self.nature.hands[self.kind(run), step.name] * self.spread(step.spread)


class Knowing:
    """Quotes by so many replications of the reference model."""

    def __init__(self, lived: Lived, replications: int = 100) -> None:
        self.lived, self.replications = lived, replications

    def __call__(self, known: Known, order: str, rng: np.random.Generator) -> Table:
        now = since_start(self.lived.world, known.shop.now)
        clocks = [WallClock(_closed_more(known.shop, rng)) for _ in range(FUTURES)]
        days: list[date] = []
        for number in range(self.replications):
            clock = clocks[number % FUTURES]
            chance = KnowingChance(self.lived, now, rng)
            model = OpenShop(_sick_more(clock.shop, rng), chance, clock)
            mine = [run for run in model.runs if run.batch.order == order]
            model.env.process(self._go_on(model, known, mine[0].batch.due, rng))
            while any(run.finished is None for run in mine):
                model.env.step()
            ready = max(run.finished or 0 for run in mine)
            days.append(clock.local_date(clock.pick_up(ready)))
        return [(day, sum(d <= day for d in days) / len(days)) for day in sorted(set(days))]

    def _go_on(
        self, model: OpenShop, known: Known, due: date, rng: np.random.Generator
    ) -> Generator[simpy.Event, Any, None]:
        """Let orders such as those of before come as often as in the last eight weeks.

        Only those due no later than the one that is asked for: the rest would come after it.
        """
        now = known.shop.now
        recent = [o for o in known.orders if o.ordered_at > now - timedelta(weeks=8)]
        gap = (now - recent[0].ordered_at) / timedelta(minutes=1) / max(1, len(recent) - 1)
        at = 0.0
        while now + timedelta(minutes=at) < now + timedelta(days=AHEAD_DAYS / 2):
            wait = float(rng.exponential(gap))
            at += wait
            yield model.env.timeout(round(wait * MINUTE))
            chosen = recent[int(rng.integers(len(recent)))]
            later = now + timedelta(minutes=at) - chosen.ordered_at
            for batch in chosen.batches:
                if batch.due + later <= due:
                    name, ordered = f"~{batch.id}~{at:.3f}", batch.ordered_at + later
                    moved = replace(batch, id=name, order=f"~{batch.order}", ordered_at=ordered)
                    model.add(replace(moved, due=batch.due + later))


def _closed_more(shop: Shop, rng: np.random.Generator) -> Shop:
    """Close the shop on days nobody has told of: three spells in some 200 days, told late."""
    closures = [*shop.closures]
    for day in np.flatnonzero(rng.random(AHEAD_DAYS) < 3.0 / 200.0):
        if rng.integers(0, 15) < day:
            length = int(rng.choice((1, 2, 3, 4, 5, 6), p=(0.34, 0.14, 0.13, 0.13, 0.13, 0.13)))
            closures.append(_days(shop, int(day), length))
    return replace(shop, closures=tuple(closures))


def _sick_more(shop: Shop, rng: np.random.Generator) -> Shop:
    people = []
    for person in shop.people:
        spells = sick_spells(1, AHEAD_DAYS, rng)
        more = tuple(_days(shop, day, length + added) for day, length, added in spells)
        people.append(replace(person, absences=(*person.absences, *more)))
    return replace(shop, people=tuple(people))


def _days(shop: Shop, ahead: int, length: int) -> Stretch:
    """Return whole days; a midnight of UTC is near enough for days that are only imagined."""
    start = shop.now.replace(hour=0, minute=0, second=0, microsecond=0) + timedelta(days=ahead)
    return Stretch(start, start + timedelta(days=length))
