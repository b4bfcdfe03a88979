"""The shop as its ledger tells of it now: hours, people, guns, and every batch of open work."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time
from typing import NamedTuple

from msgspec.structs import replace

from coatledger.clocks.answer import PieceClock
from coatledger.clocks.clocks import shop_clocks
from coatledger.computations.calendar import wall_moment
from coatledger.computations.drying import STAGES, Spread, Stage
from coatledger.computations.simulate.shop import AT_ONCE, Batch, Likely, OpenShop
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import order_key, pieces_of_line
from coatledger.open_shop.crew import guns, people
from coatledger.open_shop.drying import MINUTE_US, UNTIL_WARMED
from coatledger.open_shop.known import AGAIN_FROM_JOINERY, Known, due_of, laid_of, work_of
from coatledger.open_shop.steps import Laid, Standing, back_to, between, laid_out, position
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import open_orders, pieces
from coatledger.subjects.order import Order
from coatledger.subjects.order_lines import lines_of
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import plan
from coatledger.subjects.working import working

# Each of these is common practice, no published source.
SHOP_SHARE = 0.3  # of the doubt about a wait, what the air and the can share among all pieces
JOB_MAX_MIN = 240.0  # half a day: nobody stays longer at one job while something due waits
HELD = Likely(240.0, 1_440.0, 10_080.0)  # until somebody releases a piece that is held
HELD_SAYS = "a piece that is held is released within days"
# What is worked on; a packed piece only waits to leave.
WORKED = ("expected", "bare", "prepared", "coated", "passed", "in_rework")
_DAY_MIN = 1_440.0
# What the joiner has worked on a piece that is announced, so that a day late is not a month.
_MAKING_MIN = 5 * _DAY_MIN


class Ready(NamedTuple):
    """When a piece is ready for what comes next, as a whole, and what of it has passed."""

    span: Likely
    passed_min: float
    dries: bool


def shop_now(
    reader: Reader, asked: Asked, facts: Known, holidays: Iterable[date],
    factors: Mapping[str, Spread], clocks: Mapping[str, PieceClock] | None = None,
) -> OpenShop:  # fmt: skip
    """Return the whole open shop at the place asked for; `clocks` are those of all pieces worked
    on, where somebody has read them already."""
    view, described = facts.view, facts.described
    calendar = working(described, view.shop_state(), holidays)
    open_ones = tuple(pieces(reader, asked, WORKED))
    batches = (
        *_started(facts, open_ones, factors, asked.now_us, clocks),
        *_not_started(facts, open_orders(reader, asked), open_ones),
    )
    rack = described.rack_places
    return OpenShop(
        now=moment(asked.now_us),
        hours=calendar.hours,
        people=people(view, described, facts.assumed),
        batches=that_fit(batches, rack),
        pick_up_weekdays=calendar.pickup_days,
        cut_off=calendar.cut_off,
        closures=calendar.closures,
        guns=guns(view, reader),
        changeover_min=facts.changeover_min,
        rack_places=10**6 if not rack else max(rack, _standing(batches)),
        shop_share=SHOP_SHARE,
    )


def _started(
    facts: Known, open_ones: Sequence[Piece], factors: Mapping[str, Spread], now_us: int,
    clocks: Mapping[str, PieceClock] | None,
) -> Iterator[Batch]:  # fmt: skip
    """Put together the pieces of one order that stand at the same place of their way."""
    groups: dict[tuple[object, ...], list[Piece]] = {}
    for piece in open_ones:
        last = piece.coats[-1].event if piece.coats else None
        steps = plan(piece, facts.view.schedule(piece.schedule))
        made = (piece.kind, piece.species, piece.coat_area_m2, piece.schedule, piece.use)
        remedy = piece.reworks[-1].remedy if piece.stage == "in_rework" else None
        where = (piece.stage, remedy, piece.held, piece.likely_on, last, steps.remaining)
        groups.setdefault((_order_of(facts, piece), *made, *where), []).append(piece)
    if clocks is None:
        firsts = [alike[0] for alike in groups.values()]
        clocks = {c.piece: c for c in shop_clocks(facts.view, firsts, now_us, factors)}
    for alike in groups.values():
        batch = _batch(facts, alike, clocks[alike[0].piece], now_us)
        if batch is not None:
            yield batch


def _batch(facts: Known, alike: Sequence[Piece], dries: PieceClock, now_us: int) -> Batch | None:
    first = alike[0]
    work, remaining = work_of(facts, first)
    laid = laid_of(facts, work)
    at = position(laid, work.steps, remaining)
    if first.stage == "in_rework":
        at = _in_rework(first, laid, at)
    if at is None or not laid.operations:
        return None
    if laid.below_counts and dries.faces:
        standing = _standing_films(dries, laid.waits_for[at], max(laid.steps[at]), now_us)
        laid = laid_out(work, facts.films, standing)
    order = facts.view.order(first.order) if first.order else None
    ready = _ready(facts, first, dries, laid.waits_for[at], now_us)
    before = laid.operations[at - 1].place if at else ""
    return Batch(
        id=f"piece:{first.piece}",
        order=_order_of(facts, first) or f"stock:{first.piece}",
        pieces=len(alike),
        ordered_at=moment(order.taken_us) if order and order.taken_us else moment(now_us),
        due=due_of(order, facts.described, first.line),
        operations=laid.operations,
        position=at,
        ready_in=ready.span,
        passed_min=ready.passed_min,
        ready_is_wait=ready.dries,
        place_held=before if ready.dries else "",
        joinery_lead=AGAIN_FROM_JOINERY,
        members=tuple(piece.piece for piece in alike),
    )


def _in_rework(piece: Piece, laid: Laid, at: int | None) -> int | None:
    """Rubbing out needs only another look; all else is scuffed and coated again."""
    back = back_to(laid)
    if back is None or piece.reworks[-1].remedy == "strip":
        return 0 if laid.operations else None
    if piece.reworks[-1].remedy == "rub_out":
        return at if at is not None else len(laid.operations) - 1
    return back if at is None else min(at, back)


def _ready(
    facts: Known, piece: Piece, dries: PieceClock, stage: Stage | None, now_us: int
) -> Ready:
    """Return when a piece is ready for its next operation, and whether a film is what it waits
    for: the slowest face's, as a whole, with what of it has passed."""
    if piece.stage == "expected":
        return _expected(facts, piece, now_us)
    if piece.held:
        facts.assumed[HELD_SAYS] = None
        return Ready(HELD, 0.0, False)
    if stage is None or not dries.faces:
        return Ready(AT_ONCE, 0.0, False)
    never = datetime.max.replace(tzinfo=UTC)
    face = max(dries.faces, key=lambda one: one.at(stage).sure or never)
    times = face.at(stage)
    if times.sure is None or times.likely is None:
        facts.assumed[f"the film of {piece.piece} does not dry as the air is now"] = None
        return Ready(UNTIL_WARMED, 0.0, True)
    if micros(times.sure) <= now_us:
        return Ready(AT_ONCE, 0.0, False)
    begun = micros(face.applied_at)
    points = [(micros(t) - begun) / MINUTE_US for t in (times.earliest, times.likely, times.sure)
              if t is not None]  # fmt: skip
    points = [*points[:1] * (3 - len(points)), *points]
    ascending = (max(*points[: n + 1], 0.0) for n in range(3))
    return Ready(Likely(*ascending), max((now_us - begun) / MINUTE_US, 0.0), True)


def _standing_films(dries: PieceClock, stage: Stage | None, step: int, now_us: int) -> Standing:
    """Return how long the films on a piece stay behind each stage once its next step may begin. One
    that the air never brings there is behind by nothing: it is waited for as it lies."""
    left = {one: _from_now(dries, one, now_us) for one in STAGES}
    next_ = AT_ONCE if stage is None else left[stage]
    return Standing(step, {one: between(next_, later) for one, later in left.items()})


def _from_now(dries: PieceClock, stage: Stage, now_us: int) -> Likely:
    """Return the minutes until the slowest face is at a stage."""
    points = [0.0, 0.0, 0.0]
    for face in dries.faces:
        times = face.at(stage)
        for n, at in enumerate((times.earliest, times.likely, times.sure)):
            if at is not None:
                points[n] = max(points[n], (micros(at) - now_us) / MINUTE_US)
    return Likely(*(max(points[: n + 1]) for n in range(3)))


def _expected(facts: Known, piece: Piece, now_us: int) -> Ready:
    """Read the days between which the joinery should bring a piece; a late one comes soon."""
    zone = facts.described.zone

    def minutes(day: str | None, otherwise: float) -> float:
        if day is None:
            return otherwise
        at = micros(wall_moment(date.fromisoformat(day), time(12), zone))
        return max((at - now_us) / MINUTE_US, 0.0)

    likely = minutes(piece.likely_on, 4 * _DAY_MIN)
    sooner = min(minutes(piece.earliest_on, max(likely - _DAY_MIN, 0.0)), likely)
    later = max(minutes(piece.latest_on, likely + 3 * _DAY_MIN), likely)
    if likely == 0.0:
        facts.assumed[f"{piece.piece} is late from the joinery: taken for tomorrow"] = None
        sooner, likely, later = 0.0, _DAY_MIN, 4 * _DAY_MIN
    return Ready(
        Likely(_MAKING_MIN + sooner, _MAKING_MIN + likely, _MAKING_MIN + later), _MAKING_MIN, False
    )


def _order_of(facts: Known, piece: Piece) -> str | None:
    """Return what a piece ships with: its order, or its line where lines ship by themselves."""
    return order_key(facts.view.order(piece.order), piece.line) if piece.order else None


def _not_started(
    facts: Known, orders: Iterable[Order], open_ones: Sequence[Piece]
) -> Iterator[Batch]:
    """Yield what was ordered and of which no piece has been named yet."""
    read = {piece.piece: piece for piece in open_ones}

    def piece_of(word: str) -> Piece:
        return read[word] if word in read else facts.view.piece(word)

    for order in orders:
        for line, stands in zip(order.lines, lines_of(order, piece_of), strict=True):
            if stands.not_begun:
                yield from in_jobs(pieces_of_line(facts, order, line, stands.not_begun))


def _standing(batches: Iterable[Batch]) -> int:
    return sum(batch.places_taken("rack") for batch in batches)


def that_fit(batches: Sequence[Batch], rack: int | None) -> tuple[Batch, ...]:
    """Cut what the rack never holds at once into batches that it does."""
    if not rack:
        return tuple(batches)
    return tuple(part for batch in batches for part in _cut(batch, rack))


def in_jobs(batches: Iterable[Batch | None]) -> tuple[Batch, ...]:
    """Cut what nobody has begun where it would be more than a long job for one person: else forty
    pieces would be sanded in one go before the one that is due."""
    found = [batch for batch in batches if batch is not None]
    return tuple(part for batch in found for part in _cut(batch, _at_once(batch)))


def _at_once(batch: Batch) -> int:
    longest = max(step.piece_min for step in batch.operations)
    return max(int(JOB_MAX_MIN / longest), 1) if longest > 0.0 else batch.pieces


def _cut(batch: Batch, most: int) -> Iterator[Batch]:
    for start in range(0, batch.pieces, most):
        size = min(most, batch.pieces - start)
        name = batch.id if start == 0 else f"{batch.id}.{start}"
        members = batch.members[start : start + size]
        yield replace(batch, id=name, pieces=size, members=members)
