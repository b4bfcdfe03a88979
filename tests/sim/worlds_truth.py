"""What happens in a world: the reference model under its nature, and who wrote down what when."""

from collections.abc import Generator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from math import exp
from typing import Any

import numpy as np
import simpy
from shop_spec import Operation, Range
from simpy_chance import Chance
from simpy_shop import OpenShop, Run, Seen
from wall_clock import MINUTE, WallClock, microseconds
from worlds import DRY_SPREAD, Order, World

DAY = 1440 * MINUTE


@dataclass(frozen=True)
class Entry:
    """Something that happened to a batch, and when the shop's ledger had it; times since start."""

    number: int  # in the order in which things happened
    recorded: int
    at: int
    what: str
    batch: str
    index: int
    pieces: int
    person: str = ""
    gun: str = ""
    scrap: int = 0
    minutes: float = 0.0  # of a job ended: as the person told it


@dataclass(frozen=True)
class Lived:
    """A world lived through to its last order."""

    world: World
    clock: WallClock  # with every closure
    entries: tuple[Entry, ...]  # by recorded
    ships: Mapping[str, int]

    def ship_date(self, order: str) -> date:
        return self.clock.local_date(self.ships[order])

    def judged(self, warm_up_weeks: int = 4) -> tuple[Order, ...]:
        """Return the orders to judge promises by: those after the shop has filled up."""
        since = warm_up_weeks * 7 * DAY
        start, until = self.world.shop.now, self.world.judged_until
        return tuple(
            order
            for order in self.world.orders
            if microseconds(start, order.ordered_at) >= since and order.ordered_at < until
        )


class NatureChance(Chance):
    """Draws as nature does, whatever the plan says; remembers what it gave."""

    def __init__(self, world: World, rng: np.random.Generator) -> None:
        super().__init__(world.shop, rng)
        self.world, self.nature = world, world.nature
        self.took: dict[tuple[str, int], float] = {}

    def hands_on_min(self, run: Run, step: Operation, pieces: int, at: int) -> float:
        kind = self.world.kinds[run.batch.id]
        plan = step.setup_min + step.piece_min * pieces
        minutes = plan * self.nature.hands[kind, step.name] * self.spread(step.spread)
        self.took[run.batch.id, run.position] = minutes
        return minutes

    def wait_min(self, run: Run, wait: Range, at: int) -> float:
        product = run.batch.operations[run.position].product
        weather = self.nature.weather[day_of(self.nature.weather, at)]
        noise = DRY_SPREAD * float(self.rng.standard_normal())
        return wait.p50 * self.nature.finish[product] * exp(weather + noise)

    def lead_min(self, lead: Range) -> float:
        return super().lead_min(lead) * self.nature.supply

    def judged(self, run: Run, step: Operation, pieces: int, at: int) -> tuple[int, int]:
        kind = self.world.kinds[run.batch.id]
        chance = self.nature.rework[kind] * self.nature.burst[day_of(self.nature.burst, at)]
        scrap = int(self.rng.binomial(pieces, self.nature.scrap))
        return int(self.rng.binomial(pieces - scrap, chance)), scrap


def day_of(by_day: tuple[float, ...], at: int) -> int:
    """Return the day's place in a series; what outlives the series stays with its last day."""
    return min(at // DAY, len(by_day) - 1)


def live(world: World) -> Lived:
    """Let a world happen."""
    clock = WallClock(world.shop)
    rng = np.random.Generator(np.random.PCG64((78, world.seed)))
    chance = NatureChance(world, rng)
    notes = np.random.Generator(np.random.PCG64((79, world.seed)))
    entries: list[Entry] = []

    def watch(seen: Seen) -> None:
        entries.append(_entry(len(entries), seen, chance, clock, notes))

    model = OpenShop(world.shop, chance, clock, watch)
    model.env.process(_arrivals(model, world))
    model.run()
    ready: dict[str, int] = {}
    for run in model.runs:
        assert run.finished is not None
        ready[run.batch.order] = max(ready.get(run.batch.order, 0), run.finished)
    ships = {order: clock.pick_up(at) for order, at in ready.items()}
    entries.sort(key=lambda entry: (entry.recorded, entry.number))
    return Lived(world, clock, tuple(entries), ships)


def _arrivals(model: OpenShop, world: World) -> Generator[simpy.Event, Any, None]:
    for order in world.orders:
        yield model.env.timeout(microseconds(world.shop.now, order.ordered_at) - model.now)
        for batch in order.batches:
            model.runs.append(model.add(batch))


def _entry(
    number: int, seen: Seen, chance: NatureChance, clock: WallClock, rng: np.random.Generator
) -> Entry:
    """Return what is written down: mostly at once, now and then hours later, minutes by guess."""
    late = rng.random() < chance.nature.late_share
    delay = int(rng.exponential(180.0) * MINUTE) if late else int(rng.uniform(0.0, 4.0) * MINUTE)
    minutes = 0.0
    if seen.what == "ended":
        guess = exp(0.08 * float(rng.standard_normal()))
        minutes = max(1.0, round(chance.took[seen.run.batch.id, seen.index] * guess))
    return Entry(
        number=number,
        # Nobody sees a film get dry at night: it is found so when the shop opens.
        recorded=clock.next_open(seen.at) if seen.what == "dry" else seen.at + delay,
        at=seen.at,
        what=seen.what,
        batch=seen.run.batch.id,
        index=seen.index,
        pieces=seen.pieces,
        person=seen.person,
        gun=seen.gun,
        scrap=seen.scrap,
        minutes=minutes,
    )


def since_start(world: World, moment: datetime) -> int:
    return microseconds(world.shop.now, moment)
