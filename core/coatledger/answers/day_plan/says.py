"""A planned act in words: what is done, what to mind, what to be careful of."""

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Span
from coatledger.answers.day_plan.batches import Task
from coatledger.computations.cautions import for_sanding
from coatledger.computations.practice import (
    BARE_GRIT_P,
    BARE_GRIT_UNDER_STAIN_P,
    SCUFF_GRIT_P,
)
from coatledger.computations.simulate.once import Job
from coatledger.events.setup import ProductDescribed, Step
from coatledger.findings.cautioned import cautions_ahead
from coatledger.subjects.view import View

SANDING = ("sand", "scuff")
_WORDS: Mapping[str, str] = {
    "stain": "stain",
    "raise_grain": "wet the wood to raise its grain", "blow_off": "take the dust off",
    "fill_grain": "fill the grain", "rub_out": "rub the last coat out", "polish": "polish",
    "inspect": "look over under a raking light", "pack": "pack",
}  # fmt: skip


def says(task: Task, step: Step, number: int, sheet: ProductDescribed | None) -> str:
    """Say a step in words."""
    product = task.product(step)
    match step.act:
        case "sand":
            return f"sand to P{grit_of(task, step, sheet)}"
        case "scuff":
            return f"scuff with P{grit_of(task, step, sheet)}"
        case "coat":
            of = sum(one.act == "coat" for one in task.steps)
            role = f", {step.role}" if step.role else ""
            return f"coat {number} of {of}{role}: {product or 'no product is named'}"
        case "stain" | "fill_grain":
            return f"{_WORDS[step.act]}{f' with {product}' if product else ''}"
        case _:
            return _WORDS.get(step.act, step.act)


def grit_of(task: Task, step: Step, sheet: ProductDescribed | None) -> int | None:
    """Return the paper for a step: as the schedule says, else the sheet, else as is usual."""
    if step.act not in SANDING:
        return step.grit
    if step.act == "scuff" or task.coats_done:
        before = task.work.product
        return step.grit or (sheet.scuff_grit if sheet and before else None) or SCUFF_GRIT_P[1]
    stained = any(one.act == "stain" for one in task.steps)
    return step.grit or (BARE_GRIT_UNDER_STAIN_P if stained else BARE_GRIT_P)


def notes_of(task: Task, job: Job, first: bool, parts: Sequence[Span]) -> tuple[str, ...]:
    """Say what to mind at a line that is not in the act itself."""
    found: list[str] = []
    if first and job.operation == task.batch.position:
        if task.first.stage == "in_rework":
            remedy = task.first.reworks[-1].remedy.replace("_", " ")
            found.append(f"in rework: {remedy}; record rework_finished when it is done")
        elif task.first.open_defects:
            kinds = dict.fromkeys(fault.kind.replace("_", " ") for fault in task.first.open_defects)
            found.append(f"judge first what was found: {', '.join(kinds)}")
        if task.unnamed and not task.pieces:
            found.append("nobody has named these pieces: record piece_started first")
    if len(parts) > 1:
        left = sum((part.ends - part.begins).total_seconds() for part in parts[1:]) / 60.0
        found.append(f"{left:.0f} min are left when the shop closes")
    return tuple(found)


def cautions_at(view: View, task: Task, step: Step, film_below: bool) -> tuple[str, ...]:
    """Return the codes of what to be careful of; a film that will be there is not cured."""
    if step.act in SANDING and film_below:
        found = for_sanding(cured=False)
    else:
        found = cautions_ahead(view, task.first, _named(task, step))
    return tuple(caution.code for caution in found)


def _named(task: Task, step: Step) -> Step:
    return replace(step, product=task.product(step))
