"""Jobs of the course as lines to work from: what, on which pieces, with what, by whom, dry when."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Act, Film, Line, Span
from coatledger.answers.day_plan.batches import Task
from coatledger.answers.day_plan.foreseen import Foreseen
from coatledger.answers.day_plan.guns import Guns
from coatledger.answers.day_plan.says import cautions_at, grit_of, notes_of, says
from coatledger.clocks.answer import Purpose
from coatledger.clocks.clocks import PURPOSES
from coatledger.computations.calendar import Intervals, advance, from_microseconds, microseconds
from coatledger.computations.simulate.once import Job
from coatledger.computations.simulate.shop import Likely
from coatledger.open_shop.drying import UNTIL_WARMED
from coatledger.open_shop.known import Known, laid_of
from coatledger.subjects.counts import words
from coatledger.subjects.plan import FILMS

MINUTE_US = 60_000_000
_NO_ACT = ("cure",)


class Lines:
    """The lines of one course. `open_` are the shop's open stretches from the plan's beginning."""

    def __init__(
        self, facts: Known, tasks: Mapping[str, Task], foreseen: Foreseen, open_: Intervals
    ) -> None:
        self._facts = facts
        self._tasks = tasks
        self._foreseen = foreseen
        self._open = open_
        self._zone = ZoneInfo(facts.described.zone)
        self._rooms = words("room", facts.view.reader)
        self._guns = Guns(facts, foreseen.shop)
        begins = foreseen.shop.now
        self._sure = {b.id: begins + _minutes(b.ready_in.p90 - b.passed_min)
                      for b in (task.batch for task in tasks.values())}  # fmt: skip

    def made(self) -> tuple[Line, ...]:
        """Return all lines, in order of time."""
        found: list[Line] = []
        for number, job in enumerate(self._foreseen.jobs):
            found += self._of_job(number, job)
        found += self._guns.at_the_end()
        return tuple(sorted(found, key=lambda line: (line.begins, line.ends)))

    def _of_job(self, number: int, job: Job) -> Iterator[Line]:
        task = self._tasks[job.batch]
        finish = self._foreseen.finishes.get(number)
        begins = job.begins
        day = begins.astimezone(self._zone).date()
        if job.gun and finish is not None:
            middle, ready = (
                self._after(begins, job.changeover_min * share) for share in (0.5, 1.0)
            )
            yield from self._guns.before(job.gun, finish, day, (begins, middle, ready), _by(job))
            begins = ready
        places = [n for n in task.jobs[job.operation] if task.steps[n].act not in _NO_ACT]
        for line in self._of_steps(task, job, places, begins):
            takes = finish is not None and line.act in FILMS
            yield replace(line, finish=finish) if takes else line
        if job.gun:
            self._guns.sprayed(job.gun, job.ends.astimezone(self._zone).date(), job.ends, _by(job))
        self._sure[job.batch] = job.ends + self._longest(task, job.operation)

    def _of_steps(
        self, task: Task, job: Job, places: Sequence[int], begins: datetime
    ) -> Iterator[Line]:
        """Share the minutes of a job among its steps, one after the other."""
        usual = [max(task.minutes(n), 1e-6) for n in places]
        whole_min = self._open_minutes(begins, job.ends)
        done, start = 0.0, begins
        for n, minutes in zip(places, usual, strict=True):
            done += minutes / sum(usual) * whole_min
            last = n == places[-1]
            ends = job.ends if last else min(self._after(begins, done), job.ends)
            yield self._line(task, job, n, start, ends, first=n == places[0])
            start = ends

    def _line(
        self, task: Task, job: Job, place: int, begins: datetime, ends: datetime, *, first: bool
    ) -> Line:
        step, last = task.steps[place], task.first.coats[-1] if task.first.coats else None
        act: Act = step.act  # type: ignore[assignment]
        sheet = self._facts.view.product(task.product(step))
        is_film, parts = act in FILMS, self._parts(begins, ends)
        number = sum(one.act == "coat" for one in task.steps[: place + 1])
        room = (last.room if last else None) or task.first.room_at(self._facts.view.at_us)
        only = self._rooms[0] if len(self._rooms) == 1 else None
        below = task.films_before(job.operation)
        return Line(
            act=act, begins=begins, ends=ends, pieces=task.pieces, unnamed=task.unnamed,
            says=says(task, step, number, sheet), order=task.order.order if task.order else None,
            due=task.due, promise=task.promise, by=_by(job), room=room or only,
            gun=job.gun or None, coat_number=number if act == "coat" else None,
            wet_film_um=(step.wet_film_um or (sheet.reference_wet_film_um if sheet else None))
            if act == "coat" else None,
            grit=grit_of(task, step, sheet), by_hand=step.by_hand,
            parts=parts if len(parts) > 1 else (),
            try_first=first and below and begins < self._sure[job.batch],
            awaited=task.first.stage == "expected",
            ready=self._ready(task, job, ends) if is_film else (),
            notes=notes_of(task, job, first, parts),
            cautions=cautions_at(self._facts.view, task, step, below),
        )  # fmt: skip

    def _ready(self, task: Task, job: Job, ends: datetime) -> tuple[Film, ...]:
        """Say when a film put on now, and all below it, is ready for what, by the sheets in the air
        as it is."""
        waits = laid_of(self._facts, task.work).films[job.operation]
        return tuple(film_of(purpose, ends, waits[stage]) for purpose, stage in PURPOSES.items())

    def _longest(self, task: Task, operation: int) -> timedelta:
        """Return the sure wait between an operation and the next one that needs hands."""
        total = 0.0
        for n, one in enumerate(task.batch.operations[operation:]):
            if n and one.needs != "nobody":
                break
            total += one.wait.p90 if one.wait else 0.0
        return _minutes(min(total, 1e6))

    def _after(self, begins: datetime, minutes: float) -> datetime:
        work_us = round(minutes * MINUTE_US)
        return from_microseconds(advance(self._open, microseconds(begins), work_us))

    def _open_minutes(self, begins: datetime, ends: datetime) -> float:
        return sum(
            (one.ends - one.begins).total_seconds() for one in self._parts(begins, ends)
        ) / 60.0  # fmt: skip

    def _parts(self, begins: datetime, ends: datetime) -> tuple[Span, ...]:
        """Return the open stretches of an act."""
        first, last = microseconds(begins), microseconds(ends)
        row = int(self._open[:, 1].searchsorted(first, side="right"))
        stop = int(self._open[:, 0].searchsorted(last, side="left"))
        found = [(max(int(a), first), min(int(b), last)) for a, b in self._open[row:stop]]
        return tuple(Span(begins=from_microseconds(a), ends=from_microseconds(b)) for a, b in found)


def film_of(purpose: Purpose, ends: datetime, wait: Likely) -> Film:
    """Put a wait behind the end of an act; one that never ends has no times."""
    if wait == UNTIL_WARMED:
        return Film(purpose=purpose, earliest=None, likely=None, sure=None)
    times = (ends + _minutes(span) for span in (wait.p10, wait.p50, wait.p90))
    earliest, likely, sure = times
    return Film(purpose=purpose, earliest=earliest, likely=likely, sure=sure)


def _by(job: Job) -> int:
    return job.person + 1


def _minutes(minutes: float) -> timedelta:
    return timedelta(seconds=round(minutes * 60.0))
