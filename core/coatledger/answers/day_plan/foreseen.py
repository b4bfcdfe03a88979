"""The one course a day plan is written from: the open shop as it is, everything likely, and nothing
begun that has not what it needs.

A batch is stopped where something is missing: pieces that are held, a film that never dries, finish
that is not there. It stands in the simulated shop like the others, only never gets ready; so all
others are chosen by the same rule as in a promise.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Because, Finish
from coatledger.answers.day_plan.batches import Task, lightened
from coatledger.answers.day_plan.cans import Shelf, Short, Use
from coatledger.clocks.answer import PieceClock
from coatledger.clocks.finish_needs import litres_of
from coatledger.computations.calendar import Closure
from coatledger.computations.simulate.once import Job, course
from coatledger.computations.simulate.shop import Batch, Hand, Likely, OpenShop
from coatledger.computations.viscosity import Range
from coatledger.events.setup import Step
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.drying import UNTIL_WARMED
from coatledger.open_shop.known import Known
from coatledger.subjects.asked import Asked
from coatledger.subjects.plan import FILMS

# A wait that no plan sees the end of.
NOT_IN_SIGHT = Likely(144_000.0, 144_000.0, 144_000.0)
# Where finish runs short the batches that lack it are stopped and the course is run again, which
# lets others come forward that may lack it too. In the end nothing that is left lacks any.
RUNS_MOST = 50


class Stopped(Struct, frozen=True, kw_only=True):
    """Why a batch gets no further than to an operation, and what would end it."""

    operation: int
    because: Because
    says: str
    needs: str


class Foreseen(Struct, frozen=True, kw_only=True):
    """The jobs that begin before the plan's end, what each puts on, and what is stopped."""

    shop: OpenShop
    jobs: tuple[Job, ...]
    finishes: Mapping[int, Finish]
    stopped: Mapping[str, Stopped]


def foresee(
    reader: Reader, asked: Asked, facts: Known, shop: OpenShop, tasks: Mapping[str, Task],
    clocks: Mapping[str, PieceClock], begins: datetime, until: datetime,
) -> Foreseen:  # fmt: skip
    """Run the shop from a moment to another; again for each batch whose finish runs short."""
    stopped: dict[str, Stopped] = {}
    for word, task in tasks.items():
        why = _stopped(task, clocks.get(task.first.piece))
        if why is not None:
            stopped[word] = why
    passed_min = (begins - moment(asked.now_us)).total_seconds() / 60.0
    people = _absent(facts, shop, until)
    shelf = Shelf(facts.view, reader, asked, facts.described.zone)
    for _ in range(RUNS_MOST):
        one = _with(shop, tasks, stopped, begins, passed_min, people)
        jobs = course(one, until)
        takes = [n for n, job in enumerate(jobs) if _step(tasks, job) is not None]
        found, short = shelf.allot(tuple(_use(facts, tasks, jobs[n]) for n in takes))
        if not short:
            break
        for less in reversed(short):  # of one batch the first counts
            job = jobs[takes[less.use]]
            stopped[job.batch] = _out_of(job, less)
    else:
        jobs = jobs[: takes[short[0].use]]
    return Foreseen(
        shop=one, jobs=jobs, finishes={takes[n]: finish for n, finish in found.items()},
        stopped=stopped,
    )  # fmt: skip


def _stopped(task: Task, dries: PieceClock | None) -> Stopped | None:
    at = task.batch.position
    if task.first.held:
        return Stopped(operation=at, because="hold", says="held", needs="somebody to release them")
    void = next((face.void for face in dries.faces if face.void), None) if dries else None
    if void is not None:
        return Stopped(
            operation=at, because="film", says=f"the film is void: {void.says}",
            needs="the film taken off (rework, strip)",
        )  # fmt: skip
    if task.batch.ready_in == UNTIL_WARMED:
        return Stopped(
            operation=at, because="film", says="the film does not dry in the air as it is",
            needs="a warmer or drier room",
        )  # fmt: skip
    return None


def _with(
    shop: OpenShop, tasks: Mapping[str, Task], stopped: Mapping[str, Stopped], begins: datetime,
    passed_min: float, people: tuple[Hand, ...],
) -> OpenShop:  # fmt: skip
    """Put the shop at the plan's beginning, each batch no further than it gets."""
    batches = tuple(
        _until(
            replace(lightened(task), passed_min=task.batch.passed_min + passed_min),
            stopped.get(task.batch.id),
        )
        for task in tasks.values()
    )
    days = shop.pick_up_weekdays or (1,)  # nothing is shipped in a course
    return replace(shop, now=begins, batches=batches, people=people, pick_up_weekdays=days)


def _until(batch: Batch, stopped: Stopped | None) -> Batch:
    if stopped is None:
        return batch
    if stopped.operation <= batch.position:
        return replace(batch, ready_in=NOT_IN_SIGHT, passed_min=0.0)
    last = stopped.operation - 1
    waits = replace(batch.operations[last], wait=NOT_IN_SIGHT)
    operations = (*batch.operations[:last], waits, *batch.operations[last + 1 :])
    return replace(batch, operations=operations)


def _absent(facts: Known, shop: OpenShop, until: datetime) -> tuple[Hand, ...]:
    """Who is away without an end is not planned with, whatever a promise may assume."""
    open_ended = {a.person for a in facts.view.shop_state().absences if a.until is None}
    return tuple(
        replace(
            hand,
            absences=tuple(
                Closure(gone.starts_at, max(gone.ends_at, until + timedelta(days=1)))
                for gone in hand.absences
            ),
        )
        if hand.id in open_ended
        else hand
        for hand in shop.people
    )


def _step(tasks: Mapping[str, Task], job: Job) -> Step | None:
    """Return the step of a job that puts something on."""
    task = tasks[job.batch]
    steps = [task.steps[n] for n in task.jobs[job.operation]]
    return next((step for step in steps if step.act in FILMS), None)


def _use(facts: Known, tasks: Mapping[str, Task], job: Job) -> Use:
    task, step = tasks[job.batch], _step(tasks, job)
    assert step is not None
    word = task.product(step)
    product = facts.view.product(word)
    one = litres_of(task.first.coat_area_m2, task.faces, step, product, task.first)
    number = task.batch.pieces
    return Use(
        product=word,
        litres=Range(*(litre * number for litre in (one.low, one.likely, one.high))),
        begins=job.begins,
        ends=job.ends,
        gun=job.gun,
        held=_held(facts, job.gun),
    )


def _held(facts: Known, gun: str) -> str | None:
    filled = facts.view.gun(gun).set_up if gun else None
    return filled.lot if filled else None


def _out_of(job: Job, short: Short) -> Stopped:
    missing_l = max(short.needed_l - short.on_hand_l, 0.0)
    here = f"{short.on_hand_l:.2f} L are here" if short.on_hand_l else "none is here"
    return Stopped(
        operation=job.operation, because="finish",
        says=f"{short.needed_l:.2f} L of {short.product} are needed and {here}",
        needs=f"{missing_l:.2f} L of {short.product}" if missing_l else f"{short.product}",
    )  # fmt: skip
