"""One piece, or many: stage, readiness, what may come next, findings and a first ship estimate."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from msgspec import Struct

from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import piece_clock, shop_clocks
from coatledger.clocks.estimate import ShipEstimate, estimate
from coatledger.clocks.runs import NO_FACTORS
from coatledger.computations.cautions import Caution
from coatledger.computations.drying import Spread
from coatledger.events.setup import Step
from coatledger.findings.cautioned import cautions_ahead
from coatledger.findings.find import findings_of_life
from coatledger.findings.finding import Finding
from coatledger.findings.life import Life
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import pieces
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_facts import PieceFacts, piece_facts
from coatledger.subjects.piece_life import OPEN_STAGES, acts_possible
from coatledger.subjects.plan import Plan, plan
from coatledger.subjects.view import View


class Next(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What may come next. `act` is the schedule's next step, or `judge_defect` while nobody has
    said what is done about a fault that was found; `from_likely` and `from_sure` say from when the
    film allows it (None: now); `held` that nobody should go on before it is released. `then`
    are the schedule's next few steps, for a device that cannot ask again."""

    act: str | None
    product: str | None = None
    grit: int | None = None
    role: str | None = None
    waits_for: str | None = None
    from_likely: datetime | None = None
    from_sure: datetime | None = None
    held: bool = False
    possible: tuple[str, ...] = ()
    wet_film_um: float | None = None
    then: tuple[Step, ...] = ()


class PieceRow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One piece in a list."""

    piece: str
    stage: str
    readiness: str
    kind: str | None = None
    species: str | None = None
    order: str | None = None
    room: str | None = None
    place: str | None = None
    held: bool = False
    coats_done: int = 0
    coats_wanted: int = 0
    next: Next | None = None
    next_ready: datetime | None = None


class PieceList(Struct, frozen=True, kw_only=True):
    """Pieces in order of their words. `next_after` begins the next page; None on the last."""

    position: int
    as_of: datetime | None
    pieces: tuple[PieceRow, ...]
    next_after: str | None


class PieceAnswer(Struct, frozen=True, kw_only=True):
    """Everything about one piece at a time. `promised` is the date its customer was told last;
    `cautions` are of its next act: they defer to sheets, codes and practice, and permit nothing."""

    position: int
    as_of: datetime | None
    piece: str
    stage: str
    held: bool
    order: str | None
    promised: date | None
    coats_done: int
    coats_wanted: int
    schedule_assumed: bool
    next: Next
    cautions: tuple[Caution, ...]
    clock: PieceClock
    findings: tuple[Finding, ...]
    ship_estimate: ShipEstimate
    facts: PieceFacts


class ClockList(Struct, frozen=True, kw_only=True):
    """What dries now, the soonest ready first. `valid_until` is when the next stage is reached."""

    position: int
    as_of: datetime | None
    valid_until: datetime | None
    clocks: tuple[PieceClock, ...]


WAITING: Mapping[str, str] = {
    "scuff": "recoat", "sand": "recoat", "coat": "recoat", "rub_out": "stack", "polish": "stack",
    "pack": "pack", "cure": "use", "inspect": "touch", "stain": "recoat", "fill_grain": "recoat",
}  # fmt: skip
STEPS_THEN = 4
# Stages in which a fault that was found stops a piece until somebody judges it.
JUDGED = ("bare", "prepared", "coated", "passed", "packed")


def piece_answer(
    reader: Reader, word: str, asked: Asked, holidays: Iterable[date] = (),
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> PieceAnswer | None:  # fmt: skip
    """Answer everything about one piece; None when nobody had started or expected it then.

    `factors` are what this shop has learned of its products (`Overnight`).
    """
    view = asked.view(reader)
    life = Life(view, word)
    piece = life.end
    if piece.stage == "unborn":
        return None
    steps = plan(piece, view.schedule(piece.schedule))
    dries = piece_clock(view, piece, asked.now_us, factors, life.air)
    return PieceAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        piece=word,
        stage=piece.stage,
        held=piece.held,
        order=piece.order,
        promised=_promised(view, piece),
        coats_done=steps.coats_done,
        coats_wanted=steps.coats_wanted,
        schedule_assumed=steps.assumed,
        next=_next(piece, steps, dries),
        cautions=cautions_ahead(view, piece, _proposed(piece, steps)),
        clock=dries,
        findings=findings_of_life(life),
        ship_estimate=estimate(view, piece, steps, dries, holidays, factors),
        facts=piece_facts(piece, asked.now_us),
    )


def piece_list(
    reader: Reader,
    asked: Asked,
    *,
    stages: tuple[str, ...] | None = None,
    order: str | None = None,
    room: str | None = None,
    after: str = "",
    limit: int = 100,
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> PieceList:
    """List pieces by stage, order and room. Without stages: those not shipped or scrapped."""
    view = asked.view(reader)
    found: list[Piece] = []
    for piece in pieces(reader, asked, stages or OPEN_STAGES, after=after):
        if (order is None or piece.order == order) and (
            room is None or piece.room_at(asked.now_us) == room
        ):
            found.append(piece)
            if len(found) > limit:
                break
    shown = found[:limit]
    clocks = {clock.piece: clock for clock in shop_clocks(view, shown, asked.now_us, factors)}
    return PieceList(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        pieces=tuple(_row(view, piece, clocks[piece.piece]) for piece in shown),
        next_after=shown[-1].piece if len(found) > limit else None,
    )


def clock_list(
    reader: Reader, asked: Asked, *, room: str | None = None,
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> ClockList:  # fmt: skip
    """List what dries now: open pieces with a film that is not yet cured, soonest first."""
    view = asked.view(reader)
    open_ones = [
        piece
        for piece in pieces(reader, asked, OPEN_STAGES)
        if (piece.coats or piece.layers) and (room is None or piece.room_at(asked.now_us) == room)
    ]
    clocks = shop_clocks(view, open_ones, asked.now_us, factors)
    drying = [clock for clock in clocks if clock.readiness != "cured"]
    return ClockList(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        valid_until=min((c.next_ready for c in drying if c.next_ready), default=None),
        clocks=tuple(drying),
    )


def _row(view: View, piece: Piece, dries: PieceClock) -> PieceRow:
    steps = plan(piece, view.schedule(piece.schedule))
    places = [move.place for move in piece.moves if move.room or move.place]
    return PieceRow(
        piece=piece.piece,
        stage=piece.stage,
        readiness=dries.readiness,
        kind=piece.kind,
        species=piece.species,
        order=piece.order,
        room=piece.room_at(view.at_us),
        place=places[-1] if places else None,
        held=piece.held,
        coats_done=steps.coats_done,
        coats_wanted=steps.coats_wanted,
        next=_next(piece, steps, dries),
        next_ready=dries.next_ready,
    )


def _next(piece: Piece, steps: Plan, dries: PieceClock) -> Next:
    """The schedule proposes, the film allows; what else the table allows is listed too."""
    possible = acts_possible(piece.stage)
    if piece.open_defects and piece.stage in JUDGED:
        return Next(act="judge_defect", held=piece.held, possible=possible)
    step = _proposed(piece, steps)
    if step is None:
        act = {"packed": "ship", "in_rework": "finish_rework", "expected": "start"}.get(piece.stage)
        return Next(act=act, held=piece.held, possible=possible)
    ready = dries.ready_for(WAITING[step.act]) if step.act in WAITING else None  # type: ignore[arg-type]
    waits = ready is not None and not ready.ready
    return Next(
        act=step.act,
        product=step.product,
        grit=step.grit,
        role=step.role,
        waits_for=WAITING[step.act] if waits else None,
        from_likely=ready.likely if ready and waits else None,
        from_sure=ready.sure if ready and waits else None,
        held=piece.held,
        possible=possible,
        wet_film_um=step.wet_film_um,
        then=steps.remaining[1 : 1 + STEPS_THEN],
    )


def _proposed(piece: Piece, steps: Plan) -> Step | None:
    if piece.stage in ("packed", "in_rework", "expected") or not steps.remaining:
        return None
    return steps.remaining[0]


def _promised(view: View, piece: Piece) -> date | None:
    if piece.order is None:
        return None
    told = [t for t in view.order(piece.order).told if t.line in (None, piece.line)]
    return date.fromisoformat(told[-1].ships_by) if told else None
