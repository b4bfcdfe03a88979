"""Finish that the work ahead will take: open pieces, pieces due, and order lines not begun.

An open piece takes each coat at the time its own ship estimate gives it; what is only promised is
taken to be coated a few days before its date. What is mixed with a crosslinker takes its parts from
their own cans, in the proportions of the last mix.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from coatledger.clocks.clocks import shop_clocks
from coatledger.clocks.estimate import StepTime, estimate
from coatledger.clocks.sheets import LAYER_WET_FILM_UM, sheet_of
from coatledger.computations.drying import Spread
from coatledger.computations.film import FACE_SHARE, TRANSFER_EFFICIENCY, face_area_m2
from coatledger.computations.practice import USUAL_DAYS
from coatledger.computations.stock import Need
from coatledger.computations.viscosity import Range
from coatledger.events.finish import LotMixed
from coatledger.events.orders import OrderLine
from coatledger.events.setup import OfferingDescribed, ProductDescribed, ScheduleDescribed, Step
from coatledger.ledger.record import moment
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import open_orders, pieces
from coatledger.subjects.order import Order
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import IN_PROCESS
from coatledger.subjects.plan import FILMS, plan
from coatledger.subjects.view import View

# A piece made for a promise is coated on the usual rhythm's days before it is due.
COATED_BEFORE = timedelta(days=USUAL_DAYS)


class Part(NamedTuple):
    """One part of a mix: which product, what it is in the mix, its share, the lot it came from."""

    product: str
    part: str
    share: float


class Recipe(NamedTuple):
    """How a product was mixed last, when a crosslinker makes mixing needed."""

    lot: str
    parts: tuple[Part, ...]
    pot_life_h: float | None


class Wants(NamedTuple):
    """Litres by product; `promised` those of work that has not begun."""

    open_work: Mapping[str, list[Need]]
    promised: Mapping[str, list[Need]]
    unplanned: tuple[str, ...]
    assumed: Mapping[str, tuple[str, ...]]


class Gathering:
    """Needs as they are found, by product, with what they rest on."""

    def __init__(self, view: View, now: datetime) -> None:
        self.view = view
        self.now = now
        self.found: dict[bool, dict[str, list[Need]]] = {False: {}, True: {}}
        self.unplanned: dict[str, None] = {}
        self.assumed: dict[str, dict[str, None]] = {}
        self._recipes: dict[str, Recipe | None] = {}

    def take(
        self, who: str, product: ProductDescribed | None, at: datetime, litres: Range, *,
        promised: bool,
    ) -> None:  # fmt: skip
        """Note what one act takes, each part of a mix from its own product."""
        if product is None:
            self.unplanned[who] = None
            return
        recipe = self.recipe(product.product)
        parts = [Part(product.product, "base", 1.0)] if recipe is None else recipe.parts
        for word, _, share in parts:
            part = Range(*(litre * share for litre in (litres.low, litres.likely, litres.high)))
            self.found[promised].setdefault(word, []).append(Need(who, max(at, self.now), part))
            if recipe is not None:
                says = f"{product.product} is mixed as {recipe.lot} was"
                self.assumed.setdefault(word, {})[says] = None

    def says(self, product: ProductDescribed | None, text: str) -> None:
        """Note what a need rests on."""
        if product is not None:
            self.assumed.setdefault(product.product, {})[text] = None

    def recipe(self, product: str) -> Recipe | None:
        """Return how a product was mixed last, once."""
        if product not in self._recipes:
            self._recipes[product] = recipe_of(self.view, product)
        return self._recipes[product]


def wants(
    view: View, asked: Asked, holidays: Iterable[date], factors: Mapping[str, Spread]
) -> Wants:
    """Return the litres of all work ahead."""
    gathered = Gathering(view, moment(asked.now_us))
    _of_open_pieces(gathered, asked, tuple(holidays), factors)
    for piece in pieces(view.reader, asked, ("expected",)):
        _of_expected(gathered, piece)
    for order in open_orders(view.reader, asked):
        for line in order.lines:
            _of_line(gathered, order, line)
    return Wants(
        open_work=gathered.found[False],
        promised=gathered.found[True],
        unplanned=tuple(gathered.unplanned),
        assumed={word: tuple(says) for word, says in gathered.assumed.items()},
    )


def recipe_of(view: View, product: str) -> Recipe | None:
    """Return the parts of a product's last mix, when a crosslinker is among them."""
    mixed = view.last(f"product:{product}", ("lot_mixed",), 1)
    fact = mixed[-1].fact if mixed else None
    if not isinstance(fact, LotMixed) or all(p.part != "crosslinker" for p in fact.parents):
        return None
    whole_l = sum(parent.amount_l for parent in fact.parents)
    if not whole_l:
        return None
    parts = tuple(
        Part(view.lot(parent.lot).product or product, parent.part, parent.amount_l / whole_l)
        for parent in fact.parents
    )
    sheet = view.product(product)
    sheet_h = None if sheet is None else sheet.pot_life_h
    return Recipe(fact.lot, parts, sheet_h if fact.pot_life_h is None else fact.pot_life_h)


def _of_open_pieces(
    gathered: Gathering, asked: Asked, holidays: tuple[date, ...], factors: Mapping[str, Spread]
) -> None:
    view = gathered.view
    open_ones = list(pieces(view.reader, asked, IN_PROCESS))
    clocks = {clock.piece: clock for clock in shop_clocks(view, open_ones, asked.now_us, factors)}
    for piece in open_ones:
        steps = plan(piece, view.schedule(piece.schedule))
        if not any(step.act in FILMS for step in steps.remaining):
            continue
        told = estimate(view, piece, steps, clocks[piece.piece], holidays, factors)
        times: list[StepTime | None] = list(told.steps)
        times += [None] * (len(steps.remaining) - len(times))
        for step, at in zip(steps.remaining, times, strict=False):
            if step.act not in FILMS:
                continue
            product = _product_of(view, piece, step)
            if product is None and step.act != "coat":
                continue
            litres = litres_of(piece.coat_area_m2, steps.faces, step, product, piece)
            when = gathered.now if at is None else at.begins
            gathered.take(piece.piece, product, when, litres, promised=False)


def _product_of(view: View, piece: Piece, step: Step) -> ProductDescribed | None:
    product = view.product(step.product)
    if product is None and piece.coats and step.act == "coat":
        return view.product_of_lot(piece.coats[-1].lot)
    return product


def _of_expected(gathered: Gathering, piece: Piece) -> None:
    schedule = gathered.view.schedule(piece.schedule)
    if schedule is None:
        gathered.unplanned[piece.piece] = None
        return
    day = date.fromisoformat(piece.likely_on) if piece.likely_on else None
    at = gathered.now if day is None else _morning(gathered.view, day)
    _of_schedule(gathered, piece.piece, schedule, piece.coat_area_m2, 1, at)


def _of_line(gathered: Gathering, order: Order, line: OrderLine) -> None:
    """What is ordered and has no piece yet, by its offering's area and schedule."""
    alone = len(order.lines) == 1
    begun = sum(p.line == line.line or (alone and p.line is None) for p in order.pieces)
    missing = line.quantity - begun
    if missing <= 0:
        return
    view, who = gathered.view, f"order {order.order}, line {line.line}"
    offering = _offering(view, line)
    schedule = None if offering is None else view.schedule(offering.schedule)
    if offering is None or schedule is None:
        gathered.unplanned[who] = None
        return
    dates = [told.ships_by for told in order.told if told.line in (None, line.line)]
    due = dates[-1] if dates else order.wanted_by
    at = gathered.now
    if due is not None:
        at = _morning(view, date.fromisoformat(due)) - COATED_BEFORE
    _of_schedule(gathered, who, schedule, offering.coat_area_m2, missing, at)


def _offering(view: View, line: OrderLine) -> OfferingDescribed | None:
    return view.offering(line.offering) if line.offering else None


def _of_schedule(
    gathered: Gathering, who: str, schedule: ScheduleDescribed, area_m2: float | None, count: int,
    at: datetime,
) -> None:  # fmt: skip
    for step in schedule.steps:
        if step.act not in FILMS or (step.act != "coat" and step.product is None):
            continue
        product = gathered.view.product(step.product)
        one = litres_of(area_m2, schedule.faces, step, product, None)
        litres = Range(one.low * count, one.likely * count, one.high * count)
        gathered.take(who, product, at, litres, promised=True)
        gathered.says(
            product,
            f"promised work is taken to be coated {USUAL_DAYS} days before its date, or now",
        )
        if area_m2 is None:
            gathered.says(product, "a square metre each is taken where nobody said the area")


def litres_of(
    area_m2: float | None, faces: tuple[str, ...], step: Step, product: ProductDescribed | None,
    piece: Piece | None,
) -> Range:  # fmt: skip
    """Litres one coat takes: wet film over the area of the schedule's faces, overspray added."""
    if product is None:
        return Range(0.0, 0.0, 0.0)
    film_um = LAYER_WET_FILM_UM
    method = "wipe"
    if step.act == "coat":
        film_um = step.wet_film_um or sheet_of(product).sheet.reference_wet_film_um
        method = piece.coats[-1].method if piece is not None and piece.coats else "hvlp"
    stays_l = film_um * face_area_m2(area_m2 or 1.0, faces, FACE_SHARE) / 1000
    share = TRANSFER_EFFICIENCY[method]
    return Range(*(stays_l * 100 / p for p in (share.high_pct, share.likely_pct, share.low_pct)))


def _morning(view: View, day: date) -> datetime:
    shop = view.shop()
    zone = ZoneInfo("UTC" if shop is None else shop.zone)
    return datetime.combine(day, time(8), zone).astimezone(UTC)
