"""Finish on hand against the work in the room: what is needed, when and at which piece it runs out.

Needs are the remaining coats of open pieces, each at the time its own ship estimate gives it.
Promised work whose pieces have not started is not in it yet.
"""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.clocks.clocks import shop_clocks
from coatledger.clocks.estimate import StepTime, estimate
from coatledger.clocks.runs import NO_FACTORS
from coatledger.clocks.sheets import sheet_of
from coatledger.computations.drying import Spread
from coatledger.computations.film import FACE_SHARE, TRANSFER_EFFICIENCY, face_area_m2
from coatledger.computations.stock import Lot as Can
from coatledger.computations.stock import Need, Outlook, outlook, usable_until
from coatledger.computations.viscosity import Range
from coatledger.events.setup import ProductDescribed, Step
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import lots, pieces
from coatledger.subjects.lot import Lot
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import IN_PROCESS
from coatledger.subjects.plan import Plan, plan
from coatledger.subjects.view import View


class CanRow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One can or mix on hand. `left_l` is None when nobody ever said; `unmeasured` acts took from
    it since the last sure amount without saying how much; `unusable` says why it does not count."""

    lot: str
    product: str | None
    left_l: float | None
    usable_until: datetime | None = None
    opened_at: datetime | None = None
    unmeasured: int = 0
    unusable: str | None = None


class ProductStock(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One product: its cans, and what the open work takes from them."""

    product: str
    cans: tuple[CanRow, ...]
    outlook: Outlook
    assumed: tuple[str, ...] = ()


class StockAnswer(Struct, frozen=True, kw_only=True):
    """Finish on hand and needed. `unplanned` names pieces whose next coats name no product."""

    position: int
    as_of: datetime | None
    products: tuple[ProductStock, ...]
    cans_of_unknown: tuple[CanRow, ...]
    unplanned: tuple[str, ...]


def stock(
    reader: Reader, asked: Asked, holidays: Iterable[date] = (),
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> StockAnswer:  # fmt: skip
    """Lay the open work against the cans on hand, product by product."""
    view = asked.view(reader)
    shop = view.shop()
    zone = "UTC" if shop is None else shop.zone
    cans = [_can(lot, zone, asked.now_us) for lot in lots(reader, asked, ("closed", "open"))]
    needs, unplanned = _needs(view, reader, asked, tuple(holidays), factors)
    named = sorted({can.product for can in cans if can.product} | set(needs))
    now = iso(asked.now_us)
    assert now is not None
    return StockAnswer(
        position=asked.position(reader),
        as_of=now,
        products=tuple(
            _product(word, [c for c in cans if c.product == word], needs.get(word, []), now)
            for word in named
        ),
        cans_of_unknown=tuple(can for can in cans if can.product is None),
        unplanned=unplanned,
    )


def _product(word: str, cans: list[CanRow], needs: list[Need], now: datetime) -> ProductStock:
    usable = [
        Can(can.lot, can.left_l, can.usable_until)
        for can in cans
        if can.left_l is not None and can.unusable is None
    ]
    says = [f"{can.lot}: nobody said how much is in it" for can in cans if can.left_l is None]
    says += [
        f"{can.lot}: {can.unmeasured} act(s) took from it without saying how much"
        for can in cans
        if can.unmeasured
    ]
    return ProductStock(
        product=word, cans=tuple(cans), outlook=outlook(usable, needs, now), assumed=tuple(says)
    )


def _can(lot: Lot, zone: str, now_us: int) -> CanRow:
    use_by = date.fromisoformat(lot.use_by) if lot.use_by else None
    ends = [usable_until(use_by, None, None, ZoneInfo(zone).key), iso(lot.pot_ends_us)]
    until = min((end for end in ends if end is not None), default=None)
    now = iso(now_us)
    why = "frozen" if lot.frozen_us is not None else None
    if until is not None and now is not None and until <= now:
        why = "past pot life" if lot.pot_ends_us is not None else "past use-by"
    return CanRow(
        lot=lot.lot,
        product=lot.product,
        left_l=lot.left_l,
        usable_until=until,
        opened_at=iso(lot.opened_us),
        unmeasured=lot.unmeasured,
        unusable=why,
    )


def _needs(
    view: View,
    reader: Reader,
    asked: Asked,
    holidays: tuple[date, ...],
    factors: Mapping[str, Spread],
) -> tuple[dict[str, list[Need]], tuple[str, ...]]:
    open_ones = list(pieces(reader, asked, IN_PROCESS))
    clocks = {clock.piece: clock for clock in shop_clocks(view, open_ones, asked.now_us, factors)}
    needs: dict[str, list[Need]] = {}
    unplanned: list[str] = []
    now = iso(asked.now_us)
    assert now is not None
    for piece in open_ones:
        steps = plan(piece, view.schedule(piece.schedule))
        coats = [step for step in steps.remaining if step.act == "coat"]
        if not coats:
            continue
        told = estimate(view, piece, steps, clocks[piece.piece], holidays, factors)
        times = [step for step in told.steps if step.act == "coat"]
        for i, step in enumerate(coats):
            product = _product_of(view, piece, step)
            if product is None:
                unplanned.append(piece.piece)
                continue
            at = times[i] if i < len(times) else None
            need = _need(piece, steps, step, product, at, now)
            needs.setdefault(product.product, []).append(need)
    return needs, tuple(dict.fromkeys(unplanned))


def _product_of(view: View, piece: Piece, step: Step) -> ProductDescribed | None:
    product = view.product(step.product)
    if product is None and piece.coats:
        return view.product_of_lot(piece.coats[-1].lot)
    return product


def _need(
    piece: Piece, steps: Plan, step: Step, product: ProductDescribed, at: StepTime | None,
    now: datetime,
) -> Need:  # fmt: skip
    """Litres one coat takes: wet film over the area of the schedule's faces, overspray added."""
    film_um = step.wet_film_um or sheet_of(product).sheet.reference_wet_film_um
    area_m2 = face_area_m2(piece.coat_area_m2 or 1.0, steps.faces, FACE_SHARE)
    stays_l = film_um * area_m2 / 1000
    method = piece.coats[-1].method if piece.coats else "hvlp"
    share = TRANSFER_EFFICIENCY[method]
    litres = (stays_l * 100 / pct for pct in (share.high_pct, share.likely_pct, share.low_pct))
    return Need(piece.piece, now if at is None else at.begins, Range(*litres))
