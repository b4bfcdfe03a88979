"""What is done to the guns between the coats: changed over, filled, and flushed when a day ends."""

from dataclasses import dataclass, field
from datetime import date, datetime

from coatledger.answers.day_plan.answer import Finish, Line
from coatledger.computations.cautions import for_gun
from coatledger.computations.practice import PRACTICE
from coatledger.computations.simulate.shop import OpenShop
from coatledger.events.setup import ProductDescribed
from coatledger.open_shop.known import Known


@dataclass(slots=True)
class _Gun:
    """A gun as the plan goes on: what is in it, and when it last sprayed and by whom."""

    product: str = ""
    lot: str | None = None
    filled: bool = False
    sprayed_on: date | None = None
    sprayed_until: datetime | None = None
    by: int | None = None


@dataclass(slots=True)
class Guns:
    """The shop's guns along one course; telling of a spray job changes them."""

    facts: Known
    shop: OpenShop
    now: dict[str, _Gun] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for gun in self.shop.guns:
            filled = self.facts.view.gun(gun.id).set_up if gun.holds else None
            self.now[gun.id] = _Gun(gun.holds, filled.lot if filled else None, bool(gun.holds))

    def before(
        self, word: str, finish: Finish, day: date, at: tuple[datetime, datetime, datetime], by: int
    ) -> list[Line]:
        """Return what is done before a gun sprays: between `at[0]` and `at[2]` it is changed over,
        flushed until `at[1]` when something else is in it. A filled gun needs nothing."""
        gun = self.now[word]
        made = self._of_day(word, day)
        changes = gun.product != (finish.product or "")
        begins, middle, ends = at
        starts = begins
        if changes and gun.filled:
            starts = middle
            made.append(self._flush(word, gun, begins, middle, by, "before something else"))
            gun.filled = False
        if changes or not gun.filled:
            made.append(self._set_up(word, finish, starts, ends, by))
        gun.product, gun.lot, gun.filled = finish.product or "", finish.can, True
        return made

    def sprayed(self, word: str, day: date, ends: datetime, by: int) -> None:
        """Note a spray job."""
        gun = self.now[word]
        gun.sprayed_on, gun.sprayed_until, gun.by = day, ends, by

    def at_the_end(self) -> list[Line]:
        """Return the flushes after the last sprayings."""
        return [line for word in self.now for line in self._of_day(word, None)]

    def _of_day(self, word: str, day: date | None) -> list[Line]:
        """Flush what sprayed on another day at that day's end."""
        gun = self.now[word]
        if gun.sprayed_until is None or gun.sprayed_on == day or not gun.filled:
            return []
        at, gun.filled = gun.sprayed_until, False
        gun.sprayed_until = None
        return [self._flush(word, gun, at, at, gun.by or 1, "at the day's end")]

    def _flush(
        self, word: str, gun: _Gun, begins: datetime, ends: datetime, by: int, when: str
    ) -> Line:
        sheet = self.facts.view.product(gun.product)
        using = "water" if sheet is not None and sheet.kind == "water_borne" else "solvent"
        described = self.facts.view.gun_described(word)
        body = "aluminium" if described is None else described.body
        what = "water" if using == "water" else "what its data sheet names"
        notes = () if begins != ends else (f"its minutes are not planned; {PRACTICE}",)
        return Line(
            act="flush", begins=begins, ends=ends, gun=word, by=by, notes=notes,
            says=f"flush {gun.product or 'the gun'} out with {what} {when}",
            cautions=tuple(caution.code for caution in for_gun(body, using)),
        )  # fmt: skip

    def _set_up(self, word: str, finish: Finish, begins: datetime, ends: datetime, by: int) -> Line:
        what = finish.can or ("the mix" if finish.product else "the next finish")
        of = f" ({finish.product})" if finish.product else ""
        return Line(
            act="set_up", begins=begins, ends=ends, gun=word, by=by, finish=finish,
            says=f"set up with {what}{of}{_nozzle(self.facts.view.product(finish.product))}",
            notes=("try it on paper first",),
        )  # fmt: skip


def _nozzle(sheet: ProductDescribed | None) -> str:
    """Say the nozzle the data sheet asks for, where it does."""
    if sheet is None or sheet.nozzle_min_mm is None or sheet.nozzle_max_mm is None:
        return ""
    return f", nozzle {sheet.nozzle_min_mm:g} to {sheet.nozzle_max_mm:g} mm"
