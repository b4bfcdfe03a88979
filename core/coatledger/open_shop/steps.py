"""A piece's schedule as operations of a simulated shop: what needs hands, a gun, or only time."""

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from coatledger.clocks.estimate import WAITS
from coatledger.computations.drying import STAGES, Stage
from coatledger.computations.simulate.shop import Likely, Operation, Place
from coatledger.events.setup import Step
from coatledger.open_shop.drying import Films
from coatledger.open_shop.learned import Chances
from coatledger.open_shop.pace import UNKNOWN_PACE, Pace, usual_minutes
from coatledger.subjects.plan import FILMS, places_left

# How often one piece is sent back at one inspection before it is let go or given up.
ROUNDS = 3
_A_MOMENT_MIN = 0.01


class Work(Struct, frozen=True, kw_only=True):
    """What a piece asks for: its schedule, its size, what is known of its minutes and its luck."""

    steps: tuple[Step, ...]
    area_m2: float | None
    chances: Chances
    paces: Mapping[str, Pace]
    product: str | None = None
    rack: Place = ""


class Laid(Struct, frozen=True):
    """Operations, and for each the steps of the schedule that are done in it, the stage of the
    film it waits for, and when all that lies there then is at each stage, if it puts a film on.
    `below_counts` where a film waits for one underneath that is slower than itself."""

    operations: tuple[Operation, ...]
    steps: tuple[tuple[int, ...], ...]
    waits_for: tuple[Stage | None, ...]
    films: tuple[Mapping[Stage, Likely], ...]
    below_counts: bool = False


class Standing(Struct, frozen=True):
    """How far a piece is: the step that comes next, and how long what lies on it stays behind each
    stage once that step may begin."""

    step: int
    left: Mapping[Stage, Likely]


def laid_out(work: Work, films: Films, standing: Standing | None = None) -> Laid:
    """Lay a schedule out: hands-on steps in one go until a film, a look or the end.

    A film is at a stage when all films under it are, as on a clock: one that is put on as soon as
    it may be waits for what the one below still lacks. What lies on a piece that is `standing` has
    passed its time already.
    """
    operations: list[Operation] = []
    inside: list[tuple[int, ...]] = []
    stages: list[Stage | None] = []
    laid: list[Mapping[Stage, Likely]] = []
    own: Mapping[Stage, Likely] = {}
    film: Mapping[Stage, Likely] = {}
    reached, below_counts = -1, False
    for group in _groups(work.steps):
        steps = [work.steps[i] for i in group]
        needed = _needed(steps)
        if needed is None and film:
            needed = "tack_free"  # nothing is done to a film that is not
        if needed is not None and film and STAGES.index(needed) > reached:
            below_counts = below_counts or film[needed] != own[needed]
            if reached < 0 and operations:
                operations[-1] = replace(operations[-1], wait=film[needed], place=work.rack)
            else:
                gap = between(film[STAGES[reached]], film[needed])
                operations.append(_only_time(needed, gap))
                inside.append(())
                stages.append(None)
                laid.append({})
            reached = STAGES.index(needed)
        operations.append(_operation(steps, work, operations))
        inside.append(group)
        stages.append(needed)
        if steps[-1].act in FILMS:
            first = not any(is_coat(o) for o in operations[:-1])
            left: Mapping[Stage, Likely] = {
                stage: between(film[STAGES[max(reached, 0)]], film[stage]) for stage in film
            }  # fmt: skip
            if standing is not None and group[-1] >= standing.step:
                left, standing = standing.left, None
            own = films.waits(steps[-1], work.product, first)
            film, reached = over(own, left), -1
        laid.append(film if steps[-1].act in FILMS else {})
    return Laid(tuple(operations), tuple(inside), tuple(stages), tuple(laid), below_counts)


def over(own: Mapping[Stage, Likely], left: Mapping[Stage, Likely]) -> Mapping[Stage, Likely]:
    """Return when a film and all below it are at each stage: the later of both, level by level."""
    if not left:
        return own
    return {stage: _later(own[stage], left[stage]) for stage in own}


def _later(one: Likely, other: Likely) -> Likely:
    return Likely(max(one.p10, other.p10), max(one.p50, other.p50), max(one.p90, other.p90))


def position(laid: Laid, steps: Sequence[Step], remaining: Sequence[Step]) -> int | None:
    """Return the operation that comes next when these steps remain; None when nothing does."""
    left = places_left(steps, remaining)
    return next((n for n, inside in enumerate(laid.steps) if left & set(inside)), None)


def back_to(laid: Laid) -> int | None:
    """Return the operation at which a piece that failed its last inspection goes on."""
    found = [n for n, operation in enumerate(laid.operations) if operation.inspects]
    return found[-1] - laid.operations[found[-1]].back if found else None


def is_coat(operation: Operation) -> bool:
    """Whether an operation puts a coat or stain on, sprayed or by hand."""
    return operation.name in ("coat", "stain")


def _groups(steps: Sequence[Step]) -> tuple[tuple[int, ...], ...]:
    """Put together what one person does in one go. Letting it cure is no work: it only waits."""
    groups: list[tuple[int, ...]] = []
    together: list[int] = []
    for index, step in enumerate(steps):
        alone = step.act in (*FILMS, "inspect")
        waits = step.act == "pack" or (step.act == "cure" and together)
        if together and (alone or waits) and not _only_cures(steps, together):
            groups.append(tuple(together))
            together = []
        together.append(index)
        if alone:
            groups.append(tuple(together))
            together = []
    if together and not _only_cures(steps, together):
        groups.append(tuple(together))
    return tuple(groups)


def _only_cures(steps: Sequence[Step], group: Sequence[int]) -> bool:
    return all(steps[i].act == "cure" for i in group)


def _needed(steps: Sequence[Step]) -> Stage | None:
    wanted = [WAITS[step.act] for step in steps if step.act in WAITS]
    return max(wanted, key=STAGES.index, default=None)


def _operation(steps: Sequence[Step], work: Work, before: Sequence[Operation]) -> Operation:
    last = steps[-1]
    minutes = sum(minutes_of(step, work) for step in steps)
    found = Operation(
        name="+".join(step.act for step in steps),
        needs="person",
        setup_min=sum(work.paces.get(step.act, UNKNOWN_PACE).setup_min for step in steps),
        piece_min=max(minutes, _A_MOMENT_MIN),
        spread=max(work.paces.get(step.act, UNKNOWN_PACE).spread for step in steps),
    )
    if last.act in ("coat", "stain") and not last.by_hand:
        return replace(found, needs="spray", product=last.product or work.product or last.act)
    if last.act == "inspect" and work.chances.rework + work.chances.scrap > 0.0:
        return replace(
            found, rework_chance=work.chances.rework, scrap_chance=work.chances.scrap,
            back=_back(before), rounds=ROUNDS,
        )  # fmt: skip
    return found


def minutes_of(step: Step, work: Work) -> float:
    """Return the minutes one step takes on one piece here."""
    usual = usual_minutes(step.act, work.area_m2) if step.minutes is None else step.minutes
    return usual * work.paces.get(step.act, UNKNOWN_PACE).factor


def _back(before: Sequence[Operation]) -> int:
    """A nib or a hair is put right by scuffing and coating again: common practice."""
    for steps_back, operation in enumerate(reversed(before), 1):
        if is_coat(operation):
            below = before[-steps_back - 1] if steps_back < len(before) else operation
            return steps_back + (below.needs == "person" and not is_coat(below))
    return 0


def _only_time(stage: Stage, gap: Likely) -> Operation:
    return Operation(name=f"until {stage}", needs="nobody", setup_min=_A_MOMENT_MIN, wait=gap)


def between(sooner: Likely, later: Likely) -> Likely:
    """Return how long it is from one stage of a film to a later one, level by level."""
    pairs = ((sooner.p10, later.p10), (sooner.p50, later.p50), (sooner.p90, later.p90))
    points = [max(late - soon, 0.0) for soon, late in pairs]
    return Likely(*(max(points[: n + 1]) for n in range(3)))
