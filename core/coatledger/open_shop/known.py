"""What all batches of a simulated shop share: the view, what is learned, what is assumed."""

from collections.abc import Mapping
from datetime import date, timedelta

from msgspec import Struct

from coatledger.computations.drying import Spread
from coatledger.computations.simulate.shop import Likely, Place
from coatledger.events.setup import ShopDescribed, Step
from coatledger.ledger.record import Row, moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.drying import Films
from coatledger.open_shop.learned import Chances, Of, chances, chances_of
from coatledger.open_shop.pace import Pace, changeover_min, paces, recent_work
from coatledger.open_shop.recent import recent
from coatledger.open_shop.steps import Laid, Work, laid_out
from coatledger.subjects.asked import Asked
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.plan import plan
from coatledger.subjects.view import View

# Each of these is common practice, no published source.
LEAD_DAYS = 14  # until when an order that nobody gave a date is due
AGAIN_FROM_JOINERY = Likely(2 * 1_440.0, 4 * 1_440.0, 9 * 1_440.0)
STOCK_DUE = date(9999, 12, 31)


class Known(Struct, frozen=True, kw_only=True):
    """What was read once: the view, what is learned, the films to come, what had to be assumed."""

    view: View
    described: ShopDescribed
    films: Films
    paces: Mapping[str, Pace]
    chances: Mapping[Of, Chances]
    assumed: dict[str, None]
    changeover_min: float
    laid: dict[tuple[object, ...], Laid]
    rows: tuple[Row, ...]


def known(
    reader: Reader, asked: Asked, described: ShopDescribed, factors: Mapping[str, Spread]
) -> Known:
    """Read once what all batches share."""
    view = asked.view(reader)
    films = Films(view, factors)
    rows = recent(reader, asked)
    work = recent_work(rows, asked.now_us)
    return Known(
        view=view, described=described, films=films, paces=paces(reader, asked, work),
        chances=chances(reader, asked, view), assumed=films.assumed,
        changeover_min=changeover_min(work), laid={}, rows=rows,
    )  # fmt: skip


def laid_of(facts: Known, work: Work) -> Laid:
    """Return a schedule as operations; pieces alike in all that matters share them."""
    key = (work.steps, work.area_m2, work.chances, work.product, work.rack)
    if key not in facts.laid:
        facts.laid[key] = laid_out(work, facts.films)
    return facts.laid[key]


def work_of(facts: Known, piece: Piece) -> tuple[Work, tuple[Step, ...]]:
    """Return what a piece asks for, and which steps of it remain."""
    steps = plan(piece, facts.view.schedule(piece.schedule))
    coated = facts.view.lot(piece.coats[-1].lot).product if piece.coats else None
    if steps.assumed:
        facts.assumed["a piece without a schedule goes the usual way of its use"] = None
    rack: Place = "rack" if facts.described.rack_places else ""
    films = [coated, *(step.product for step in steps.steps if step.act == "coat")]
    product = next((word for word in reversed(films) if word), "")
    return Work(
        steps=steps.steps, area_m2=piece.coat_area_m2, paces=facts.paces, product=coated, rack=rack,
        chances=chances_of(facts.chances, piece.species or "", product),
    ), steps.remaining  # fmt: skip


def due_of(order: Order | None, described: ShopDescribed, line: str | None = None) -> date:
    """Return by when an order is due: what its customer was told last, wished, or the usual. A
    word about one line is no word about the others."""
    if order is None:
        return STOCK_DUE
    words = order.told_of(line)
    told = words[-1].ships_by if words else order.wanted_by
    if told:
        return date.fromisoformat(told)
    lead = described.fallback_lead_days or LEAD_DAYS
    return (moment(order.taken_us or 0) + timedelta(days=lead)).date()
