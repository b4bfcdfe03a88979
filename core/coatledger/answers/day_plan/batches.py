"""The open batches as a day plan sees them: pieces, order, and the steps each job is made of."""

from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Promised
from coatledger.computations.simulate.shop import Batch, Operation
from coatledger.events.setup import Step
from coatledger.open_shop.asked_for import piece_of, wanted_of
from coatledger.open_shop.known import STOCK_DUE, Known, work_of
from coatledger.open_shop.steps import Work, is_coat, minutes_of
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import places_left, plan

A_MOMENT_MIN = 0.01


class Task(Struct, frozen=True, kw_only=True):
    """A batch of the simulated shop with what the plan says of it. `jobs` holds, for each of its
    operations, the places among `steps` of what is still to be done in it; `first` is its first
    piece, or what such a piece will be."""

    batch: Batch
    first: Piece
    order: Order | None
    line: str | None
    steps: tuple[Step, ...]
    jobs: tuple[tuple[int, ...], ...]
    work: Work
    faces: tuple[str, ...]
    coats_done: int

    @property
    def pieces(self) -> tuple[str, ...]:
        """The words of its pieces; none while they were only ordered."""
        return self.batch.members

    @property
    def unnamed(self) -> int:
        """How many of its pieces nobody has named yet."""
        return self.batch.pieces - len(self.batch.members)

    @property
    def due(self) -> date | None:
        """By when it is due; None for what is made for stock."""
        return None if self.batch.due == STOCK_DUE else self.batch.due

    @property
    def promise(self) -> Promised | None:
        """What its customer was told last."""
        mine = self.order.told_of(self.line) if self.order else ()
        if not mine:
            return None
        return Promised(
            ships_by=date.fromisoformat(mine[-1].ships_by), level_pct=mine[-1].level_pct
        )

    def minutes(self, place: int) -> float:
        """Return the minutes a step takes on one of its pieces."""
        return minutes_of(self.steps[place], self.work)

    def product(self, step: Step) -> str | None:
        """Name what a step puts on: as it says, or what the pieces were coated with before."""
        return step.product or (self.work.product if step.act == "coat" else None)

    def films_before(self, operation: int) -> bool:
        """Whether anything was put on the pieces before this operation, or will be by then."""
        if self.first.coats or self.first.layers:
            return True
        before = self.batch.operations[self.batch.position : operation]
        return any(is_coat(one) for one in before)


def tasks(facts: Known, batches: Sequence[Batch]) -> Mapping[str, Task]:
    """Return each batch with its pieces, order and steps."""
    return {batch.id: _task(facts, batch) for batch in batches}


def _task(facts: Known, batch: Batch) -> Task:
    view = facts.view
    first, order, line = _first(facts, batch)
    described = plan(first, view.schedule(first.schedule))
    work, remaining = work_of(facts, first)
    whole = _places(batch.operations, described.steps)
    left = places_left(described.steps, remaining)
    again = first.stage == "in_rework"
    jobs = tuple(
        tuple(n for n in places if n in left) if k == batch.position and not again else places
        for k, places in enumerate(whole)
    )
    return Task(
        batch=batch, first=first, order=order, line=line, steps=described.steps, jobs=jobs,
        work=work, faces=described.faces, coats_done=described.coats_done,
    )  # fmt: skip


def lightened(task: Task) -> Batch:
    """Return the batch without the minutes of steps that are done of its next job already."""
    batch, at = task.batch, task.batch.position
    whole = _places(batch.operations, task.steps)[at]
    if len(task.jobs[at]) == len(whole):
        return batch
    usual = sum(task.minutes(n) for n in whole)
    share = sum(task.minutes(n) for n in task.jobs[at]) / usual if usual else 1.0
    operation = batch.operations[at]
    kept = replace(operation, piece_min=max(operation.piece_min * share, A_MOMENT_MIN))
    operations = (*batch.operations[:at], kept, *batch.operations[at + 1 :])
    return replace(batch, operations=operations)


def _first(facts: Known, batch: Batch) -> tuple[Piece, Order | None, str | None]:
    """Return the piece that stands for a batch, and the order and line it is for."""
    view = facts.view
    if batch.members:
        first = view.piece(batch.members[0])
        return first, view.order(first.order) if first.order else None, first.line
    # A batch of which no piece has a name is called by its order and line.
    word, _, rest = batch.id.removeprefix("order:").partition("/")
    order = view.order(word)
    fits = [one for one in order.lines if rest == one.line or rest.startswith(f"{one.line}.")]
    line = max(fits, key=lambda one: len(one.line))
    piece, _ = piece_of(facts, wanted_of(line))
    assert piece is not None
    return piece, order, line.line


def _places(operations: Sequence[Operation], steps: Sequence[Step]) -> tuple[tuple[int, ...], ...]:
    """Find the places of each operation's steps: its name is their acts, in their order."""
    found: list[tuple[int, ...]] = []
    at = 0
    for operation in operations:
        inside: list[int] = []
        acts = () if operation.needs == "nobody" else operation.name.split("+")
        for act in acts:
            while at < len(steps) and steps[at].act != act:
                at += 1
            if at < len(steps):
                inside.append(at)
            at += 1
        found.append(tuple(inside))
    return tuple(found)
