"""Pieces that are only asked for, of an offering or free, as batches of a simulated shop."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime

from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.simulate.shop import AT_ONCE, Batch, Likely
from coatledger.events.orders import OrderLine
from coatledger.events.setup import OfferingDescribed, Step, Use
from coatledger.ledger.record import moment
from coatledger.open_shop.known import AGAIN_FROM_JOINERY, Known, due_of, laid_of, work_of
from coatledger.subjects.counts import words
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import FILMS
from coatledger.subjects.view import View

_DAY_MIN = 1_440.0


class Wanted(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What a customer asks about: so many of an offering, or of a piece described freely."""

    quantity: int = 1
    offering: str | None = None
    schedule: str | None = None
    species: str | None = None
    coat_area_m2: float | None = None
    use: Use | None = None
    joinery_days: int | None = None
    sku: str | None = None
    options: Mapping[str, str] = {}


def wanted_of(line: OrderLine) -> Wanted:
    """Read what has to be made off an order's line."""
    return Wanted(
        quantity=line.quantity, offering=line.offering or line.sku, schedule=line.schedule,
        species=line.species, coat_area_m2=line.coat_area_m2, use=line.use,
        joinery_days=line.joinery_days, sku=line.sku, options=line.options,
    )  # fmt: skip


def order_key(order: Order, line: str | None) -> str:
    """Name what ships at once: a whole order, or each of its lines where these go by themselves."""
    return f"order:{order.order}" if order.together else f"order:{order.order}/{line or ''}"


def lacking(facts: Known, wanted: Wanted) -> tuple[str, ...]:
    """Name what is missing before a date can be given at all."""
    piece, missing = piece_of(facts, wanted)
    if piece is None:
        return (missing,)
    schedule = facts.view.schedule(piece.schedule)
    if piece.schedule and schedule is None:
        return (f"the description of schedule {piece.schedule}",)
    steps: tuple[Step, ...] = schedule.steps if schedule else ()
    films = (step for step in steps if step.act in FILMS)
    return tuple(
        f"the data sheet of product {step.product}"
        for step in dict.fromkeys(films)
        if step.product and not facts.films.has_sheet(step)
    )


def batch_of(
    facts: Known, wanted: Wanted, name: str, order: str, ordered_at: datetime, due: date
) -> Batch | None:
    """Return pieces nobody has begun as a batch; None when nobody described what they are."""
    piece, missing = piece_of(facts, wanted)
    if piece is None:
        facts.assumed[f"{name} is left out: {missing} is missing"] = None
        return None
    work, _ = work_of(facts, piece)
    laid = laid_of(facts, work)
    if not laid.operations:
        return None
    days = _joinery_days(facts, wanted)
    lead = AT_ONCE
    if days:
        # A joiner's days as told, some sooner and more often later: common practice.
        lead = Likely(0.7 * days * _DAY_MIN, days * _DAY_MIN, 1.6 * days * _DAY_MIN)
    return Batch(
        id=name, order=order, pieces=wanted.quantity, ordered_at=ordered_at, due=due,
        operations=laid.operations, ready_in=lead,
        joinery_lead=lead if days else AGAIN_FROM_JOINERY,
    )  # fmt: skip


def pieces_of_line(facts: Known, order: Order, line: OrderLine, lacking: int) -> Iterator[Batch]:
    """Yield the pieces of an order's line that have no name yet. What the joiner has had of his
    days since the order was taken is not known, so that he is given them all from the order on."""
    taken = moment(order.taken_us or 0)
    wanted = replace(wanted_of(line), quantity=lacking)
    batch = batch_of(
        facts, wanted, f"order:{order.order}/{line.line}", order_key(order, line.line), taken,
        due_of(order, facts.described, line.line),
    )  # fmt: skip
    if batch is not None:
        gone = (moment(facts.view.at_us) - taken).total_seconds() / 60.0
        yield replace(batch, passed_min=gone if batch.ready_in is not AT_ONCE else 0.0)


def piece_of(facts: Known, wanted: Wanted) -> tuple[Piece | None, str]:
    """Return the bare piece that would be begun, or None and what is missing to know it."""
    if wanted.offering is None:
        return Piece(
            piece="asked-for", stage="bare", species=wanted.species, use=wanted.use,
            coat_area_m2=wanted.coat_area_m2, schedule=wanted.schedule,
        ), ""  # fmt: skip
    sold = sold_as(facts.view, wanted.offering)
    if sold is None:
        return None, f"the description of offering {wanted.offering}"
    return Piece(
        piece="asked-for", stage="bare", species=wanted.species or sold.species, use=wanted.use,
        coat_area_m2=wanted.coat_area_m2 or sold.coat_area_m2, schedule=sold.schedule,
    ), ""  # fmt: skip


def _joinery_days(facts: Known, wanted: Wanted) -> int | None:
    sold = sold_as(facts.view, wanted.offering) if wanted.offering else None
    return wanted.joinery_days or (sold.joinery_days if sold else None)


def sold_as(view: View, word: str) -> OfferingDescribed | None:
    """Find an offering by its word or by one of its SKUs."""
    sold = view.offering(word)
    if sold is not None:
        return sold
    others = (view.offering(other) for other in words("offering", view.reader))
    return next((one for one in others if one is not None and word in one.skus), None)
