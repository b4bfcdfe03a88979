"""Described schedules: their versions, and what a batch through one costs, beside another.

Waits are the data sheets' own hours, times what this shop has learned of the product; hands-on
minutes are common practice. The batch is alone in the shop: the promise counts the rest.
"""

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from msgspec import Struct

from coatledger.clocks.runs import NO_FACTORS
from coatledger.clocks.sheets import sheet_of
from coatledger.computations import schedule_cost
from coatledger.computations.drying import STAGES, Spread, spread, stage_hours
from coatledger.computations.practice import PRACTICE
from coatledger.computations.schedule import Proposal, ProposedStep
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.ledger.correct import history
from coatledger.ledger.store import Reader
from coatledger.refusal import refuse
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.described import Schedule
from coatledger.subjects.plan import FILMS
from coatledger.subjects.view import View, fold

SANDABLE, WRAP_SAFE = STAGES.index("sandable"), STAGES.index("wrap_safe")
NO_SHEET_H = (3.0, 24.0)  # recoat and wrap where no product is named; common practice
DAY_H = 9.0
EFFICIENCY_PCT = 65.0


class Version(Struct, frozen=True, kw_only=True):
    """One description of a schedule, counted from 1, in force from its time on."""

    version: int
    since: datetime
    event: UUID
    steps: tuple[Step, ...]


class SchedulesAnswer(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One schedule: its versions, what a batch through it costs now, and, when asked `against`
    another schedule or an earlier version, the two side by side (that one is the first)."""

    position: int
    as_of: datetime | None
    schedule: str
    versions: tuple[Version, ...]
    area_m2: float
    cost: schedule_cost.Cost
    against: str | None = None
    comparison: schedule_cost.Comparison | None = None
    assumed: tuple[str, ...] = ()


def schedule_answer(
    reader: Reader, word: str, asked: Asked, area_m2: float, *, against: str | None = None,
    against_version: int | None = None, factors: Mapping[str, Spread] = NO_FACTORS,
) -> SchedulesAnswer | None:  # fmt: skip
    """Answer a schedule's cost, beside another's; None when it was never described.

    `against` names another schedule (its version in force unless `against_version` says which); a
    version alone is one of this schedule's own.
    """
    view = asked.view(reader)
    here = _versions(view, word, asked)
    if not here:
        return None
    assumed: dict[str, None] = {f"hands-on minutes are {PRACTICE}": None}
    try:
        own = _cost(view, here[-1], area_m2, factors, assumed)
        other, name = _other(view, asked, word, here, against, against_version)
        first = None if other is None else _cost(view, other, area_m2, factors, assumed)
    except ValueError as fault:
        raise refuse("beyond_source", "", str(fault)) from fault
    return SchedulesAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        schedule=word,
        versions=tuple(
            Version(version=n, since=one.occurred_at, event=one.id, steps=one.steps)
            for n, one in enumerate(here, 1)
        ),
        area_m2=area_m2,
        cost=own,
        against=name,
        comparison=None if first is None else schedule_cost.compare(first, own),
        assumed=tuple(assumed),
    )


def _versions(view: View, word: str, asked: Asked) -> tuple[ScheduleDescribed, ...]:
    facts = history(
        view.reader, f"schedule:{word}", known=asked.known, until_us=asked.now_us,
        types=("schedule_described",),
    )  # fmt: skip
    state = fold(f"schedule:{word}", facts)
    return state.versions if isinstance(state, Schedule) else ()


def _other(
    view: View, asked: Asked, word: str, here: tuple[ScheduleDescribed, ...], against: str | None,
    version: int | None,
) -> tuple[ScheduleDescribed | None, str | None]:  # fmt: skip
    if against is None and version is None:
        return None, None
    name = against or word
    found = here if name == word else _versions(view, name, asked)
    if not found:
        raise ValueError(f"no schedule is called {name}")
    number = len(found) if version is None else version
    if not 1 <= number <= len(found):
        raise ValueError(f"version of {name} is {number}; there are 1 to {len(found)}")
    return found[number - 1], f"{name}, version {number}"


def _cost(
    view: View, described: ScheduleDescribed, area_m2: float, factors: Mapping[str, Spread],
    assumed: dict[str, None],
) -> schedule_cost.Cost:  # fmt: skip
    steps = tuple(
        _step(view, described.steps, place, factors, assumed)
        for place in range(len(described.steps))
    )
    coats = sum(step.act == "coat" for step in steps)
    proposal = Proposal(steps, coats, described.faces, ())
    return schedule_cost.cost(proposal, area_m2, EFFICIENCY_PCT, DAY_H)


def _step(
    view: View, steps: tuple[Step, ...], place: int, factors: Mapping[str, Spread],
    assumed: dict[str, None],
) -> ProposedStep:  # fmt: skip
    """One step; after what dries it waits for what comes next: sandable, or wrap-safe to leave."""
    step = steps[place]
    film_um, wait_h = step.wet_film_um, 0.0
    if step.act in FILMS:
        rest = [later.act for later in steps[place + 1 :]]
        goes_on = any(act in ("scuff", "sand", *FILMS) for act in rest)
        product = view.product(step.product)
        if product is None:
            wait_h = NO_SHEET_H[0 if goes_on else 1]
            assumed[f"a step names no product that is known: {wait_h:g} h, {PRACTICE}"] = None
        else:
            read = sheet_of(product, step.act != "coat")
            hours = stage_hours(read.sheet).hours[SANDABLE if goes_on else WRAP_SAFE]
            wait_h = hours * factors.get(product.product, spread()).p50
            film_um = film_um or read.sheet.reference_wet_film_um
            assumed.update(dict.fromkeys(read.assumed))
    return ProposedStep(
        step.act, "", "", step.grit, step.role, film_um, by_hand=step.by_hand, wait_h=wait_h
    )
