"""Finish on hand against open and promised work: what is needed, when and at which piece it runs
out, what will go to waste, and what to mix for the next batch."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from coatledger.clocks.finish_needs import Wants, recipe_of, wants
from coatledger.clocks.runs import NO_FACTORS
from coatledger.computations.drying import Spread
from coatledger.computations.practice import PRACTICE
from coatledger.computations.stock import Lot as Can
from coatledger.computations.stock import Need, Outlook, Pot, next_mix, outlook, usable_until
from coatledger.computations.viscosity import Range
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import lots
from coatledger.subjects.lot import Lot
from coatledger.subjects.view import View

# A hand-held gun with the handling between strokes: common practice, no published source.
SPRAYED_L_PER_H = 3.0
LEAST_POT_L = 0.05


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


class PartToMix(Struct, frozen=True, kw_only=True):
    """One part of a pot."""

    product: str
    part: str
    litres: float


class PotToMix(Struct, frozen=True, kw_only=True):
    """One pot, mixed when the one before is empty; its pot life ends at `use_until`."""

    litres: float
    parts: tuple[PartToMix, ...]
    use_until: datetime | None


class NextBatch(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What is sprayed next of a product: on that day, on these pieces. `pots` are given where it is
    mixed with a crosslinker, in the proportions of the mix `as_lot`; `lost_l` stays in the cups."""

    on: date
    pieces: tuple[str, ...]
    litres: Range
    as_lot: str | None = None
    pot_life_h: float | None = None
    pots: tuple[PotToMix, ...] = ()
    lost_l: float = 0.0
    assumed: tuple[str, ...] = ()


class ProductStock(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One product: its cans, and what open and promised work takes from them. The outlook counts
    both; `promised_l` is the part of work that has not begun."""

    product: str
    cans: tuple[CanRow, ...]
    open_l: Range
    promised_l: Range
    outlook: Outlook
    next_batch: NextBatch | None = None
    assumed: tuple[str, ...] = ()


class StockAnswer(Struct, frozen=True, kw_only=True):
    """Finish on hand and needed. `unplanned` names pieces and order lines of which nobody can say
    what they will take: no schedule, or a coat without a product."""

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
    ahead = wants(view, asked, tuple(holidays), factors)
    held = {can.product for can in cans if can.product}
    named = sorted(held | set(ahead.open_work) | set(ahead.promised))
    now = iso(asked.now_us)
    assert now is not None
    return StockAnswer(
        position=asked.position(reader),
        as_of=now,
        products=tuple(
            _product(view, word, [c for c in cans if c.product == word], ahead, ZoneInfo(zone), now)
            for word in named
        ),
        cans_of_unknown=tuple(can for can in cans if can.product is None),
        unplanned=ahead.unplanned,
    )


def _product(
    view: View, word: str, cans: list[CanRow], ahead: Wants, zone: ZoneInfo, now: datetime
) -> ProductStock:
    open_work, promised = ahead.open_work.get(word, []), ahead.promised.get(word, [])
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
        product=word,
        cans=tuple(cans),
        open_l=_total(open_work),
        promised_l=_total(promised),
        outlook=outlook(usable, [*open_work, *promised], now),
        next_batch=_next_batch(view, word, open_work, zone, now),
        assumed=(*says, *ahead.assumed.get(word, ())),
    )


def _next_batch(
    view: View, word: str, needs: list[Need], zone: ZoneInfo, now: datetime
) -> NextBatch | None:
    """Take what is due on the first day anything is, and mix for that."""
    if not needs:
        return None
    first = min(need.at.astimezone(zone).date() for need in needs)
    due = [need for need in needs if need.at.astimezone(zone).date() == first]
    wanted = _total(due)
    recipe = recipe_of(view, word)
    batch = NextBatch(
        on=first, pieces=tuple(dict.fromkeys(need.piece for need in due)), litres=wanted
    )
    if recipe is None or recipe.parts[0].product != word:
        return batch
    # What is needed of this product is its share of the mix: the whole mix is larger.
    share = sum(part.share for part in recipe.parts if part.product == word)
    whole_l = max(wanted.likely / share, LEAST_POT_L)
    starts = max(now, min(need.at for need in due))
    parts = [(f"{part.product}|{part.part}", part.share) for part in recipe.parts]
    mix = next_mix(whole_l, parts, SPRAYED_L_PER_H, recipe.pot_life_h, starts)
    return replace(
        batch,
        as_lot=recipe.lot,
        pot_life_h=recipe.pot_life_h,
        pots=tuple(_pot(pot) for pot in mix.pots),
        lost_l=mix.lost_l,
        assumed=(f"{SPRAYED_L_PER_H:g} L sprayed an hour, {PRACTICE}",),
    )


def _pot(pot: Pot) -> PotToMix:
    parts = []
    for name, litres in pot.parts:
        product, _, part = name.partition("|")
        parts.append(PartToMix(product=product, part=part, litres=litres))
    return PotToMix(litres=pot.litres, parts=tuple(parts), use_until=pot.use_until)


def _total(needs: Iterable[Need]) -> Range:
    litres = [need.litres for need in needs]
    return Range(
        sum(one.low for one in litres),
        sum(one.likely for one in litres),
        sum(one.high for one in litres),
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
