"""Where a piece stands in its schedule: which steps are done, which come next.

The facts decide, not the order in which somebody ticked things off: a coat done means that what
stands before it in the schedule is past, whether it was logged or not.
"""

from collections.abc import Mapping, Sequence

from msgspec import Struct

from coatledger.computations.practice import COATS_DECOR, COATS_TABLE
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.piece import Piece

# The acts that put something on which has to dry.
FILMS = ("coat", "stain", "fill_grain")
# A shop that described no schedule still follows one: common practice, no published source.
_COATS_BY_USE: Mapping[str, int] = {
    "decor": COATS_DECOR,
    "box": COATS_DECOR,
    "shelf": COATS_DECOR,
    "table": COATS_TABLE[0],
    "hard_use": COATS_TABLE[1],
}


class Plan(Struct, frozen=True, kw_only=True):
    """A piece's schedule and what remains of it. `assumed` when nobody described a schedule."""

    steps: tuple[Step, ...]
    remaining: tuple[Step, ...]
    faces: tuple[str, ...]
    coats_wanted: int
    coats_done: int
    assumed: bool


def plan(piece: Piece, schedule: ScheduleDescribed | None) -> Plan:
    """Lay the piece's facts along its schedule."""
    steps = _usual(piece) if schedule is None else schedule.steps
    faces: tuple[str, ...] = ("show",) if schedule is None else schedule.faces
    done = piece.coat_number(faces)
    wanted = sum(1 for step in steps if step.act == "coat")
    return Plan(
        steps=steps,
        remaining=_remaining(piece, steps, min(done, wanted)),
        faces=faces,
        coats_wanted=wanted,
        coats_done=done,
        assumed=schedule is None,
    )


def places_left(steps: Sequence[Step], remaining: Sequence[Step]) -> frozenset[int]:
    """Return the places, among all steps, of those that remain: from the schedule's end on."""
    left, open_ = set[int](), list(remaining)
    for index in range(len(steps) - 1, -1, -1):
        if open_ and steps[index] == open_[-1]:
            left.add(index)
            open_.pop()
    return frozenset(left)


def _usual(piece: Piece) -> tuple[Step, ...]:
    coats = _COATS_BY_USE.get(piece.use or "decor", COATS_DECOR)
    between = (Step(act="scuff"), Step(act="blow_off"), Step(act="coat"))
    first = (Step(act="sand"), Step(act="blow_off"), Step(act="coat"))
    return (*first, *between * (coats - 1), Step(act="inspect"), Step(act="pack"))


def _remaining(piece: Piece, steps: tuple[Step, ...], coats_done: int) -> tuple[Step, ...]:
    if piece.stage in ("packed", "shipped", "scrapped"):
        return ()
    start = _after_coat(steps, coats_done)
    ahead = steps[start:]
    stretch = _until_coat(ahead)
    counts = _done_since_coat(piece)
    left: list[Step] = []
    for step in stretch:
        act = "scuff" if step.act == "sand" and coats_done else step.act
        if counts.get(act, 0) > 0:
            counts[act] -= 1
            # Nobody logs that a film has cured: what comes after it says so.
            left = [one for one in left if one.act != "cure"]
        else:
            left.append(step)
    return (*left, *ahead[len(stretch) :])


def _after_coat(steps: tuple[Step, ...], coats_done: int) -> int:
    seen = 0
    for i, step in enumerate(steps):
        if seen == coats_done:
            return i
        seen += step.act == "coat"
    return len(steps)


def _until_coat(steps: tuple[Step, ...]) -> tuple[Step, ...]:
    for i, step in enumerate(steps):
        if step.act == "coat":
            return steps[:i]
    return steps


def _done_since_coat(piece: Piece) -> dict[str, int]:
    """Count the work logged since the last coat, by act."""
    since = piece.coats[-1].at_us if piece.coats else -1
    coats = len(piece.coats)
    sanded = sum(1 for s in piece.sandings if s.coats_before == coats)
    looked = piece.inspections[-1] if piece.inspections else None
    passed = looked is not None and looked.passed and looked.at_us > since
    done = {
        "scuff" if coats else "sand": sanded,
        "raise_grain": _later(piece.raised_us, since),
        "blow_off": _later(piece.blown.at_us if piece.blown else None, since),
        "fill_grain": sum(1 for x in piece.layers if x.what == "filler" and x.at_us > since),
        "stain": sum(1 for x in piece.layers if x.what == "stain" and x.at_us > since),
        "rub_out": _later(piece.rubbed_us, since),
        "polish": _later(piece.polished_us, since),
        "inspect": int(passed),
    }
    return {act: count for act, count in done.items() if count}


def _later(at_us: int | None, since: int) -> int:
    return int(at_us is not None and at_us > since)
