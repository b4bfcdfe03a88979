"""What travels with a batch: its schedule as steps to tick, with targets, waits, cans and cautions.

Waits are the clock's for a film put on now, in the air as it is now: likely and sure. What was done
before is said to be done; pieces of different schedules travel on sheets of their own.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime

from msgspec import Struct

from coatledger.clocks.ahead import Ahead, Level
from coatledger.clocks.estimate import WAITS
from coatledger.clocks.runs import NO_FACTORS
from coatledger.computations.cautions import Caution
from coatledger.computations.drying import Spread
from coatledger.events.setup import ProductDescribed, Step
from coatledger.findings.cautioned import cautions_ahead
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import lots
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import FILMS, Plan, places_left, plan
from coatledger.subjects.view import View
from coatledger.subjects.whose import meant

LEVELS: tuple[Level, ...] = ("likely", "sure")
CANS_MAX = 3


class Wait(Struct, frozen=True, kw_only=True):
    """How long a film stands before an act, in hours; None where this air never brings it there."""

    before: str
    stage: str
    likely_h: float | None
    sure_h: float | None


class TravellerStep(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One step to tick. Films have a target, the sheet's own least and most, and their waits."""

    number: int
    act: str
    done: bool = False
    product: str | None = None
    name: str | None = None
    grit: int | None = None
    role: str | None = None
    by_hand: bool = False
    wet_film_um: float | None = None
    wet_film_min_um: float | None = None
    wet_film_max_um: float | None = None
    cans: tuple[str, ...] = ()
    waits: tuple[Wait, ...] = ()


class TravellerPiece(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One piece of the batch."""

    piece: str
    stage: str
    kind: str | None = None
    species: str | None = None
    coat_area_m2: float | None = None
    coats_done: int = 0
    held: bool = False


class TravellerSheet(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The pieces that follow one schedule. Without `schedule` the usual one for their use is
    taken."""

    pieces: tuple[TravellerPiece, ...]
    steps: tuple[TravellerStep, ...]
    faces: tuple[str, ...]
    cautions: tuple[Caution, ...]
    schedule: str | None = None
    name: str | None = None
    area_m2: float | None = None
    assumed: tuple[str, ...] = ()


class TravellerAnswer(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A batch with its sheets. `due` is the day its customer was told last, else wished for."""

    position: int
    as_of: datetime | None
    sheets: tuple[TravellerSheet, ...]
    order: str | None = None
    due: str | None = None
    missing: tuple[str, ...] = ()


def traveller(
    reader: Reader, asked: Asked, order: str | None, words: tuple[str, ...],
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> TravellerAnswer:  # fmt: skip
    """Answer what travels with an order or with some pieces."""
    view = asked.view(reader)
    found = meant(view, order, words)
    groups: dict[tuple[str | None, tuple[Step, ...]], list[tuple[Piece, Plan]]] = {}
    for piece in found.pieces:
        steps = plan(piece, view.schedule(piece.schedule))
        groups.setdefault((piece.schedule, steps.steps), []).append((piece, steps))
    cans = _cans(reader, asked)
    due = None
    if found.order is not None:
        told = found.order.told
        due = told[-1].ships_by if told else found.order.wanted_by
    return TravellerAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        sheets=tuple(_sheet(view, group, cans, factors) for group in groups.values()),
        order=order,
        due=due,
        missing=found.missing,
    )


def _sheet(
    view: View, group: list[tuple[Piece, Plan]], cans: Mapping[str, tuple[str, ...]],
    factors: Mapping[str, Spread],
) -> TravellerSheet:  # fmt: skip
    first, course = group[0]
    described = view.schedule(first.schedule)
    assumed: dict[str, None] = {}
    if course.assumed:
        assumed["no schedule is described: the usual one for its use is taken"] = None
    ahead = Ahead(view, first, factors)
    left = [places_left(one.steps, one.remaining) for _, one in group]
    areas = [piece.coat_area_m2 for piece, _ in group]
    return TravellerSheet(
        pieces=tuple(_piece(piece, one) for piece, one in group),
        steps=tuple(
            _step(view, course.steps, at, not any(at in one for one in left), ahead, cans, assumed)
            for at in range(len(course.steps))
        ),
        faces=course.faces,
        cautions=_cautions(view, first, course.steps),
        schedule=first.schedule,
        name=None if described is None else described.name,
        area_m2=None if None in areas else round(sum(area or 0.0 for area in areas), 3),
        assumed=tuple(assumed),
    )


def _piece(piece: Piece, steps: Plan) -> TravellerPiece:
    return TravellerPiece(
        piece=piece.piece,
        stage=piece.stage,
        kind=piece.kind,
        species=piece.species,
        coat_area_m2=piece.coat_area_m2,
        coats_done=steps.coats_done,
        held=piece.held,
    )


def _step(
    view: View, steps: tuple[Step, ...], at: int, done: bool, ahead: Ahead,
    cans: Mapping[str, tuple[str, ...]], assumed: dict[str, None],
) -> TravellerStep:  # fmt: skip
    step = steps[at]
    sheet = view.product(step.product)
    is_film = step.act in FILMS
    return TravellerStep(
        number=at + 1,
        act=step.act,
        done=done,
        product=step.product,
        name=None if sheet is None else sheet.name,
        grit=step.grit,
        role=step.role,
        by_hand=step.by_hand,
        wet_film_um=_target_um(step, sheet),
        wet_film_min_um=sheet.wet_film_min_um if sheet and step.act == "coat" else None,
        wet_film_max_um=sheet.wet_film_max_um if sheet and step.act == "coat" else None,
        cans=cans.get(step.product or "", ()) if is_film else (),
        waits=_waits(steps, at, ahead, assumed) if is_film and not done else (),
    )


def _target_um(step: Step, sheet: ProductDescribed | None) -> float | None:
    if step.act != "coat":
        return None
    return step.wet_film_um or (None if sheet is None else sheet.reference_wet_film_um)


def _waits(
    steps: tuple[Step, ...], at: int, ahead: Ahead, assumed: dict[str, None]
) -> tuple[Wait, ...]:
    """Say how long this film stands before each act up to the next film, each stage once."""
    now = moment(ahead.view.at_us)
    bare = not any(step.act in FILMS for step in steps[:at])
    by_level = [ahead.ready(steps[at], now, assumed, level, bare_wood=bare) for level in LEVELS]
    found: dict[str, Wait] = {}
    for later in steps[at + 1 :]:
        stage = WAITS.get(later.act)
        if stage is not None and stage not in found:
            likely, sure = (_hours(now, ready[stage]) for ready in by_level)
            found[stage] = Wait(before=later.act, stage=stage, likely_h=likely, sure_h=sure)
        if later.act in FILMS:
            break
    return tuple(found.values())


def _hours(now: datetime, then: datetime | None) -> float | None:
    return None if then is None else round((then - now).total_seconds() / 3600, 3)


def _cautions(view: View, piece: Piece, steps: Iterable[Step]) -> tuple[Caution, ...]:
    found = (caution for step in steps for caution in cautions_ahead(view, piece, step))
    return tuple(dict.fromkeys(found))


def _cans(reader: Reader, asked: Asked) -> Mapping[str, tuple[str, ...]]:
    """Return the cans of each product that are here, opened ones first, a few of each."""
    found: dict[str, list[tuple[bool, str]]] = {}
    for lot in lots(reader, asked, ("open", "closed")):
        if lot.product is not None and (lot.left_l is None or lot.left_l > 0):
            found.setdefault(lot.product, []).append((lot.stage != "open", lot.lot))
    return {
        product: tuple(word for _, word in sorted(cans)[:CANS_MAX])
        for product, cans in found.items()
    }
