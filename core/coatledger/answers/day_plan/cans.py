"""Which can each planned coat is taken from, and what is mixed, until there is not enough of it.

A can in the gun comes first, then an open one, then what ends soonest. Litres are the likely ones.
What is mixed with a crosslinker is mixed in the proportions of the last mix, for all that is put on
with it one after the other on one day within its pot life.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.day_plan.answer import Finish, Part
from coatledger.clocks.finish_needs import Recipe, recipe_of
from coatledger.computations.calendar import local_date
from coatledger.computations.stock import usable_until
from coatledger.computations.viscosity import Range
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import lots
from coatledger.subjects.lot import Lot
from coatledger.subjects.view import View

_FAR = datetime(9999, 1, 1, tzinfo=ZoneInfo("UTC"))


class Use(Struct, frozen=True, kw_only=True):
    """One planned act that takes finish; `held` is the can its gun holds."""

    product: str | None
    litres: Range
    begins: datetime
    ends: datetime
    gun: str = ""
    held: str | None = None


class Short(Struct, frozen=True):
    """What cannot be taken: the place of the use, what it needs and what is there."""

    use: int
    product: str
    needed_l: float
    on_hand_l: float


@dataclass(slots=True)
class _Can:
    """A can as the plan goes on; `lot` is None for a mix that is yet to be mixed."""

    lot: str | None
    product: str
    left_l: float | None
    until: datetime
    is_open: bool
    stirred: date | None
    strained: date | None
    mixed: bool = False


class Shelf:
    """The cans that are here, read once; each course takes from them anew."""

    def __init__(self, view: View, reader: Reader, asked: Asked, zone: str) -> None:
        self._view = view
        self._zone = zone
        self._recipes: dict[str, Recipe | None] = {}
        self._in_gun: dict[str, str | None] = {}
        self._cans: list[_Can] = []
        self._here = tuple(lots(reader, asked, ("closed", "open")))

    def allot(self, uses: Sequence[Use]) -> tuple[Mapping[int, Finish], tuple[Short, ...]]:
        """Return what each use takes, by its place, and those for which there is not enough."""
        self._in_gun.clear()
        self._cans = [
            self._can(lot, lot.product)
            for lot in self._here
            if lot.product and lot.frozen_us is None
        ]
        found: dict[int, Finish] = {}
        short: list[Short] = []
        for place, use in enumerate(uses):
            if use.product is None:
                found[place] = Finish(product=None)
                continue
            taken = self._take(use) or self._mixed(place, uses)
            if isinstance(taken, Finish):
                found[place] = taken
            else:
                lack = taken or Part(product=use.product, part="", litres=use.litres.likely)
                here_l = self._on_hand_l(lack.product, use.begins)
                short.append(Short(place, lack.product, lack.litres, here_l))
        return found, tuple(short)

    def _take(self, use: Use) -> Finish | None:
        """Take from one can, or from several that together hold enough."""
        product, held = use.product or "", self._in_gun.get(use.gun, use.held)
        fit = sorted(
            (can for can in self._fit_to_use(product) if can.until > use.begins),
            key=lambda can: (can.lot != held, not can.is_open, can.until, can.lot or ""),
        )
        need_l = use.litres.likely
        alone = [can for can in fit if can.left_l is None or can.left_l >= need_l]
        chosen = alone[:1] or self._together(fit, need_l)
        if not chosen:
            return None
        here_l = self._on_hand_l(product, use.begins)
        first = chosen[0]
        if use.gun:
            self._in_gun[use.gun] = chosen[-1].lot
        told = replace(
            self._readied(first, use),
            on_hand_l=here_l,
            also=tuple(can.lot or "" for can in chosen[1:]),
        )
        for can in chosen:
            if can.left_l is not None:
                part_l = min(can.left_l, need_l)
                can.left_l, need_l = round(can.left_l - part_l, 4), need_l - part_l
        return told

    def _fit_to_use(self, product: str) -> Sequence[_Can]:
        """What is mixed with a crosslinker is used as a mix and never as it came."""
        only_mixes = self._recipe(product) is not None
        mine = (can for can in self._cans if can.product == product)
        return [can for can in mine if can.mixed or not only_mixes]

    def _together(self, fit: Sequence[_Can], need_l: float) -> list[_Can]:
        chosen: list[_Can] = []
        for can in fit:
            if can.left_l:
                chosen.append(can)
                need_l -= can.left_l
                if need_l <= 0.0:
                    return chosen
        return []

    def _readied(self, can: _Can, use: Use) -> Finish:
        """Say what is done to a can before it is used, once a day."""
        sheet, today = self._view.product(can.product), local_date(use.begins, self._zone)
        stir = sheet is not None and sheet.stir and can.stirred != today and can.lot is not None
        mesh_um = sheet.strain_um if sheet else None
        strain = mesh_um is not None and can.strained != today
        told = Finish(
            product=can.product, can=can.lot, needed_l=use.litres, open_first=not can.is_open,
            stir_first=stir, strain_um=mesh_um if strain else None,
            use_until=can.until if can.lot is None and can.until < _FAR else None,
        )  # fmt: skip
        can.is_open, can.stirred = True, today
        can.strained = today if strain else can.strained
        return told

    def _mixed(self, place: int, uses: Sequence[Use]) -> Finish | Part | None:
        """Mix for this use and those that follow; for this one alone when that is too much. The
        part that lacks even so; None of what is not mixed."""
        use = uses[place]
        recipe = self._recipe(use.product or "")
        if recipe is None:
            return None
        life = timedelta(hours=recipe.pot_life_h) if recipe.pot_life_h else None
        until = use.begins + life if life else _FAR
        with_it = self._with_it(place, uses, until)
        lacks: Part | None = None
        for number in (len(with_it), 1):
            whole_l = sum(one.litres.likely for one in with_it[:number])
            parts = self._parts(recipe, whole_l, use.begins)
            if isinstance(parts, Part):
                lacks = parts
            else:
                today = local_date(use.begins, self._zone)
                mix = _Can(None, use.product or "", whole_l, until, True, today, None, True)
                self._cans.append(mix)
                told = self._take(replace(use, held=None))
                assert told is not None
                return replace(told, mix=parts, mix_for_lines=number - 1)
        return lacks

    def _with_it(self, place: int, uses: Sequence[Use], until: datetime) -> list[Use]:
        first = uses[place]
        found: list[Use] = []
        for use in uses[place:]:
            same_gun = use.gun == first.gun
            if same_gun and use.product != first.product:
                break
            today = local_date(use.begins, self._zone) == local_date(first.begins, self._zone)
            if same_gun and today and use.ends <= until:
                found.append(use)
        return found or [first]

    def _parts(self, recipe: Recipe, whole_l: float, at: datetime) -> tuple[Part, ...] | Part:
        """Take the parts of a mix from their cans; or say which is short, and take nothing."""
        taken: list[tuple[_Can, float]] = []
        parts: list[Part] = []
        for part in recipe.parts:
            need_l = round(whole_l * part.share, 4)
            fit = [
                can for can in self._cans
                if not can.mixed and can.product == part.product and can.until > at
                and (can.left_l is None or can.left_l >= need_l)
            ]  # fmt: skip
            if not fit:
                return Part(product=part.product, part=part.part, litres=need_l)
            can = min(fit, key=lambda one: (not one.is_open, one.until, one.lot or ""))
            taken.append((can, need_l))
            parts.append(Part(product=part.product, part=part.part, litres=need_l, can=can.lot))
        for can, need_l in taken:
            can.is_open = True
            can.left_l = None if can.left_l is None else round(can.left_l - need_l, 4)
        return tuple(parts)

    def _on_hand_l(self, product: str, at: datetime) -> float:
        mine = (can for can in self._cans if can.product == product and can.until > at)
        return round(sum(can.left_l or 0.0 for can in mine), 3)

    def _recipe(self, product: str) -> Recipe | None:
        if product not in self._recipes:
            self._recipes[product] = recipe_of(self._view, product)
        return self._recipes[product]

    def _can(self, lot: Lot, product: str) -> _Can:
        use_by = date.fromisoformat(lot.use_by) if lot.use_by else None
        ends = [usable_until(use_by, None, None, self._zone)]
        ends += [moment(lot.pot_ends_us)] if lot.pot_ends_us is not None else []
        until = min((end for end in ends if end is not None), default=_FAR)
        return _Can(
            lot.lot, product, lot.left_l, until, lot.opened_us is not None,
            self._day(lot.stirred_us), self._day(lot.strained_us), lot.mixed,
        )  # fmt: skip

    def _day(self, at_us: int | None) -> date | None:
        return None if at_us is None else local_date(moment(at_us), self._zone)
