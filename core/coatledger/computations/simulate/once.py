"""One course of a simulated shop, job by job: who does what, from when to when.

Every duration is at its median and nothing is sent back. Which job is next is decided by the steps
of `step`, the same that decide in a simulation of many courses.
"""

from datetime import datetime, timedelta

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.calendar import HORIZON_DAYS, NeverOpen, microseconds
from coatledger.computations.simulate.calendar import NEVER, Seconds, lay
from coatledger.computations.simulate.draws import lucks
from coatledger.computations.simulate.jobs import begin
from coatledger.computations.simulate.shop import (
    Likely,
    OpenShop,
    Operation,
    require_possible,
)
from coatledger.computations.simulate.state import State
from coatledger.computations.simulate.step import step
from coatledger.computations.simulate.tables import Ints, Tables, tables
from coatledger.computations.simulate.watch import Watch

DAYS_AT_FIRST = 30


class Job(Struct, frozen=True, kw_only=True):
    """One operation of one batch. `person` is a place among the shop's people; `changeover_min` of
    its working minutes go into changing the gun; `ready` is when the wait after it is over."""

    batch: str
    operation: int
    person: int
    begins: datetime
    ends: datetime
    ready: datetime
    gun: str = ""
    changeover_min: float = 0.0


class _Log(Watch):
    """Writes down what begins: batch, operation, and seconds of begin, end and the wait."""

    def __init__(self, table: Tables) -> None:
        super().__init__(table, frozenset(), 1)
        self.begun: list[tuple[int, int, int, int, int]] = []

    def note(
        self, batch: Ints, column: Ints, now: Seconds, end: Seconds, after: Seconds, k: Ints
    ) -> None:
        """Note a job."""
        row = (batch, k, now, end, after)
        self.begun.append(tuple(int(one[0]) for one in row))  # type: ignore[arg-type]


def median(shop: OpenShop) -> OpenShop:
    """Return the same shop with every duration at its median, in which nothing is sent back
    and only that comes which is there."""
    batches = tuple(
        replace(
            batch, ready_in=_middle(batch.ready_in), joinery_lead=_middle(batch.joinery_lead),
            operations=tuple(_certain(operation) for operation in batch.operations),
        )
        for batch in shop.batches
        if batch.chance >= 1.0
    )  # fmt: skip
    return replace(shop, batches=batches, shop_share=0.0)


def course(shop: OpenShop, until: datetime) -> tuple[Job, ...]:
    """Return the jobs that begin before a moment, in the order in which they begin.

    *Reference:* `step`; what is in hand already is not among them. *Valid:* shops that are
    possible; refuses others (`Impossible`), and work that the calendar cannot hold (`NeverOpen`).
    """
    certain = median(shop)
    require_possible(certain)
    if not certain.batches:
        return ()
    days = max(DAYS_AT_FIRST, (until - shop.now).days + DAYS_AT_FIRST)
    while True:
        found = _run(certain, days, until)
        if found is not None:
            return found
        if days >= HORIZON_DAYS:
            raise NeverOpen(f"what is begun does not end within {days} days")
        days = min(days * 4, HORIZON_DAYS)


def _run(shop: OpenShop, days: int, until: datetime) -> tuple[Job, ...] | None:
    """Run a shop once; None when something does not end within so many days of calendar."""
    table, laid = tables(shop), lay(shop, days)
    state = State(shop, table, laid, next(lucks(table, 0, 0.0, 1, 1)))
    log = _Log(table)
    begin(state, log, tuple(p.id for p in shop.people), tuple(g.id for g in shop.guns))
    stop_s = (microseconds(until) - microseconds(laid.origin)) // 1_000_000
    found: list[Job] = []
    while state.begins.size and int(state.begins.min()) < stop_s:
        log.begun.clear()
        person = int(state.begins.argmin(axis=0)[0])
        until_s, holds = state.gun_until.copy(), state.gun_holds.copy()
        if not step(state, log):
            break
        for batch, k, begins_s, ends_s, after_s in log.begun:
            if ends_s + after_s >= NEVER:
                return None
            used = np.flatnonzero(state.gun_until[:, 0] != until_s[:, 0])
            gun = int(used[0]) if used.size else -1
            changed = gun >= 0 and state.gun_holds[gun, 0] != holds[gun, 0]
            found.append(
                Job(
                    batch=table.batches[batch].id,
                    operation=k - int(table.batch_first[batch]),
                    person=person,
                    begins=laid.origin + timedelta(seconds=begins_s),
                    ends=laid.origin + timedelta(seconds=ends_s),
                    ready=laid.origin + timedelta(seconds=ends_s + after_s),
                    gun=shop.guns[gun].id if gun >= 0 else "",
                    changeover_min=shop.changeover_min if changed else 0.0,
                )
            )
    return tuple(found)


def _middle(span: Likely) -> Likely:
    return Likely(span.p50, span.p50, span.p50)


def _certain(operation: Operation) -> Operation:
    wait = None if operation.wait is None else _middle(operation.wait)
    return replace(operation, spread=0.0, wait=wait, rework_chance=0.0, scrap_chance=0.0)
