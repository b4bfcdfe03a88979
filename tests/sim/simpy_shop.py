"""The open shop as a SimPy model: one process a batch, and a foreman who says what is done next.

The independent reference for ship dates: written from words.md alone and shares nothing with the
product. Times are whole microseconds since the shop's `now`; numbers in comments are those words'.
"""

from bisect import insort
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import simpy
from shop_spec import (
    CURING,
    NOBODY,
    RACK,
    SPRAY,
    Batch,
    Operation,
    Person,
    Range,
    Shop,
    places_taken,
    require_possible,
)
from simpy.events import EventPriority
from simpy_chance import Chance
from wall_clock import MINUTE, WallClock, microseconds, spans

# SimPy runs smaller numbers first: the foreman decides when all else of a moment has happened.
_LAST = EventPriority(2)
Floats = npt.NDArray[np.float64]
Process = Generator[simpy.Event, Any, None]


@dataclass
class Worker:
    """A person, and when he or she is away."""

    person: Person
    away: list[tuple[int, int]]
    busy: bool = False

    def may_begin(self, at: int, clock: WallClock) -> int:
        """Return the first moment from `at` on at which a job may be begun (3)."""
        while True:
            opens = clock.next_open(at)
            ends = [high for low, high in self.away if low <= opens < high]
            if not ends:
                return opens
            at = max(ends)


@dataclass
class Sprayer:
    """A gun, what it holds and whether it is in somebody's hand."""

    id: str
    holds: str
    busy: bool = False


@dataclass
class Run:
    """A batch under way."""

    batch: Batch
    position: int
    left: list[int]
    rounds: list[int]
    key: tuple[int, int, str]
    finished: int | None = None


@dataclass
class Ask:
    """A batch that is ready for hands (21)."""

    run: Run
    step: Operation
    pieces: int
    granted: simpy.Event


@dataclass(frozen=True)
class Seen:
    """Something that happened, for whoever watches: began, ended, dry, back, finished."""

    what: str
    at: int
    run: Run
    index: int
    pieces: int
    person: str = ""
    gun: str = ""
    until: int = 0
    scrap: int = 0


Watcher = Callable[[Seen], None]


class OpenShop:
    """One replication."""

    def __init__(
        self, shop: Shop, chance: Chance, clock: WallClock, watch: Watcher | None = None
    ) -> None:
        self.env = simpy.Environment(initial_time=0)
        self.shop, self.chance, self.clock, self.watch = shop, chance, clock, watch
        shut = chance.spells(shop.shut, clock)
        self.workers = [
            Worker(p, [*spans(shop.now, p.absences), *shut, *chance.spells(shop.away, clock)])
            for p in shop.people
        ]
        self.sprayers = [Sprayer(gun.id, gun.holds) for gun in shop.guns]
        self.booth_free = shop.booth_places
        self.free = {RACK: shop.rack_places, CURING: shop.curing_places}
        self.asks: list[Ask] = []
        self.called = False
        self.alarm = -1
        self.runs = [self.add(batch) for batch in shop.batches]

    @property
    def now(self) -> int:
        return int(self.env.now)

    def add(self, batch: Batch) -> Run:
        """Let a batch begin its way, from where the data says it is."""
        key = (batch.due.toordinal(), microseconds(self.shop.now, batch.ordered_at), batch.id)
        run = Run(batch, batch.position, [*batch.left_now()], [*batch.rounds_now()], key)
        if not self.chance.comes(batch):
            run.finished = 0
            return run
        for kind in self.free:
            self.free[kind] -= places_taken(batch, kind)
        if job := batch.in_hand:
            self._worker(job.person).busy = True
            if job.gun:
                self._sprayer(job.gun).busy = True
                self.booth_free -= 1
        self.env.process(self._life(run))
        return run

    def run(self) -> None:
        """Run until nothing is left to do."""
        self.env.run()
        assert all(run.finished is not None for run in self.runs), "a batch never finished"

    # ---- the way of a batch

    def _life(self, run: Run) -> Process:
        batch = run.batch
        if job := batch.in_hand:
            work = round(job.minutes * self.chance.spread(job.spread) * MINUTE)
            yield from self._hands(run, work, self._worker(job.person), self._gun(job.gun))
            yield from self._after(run)
        else:
            draw = self._wait_min(run) if batch.ready_is_wait else self.chance.lead_min
            yield self.env.timeout(round(draw(batch.ready_in) * MINUTE))
            if batch.place_held:
                self._free_places(batch.place_held, run.left[run.position - 1])
            self._see("dry" if batch.ready_is_wait else "supplied", run)
        while run.position < len(batch.operations):
            yield from self._operation(run)
            yield from self._after(run)
        run.finished = self.now
        self._see("finished", run)

    def _operation(self, run: Run) -> Process:
        step, pieces = run.batch.operations[run.position], run.left[run.position]
        minutes = self.chance.hands_on_min(run, step, pieces, self.now)
        work = round(minutes * MINUTE)
        if step.needs == NOBODY:
            self._see("began", run)
            yield self.env.timeout(work)
            self._see("ended", run)
            return
        ask = Ask(run, step, pieces, self.env.event())
        insort(self.asks, ask, key=lambda other: other.run.key)
        self._call_foreman()
        worker, sprayer, changes = yield ask.granted
        yield from self._hands(run, work + changes, worker, sprayer)

    def _hands(self, run: Run, work: int, worker: Worker, sprayer: Sprayer | None) -> Process:
        until = self.clock.after_work(self.now, work)
        gun = sprayer.id if sprayer else ""
        self._see("began", run, worker.person.id, gun, until)
        yield self.env.timeout(until - self.now)
        self._see("ended", run, worker.person.id, gun)
        worker.busy = False
        if sprayer:
            sprayer.busy = False
            self.booth_free += 1
        self._call_foreman()

    def _after(self, run: Run) -> Process:
        """Inspect, or wait, and say what the batch does next (12, 13, 16 to 19)."""
        index = run.position
        step, pieces = run.batch.operations[index], run.left[index]
        if step.inspects() and run.rounds[index] < step.rounds:
            again, scrap = self.chance.judged(run, step, pieces, self.now)
            if again + scrap:
                yield from self._send_back(run, again, scrap)
                return
        if step.wait:
            minutes = self.chance.wait_min(run, step.wait, self.now)
            yield self.env.timeout(round(minutes * MINUTE))
            if step.place:
                self._free_places(step.place, pieces)
            self._see("dry", run)
        run.position += 1

    def _send_back(self, run: Run, again: int, scrap: int) -> Process:
        index = run.position
        target = index - run.batch.operations[index].back
        run.rounds[index] += 1
        run.left[target : index + 1] = [again + scrap] * (index + 1 - target)
        if scrap:
            run.left[:target] = [scrap] * target
        self._see("back", run, scrap=scrap)
        run.position = 0 if scrap else target
        if scrap:
            yield self.env.timeout(round(self.chance.lead_min(self.shop.joinery_lead) * MINUTE))
            self._see("supplied", run)

    # ---- the foreman

    def _call_foreman(self, at: int | None = None) -> None:
        """Have the foreman look once, when everything else of the moment has taken effect (20)."""
        if at is None:
            if self.called:
                return
            self.called = True
        else:
            if self.alarm > self.now and self.alarm <= at:
                return
            self.alarm = at
        call = self.env.event()
        call._ok, call._value = True, None
        call.callbacks.append(self._look)
        self.env.schedule(call, _LAST, 0 if at is None else at - self.now)

    def _look(self, _: simpy.Event) -> None:
        now = self.now
        self.called = False
        if not self.asks:
            return
        later: list[int] = []
        for worker in self.workers:
            if worker.busy:
                continue
            begins = worker.may_begin(now, self.clock)
            if begins > now:
                later.append(begins)
            elif ask := self._next():
                self._give(ask, worker)
        if self.asks and later:
            self._call_foreman(min(later))

    def _next(self) -> Ask | None:
        """Return the first of the jobs that can begin now (21, 22)."""
        at_hand = {sprayer.holds for sprayer in self.sprayers if not sprayer.busy}
        after_change: Ask | None = None
        for ask in self.asks:  # by due date, age and id
            if after_change and ask.run.batch.due != after_change.run.batch.due:
                break
            step = ask.step
            if step.place and self.free[step.place] < ask.pieces:
                continue
            if step.needs == SPRAY:
                if not (at_hand and self.booth_free):
                    continue
                if step.product not in at_hand:
                    after_change = after_change or ask
                    continue
            return ask
        return after_change

    def _give(self, ask: Ask, worker: Worker) -> None:
        self.asks.remove(ask)
        worker.busy = True
        if ask.step.place:
            self.free[ask.step.place] -= ask.pieces
        sprayer, changes = None, 0
        if ask.step.needs == SPRAY:
            idle = [sprayer for sprayer in self.sprayers if not sprayer.busy]
            # `min` takes the first of equals, so the list decides between two alike (23).
            sprayer = min(idle, key=lambda gun: gun.holds != ask.step.product)
            if sprayer.holds != ask.step.product:
                sprayer.holds = ask.step.product
                changes = round(self.shop.changeover_min * MINUTE)
            sprayer.busy = True
            self.booth_free -= 1
        ask.granted.succeed((worker, sprayer, changes))

    # ---- small things

    def _free_places(self, kind: str, pieces: int) -> None:
        self.free[kind] += pieces
        self._call_foreman()

    def _wait_min(self, run: Run) -> Callable[[Range], float]:
        return lambda wait: self.chance.wait_min(run, wait, self.now)

    def _worker(self, name: str) -> Worker:
        return next(worker for worker in self.workers if worker.person.id == name)

    def _sprayer(self, name: str) -> Sprayer:
        return next(sprayer for sprayer in self.sprayers if sprayer.id == name)

    def _gun(self, name: str) -> Sprayer | None:
        return self._sprayer(name) if name else None

    def _see(
        self, what: str, run: Run, person: str = "", gun: str = "", until: int = 0, scrap: int = 0
    ) -> None:
        if self.watch:
            index = min(run.position, len(run.left) - 1)
            self.watch(Seen(what, self.now, run, index, run.left[index], person, gun, until, scrap))


# ---- many replications


@dataclass(frozen=True)
class Outcome:
    """When each order was ready and went, in minutes since `now`: a row a replication."""

    orders: tuple[str, ...]
    ready_min: Floats
    ships_min: Floats
    lead_days: Floats


def ready_by_order(shop: Shop, runs: Sequence[Run]) -> dict[str, int]:
    """Return when the last batch of each order was finished (26)."""
    ready = dict.fromkeys((batch.order for batch in shop.batches), 0)
    for run in runs:
        assert run.finished is not None
        ready[run.batch.order] = max(ready[run.batch.order], run.finished)
    return ready


def simulate(shop: Shop, seed: int, replications: int) -> Outcome:
    """Return what became of every order in so many replications (26, 27, 29)."""
    require_possible(shop)
    clock = WallClock(shop)
    rows = []
    for replication in range(replications):
        rng = np.random.Generator(np.random.PCG64((seed, replication)))
        model = OpenShop(shop, Chance(shop, rng), clock)
        model.run()
        rows.append(ready_by_order(shop, model.runs))
    orders = tuple(rows[0])
    ordered = {batch.order: batch.ordered_at for batch in shop.batches}
    ordered_us = np.array([microseconds(shop.now, ordered[order]) for order in orders])
    ready = np.array([[row[order] for order in orders] for row in rows], dtype=np.int64)
    ships = np.array([[clock.pick_up(int(at)) for at in row] for row in ready], dtype=np.int64)
    return Outcome(
        orders=orders,
        ready_min=ready / MINUTE,
        ships_min=ships / MINUTE,
        lead_days=(ships - ordered_us) / (MINUTE * 1440.0),
    )
