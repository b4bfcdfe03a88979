"""What leaves on the pick-up days of the plan, and what a day ends with."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime

from coatledger.answers.day_plan.answer import Line
from coatledger.answers.day_plan.batches import Task
from coatledger.answers.day_plan.foreseen import Foreseen
from coatledger.computations.calendar import local_date
from coatledger.open_shop.known import Known
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece

RAGS = "self_heating_rags"


def shipping(
    facts: Known, done: Sequence[Piece], tasks: Mapping[str, Task], foreseen: Foreseen,
    cut_offs: Sequence[datetime],
) -> Iterator[Line]:  # fmt: skip
    """Yield what goes out at each cut-off: whole orders, or what of them is done where they may go
    in parts. `done` are the pieces that need no more work."""
    ready: dict[str, dict[str, datetime]] = {}
    for piece in done:
        if piece.order and not piece.held:
            ready.setdefault(piece.order, {})[piece.piece] = foreseen.shop.now
    for batch, at in _finished(tasks, foreseen).items():
        order = tasks[batch].order
        if order is not None:
            ready.setdefault(order.order, {}).update(dict.fromkeys(tasks[batch].pieces, at))
    gone: set[str] = set()
    for cut_off in cut_offs:
        for word in sorted(ready):
            order = facts.view.order(word)
            pieces = tuple(p for p, at in ready[word].items() if at <= cut_off and p not in gone)
            if order.stage == "open" and pieces and _may_go(order, len(pieces)):
                gone.update(pieces)
                yield _line(order, tuple(sorted(pieces)), cut_off)


def rags(lines: Sequence[Line], zone: str) -> Iterator[Line]:
    """Yield, for each day with oily rags, the line that it does not end without."""
    last: dict[date, Line] = {}
    for line in lines:
        if RAGS in line.cautions:
            day = local_date(line.ends, zone)
            if day not in last or line.ends > last[day].ends:
                last[day] = line
    for line in last.values():
        yield Line(
            act="rags", begins=line.ends, ends=line.ends, by=line.by, room=line.room,
            says="put the oily rags where they cannot heat up, and record it", cautions=(RAGS,),
        )  # fmt: skip


def _finished(tasks: Mapping[str, Task], foreseen: Foreseen) -> Mapping[str, datetime]:
    """Return when the batches are done whose last job lies within the plan."""
    return {
        job.batch: job.ready
        for job in foreseen.jobs
        if job.batch not in foreseen.stopped and not any(tasks[job.batch].jobs[job.operation + 1 :])
    }


def _may_go(order: Order, pieces: int) -> bool:
    ordered = sum(line.quantity for line in order.lines)
    return not order.together or len(order.shipped) + pieces >= ordered


def _line(order: Order, pieces: tuple[str, ...], cut_off: datetime) -> Line:
    told = order.told[-1] if order.told else None
    due = told.ships_by if told else order.wanted_by
    return Line(
        act="ship", begins=cut_off, ends=cut_off, pieces=pieces, order=order.order,
        due=date.fromisoformat(due) if due else None, says="give them to the carrier by then",
    )  # fmt: skip
