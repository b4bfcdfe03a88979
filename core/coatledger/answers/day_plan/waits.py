"""What waits, because of what, until when, and what would end it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta

from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Because, Waiting
from coatledger.answers.day_plan.batches import Task
from coatledger.answers.day_plan.films import minute
from coatledger.answers.day_plan.foreseen import Foreseen, Stopped
from coatledger.computations.calendar import (
    Closure,
    Intervals,
    from_microseconds,
    local_date,
    microseconds,
)
from coatledger.computations.simulate.once import Job
from coatledger.computations.simulate.shop import Batch

NEEDS: Mapping[Because, str] = {
    "clock": "nothing but time in this air",
    "people": "another pair of hands",
    "gun": "another gun, or the booth free",
    "rack": "places on the rack",
    "closed": "somebody at work outside the hours",
}

# A film that is ready so little before somebody's hands are is what the pieces wait for.
A_WHILE = timedelta(minutes=15)


def waits(
    tasks: Mapping[str, Task], foreseen: Foreseen, open_: Intervals, today: date, zone: str
) -> tuple[Waiting, ...]:
    """Return what is not begun at once, the soonest due first."""
    jobs: dict[str, list[Job]] = {}
    for job in foreseen.jobs:
        jobs.setdefault(job.batch, []).append(job)
    found: list[Waiting] = []
    for batch in foreseen.shop.batches:
        task, stopped = tasks[batch.id], foreseen.stopped.get(batch.id)
        mine = jobs.get(batch.id, [])
        if stopped is not None:
            found.append(_of_stopped(task, stopped))
        if mine and mine[0].begins > foreseen.shop.now:
            one = _later(task, batch, mine[0], foreseen, open_, zone)
            found.append(replace(one, today=local_date(mine[0].begins, zone) == today))
        elif not mine and (stopped is None or stopped.operation > batch.position):
            found.append(_later(task, batch, None, foreseen, open_, zone))
    far = date.max
    return tuple(sorted(found, key=lambda one: (one.due or far, one.until or _FAR, one.pieces)))


_FAR = from_microseconds(4_000_000_000_000_000)


def _of_stopped(task: Task, stopped: Stopped) -> Waiting:
    return replace(
        _waiting(task, stopped.operation), because=stopped.because, says=stopped.says,
        needs=stopped.needs,
    )  # fmt: skip


def _later(
    task: Task, batch: Batch, job: Job | None, foreseen: Foreseen, open_: Intervals, zone: str
) -> Waiting:
    """Say why a batch is not begun before its first job, or not at all within the plan."""
    shop, at = foreseen.shop, batch.position
    one = replace(_waiting(task, at), until=job.begins if job else None)
    left = [max(p - batch.passed_min, 0.0) for p in _points(batch)]
    times = [minute(shop.now + timedelta(minutes=minutes)) for minutes in left]
    if left[1] > 0.0:
        dries = batch.ready_is_wait
        one = replace(one, earliest=times[0], likely=times[1], sure=times[2])
        if not dries:
            says = "the joinery has not brought them yet"
            if not task.pieces:
                says = "ordered, and nobody has named the pieces yet"
            return replace(one, because="joinery", says=says, needs="the pieces from the joinery")
    ready = max(times[1], shop.now)
    opens = _opens(open_, ready)
    waits_after = job is not None and job.begins - (opens or ready) > A_WHILE
    because, says = _short_of(task, batch, foreseen, opens, ready)
    if left[1] > 0.0:
        because, says = "clock", f"the film dries{f'; then {says}' if waits_after else ''}"
    return replace(one, because=because, says=says, needs=NEEDS[because])


def _short_of(
    task: Task, batch: Batch, foreseen: Foreseen, opens: datetime | None, ready: datetime
) -> tuple[Because, str]:
    """Say what a batch that is ready lacks at the moment at which it could be begun."""
    shop = foreseen.shop
    others = [job for job in foreseen.jobs if job.batch != batch.id]
    first = next((job for job in foreseen.jobs if job.batch == batch.id), None)
    if opens is None or (ready < opens and first is not None and first.begins <= opens):
        return "closed", "the shop is closed until then"
    here = [n for n, hand in enumerate(shop.people) if not _away(hand.absences, opens)]
    busy = {job.person for job in others if job.begins <= opens < job.ends}
    if not here:
        return "people", "nobody is here"
    if all(n in busy for n in here):
        return "people", "all hands are busy with what comes first"
    operation = batch.operations[batch.position]
    guns = {job.gun for job in others if job.gun and job.begins <= opens < job.ends}
    if operation.needs == "spray" and len(guns) >= min(len(shop.guns), shop.booth_places):
        return "gun", "the gun is busy with what comes first"
    if operation.place == "rack":
        return "rack", "there is no place on the rack for it"
    return "people", "other work comes first"


def _away(absences: Sequence[Closure], at: datetime) -> bool:
    return any(gone.starts_at <= at < gone.ends_at for gone in absences)


def _opens(open_: Intervals, at: datetime) -> datetime | None:
    """Return the first open moment from a time on."""
    at_us = microseconds(at)
    for opens, closes in open_:
        if closes > at_us:
            return from_microseconds(max(int(opens), at_us))
    return None


def _waiting(task: Task, operation: int) -> Waiting:
    places = task.jobs[operation] if operation < len(task.jobs) else ()
    step = task.steps[places[0]] if places else None
    return Waiting(
        because="clock", says="", needs="", pieces=task.pieces, unnamed=task.unnamed,
        order=task.order.order if task.order else None, due=task.due,
        act=step.act if step else _next_act(task, operation),
    )  # fmt: skip


def _next_act(task: Task, operation: int) -> str | None:
    later = (places for places in task.jobs[operation:] if places)
    return next((task.steps[places[0]].act for places in later), None)


def _points(batch: Batch) -> Iterator[float]:
    yield from (batch.ready_in.p10, batch.ready_in.p50, batch.ready_in.p90)
