"""The finish of the demonstration: which can is taken, what is left, when more comes.

The invented shop counts what it sprays from the area, the film and what an HVLP gun loses.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

from coatledger.events.finish import (
    LotDiscarded,
    LotMixed,
    LotOpened,
    LotReceived,
    LotStirred,
    LotStrained,
    Parent,
    ViscosityMeasured,
)

from coatledger_api.demo.finishes import CANS, PRODUCTS
from coatledger_api.demo.log import Log

KEPT_L = 0.12  # what stays in cup and can and is thrown away with them


@dataclass
class Can:
    """One can or one mix."""

    lot: str
    product: str
    left_l: float
    use_by: datetime
    opened: bool = False
    stirred: datetime | None = None
    mixed: datetime | None = None


class Share(NamedTuple):
    """What one can gives to one act."""

    can: Can
    litres: float


@dataclass
class Cans:
    """Every can in the shop."""

    log: Log
    cans: list[Can] = field(default_factory=list)
    numbers: dict[str, int] = field(default_factory=dict)

    def receive(self, product: str, at: datetime, *, use_by_days: int = 300) -> Can:
        """A can comes in."""
        size_l = CANS[product][0]
        use_by = at + timedelta(days=use_by_days)
        can = Can(self._word(product.upper()), product, size_l, use_by)
        self.log.note(
            LotReceived, at, source="office", lot=can.lot, product=product, amount_l=size_l,
            use_by=use_by.date(), maker_batch=f"batch {self.log.rng.randrange(1000, 9999)}",
            price=round(1900 * size_l),
        )  # fmt: skip
        self.cans.append(can)
        return can

    def stock_l(self, product: str) -> float:
        """Return the litres on the shelf."""
        return sum(c.left_l for c in self.cans if c.product == product and c.mixed is None)

    def pick(self, product: str, litres: float, at: datetime) -> Can:
        """Take the fullest need off the emptiest can that still has enough; else open a new one."""
        fitting = [
            c
            for c in self.cans
            if c.product == product and c.mixed is None and c.left_l >= litres + KEPT_L
        ]
        if not fitting:
            return self.receive(product, at - timedelta(minutes=2))
        return min(fitting, key=lambda c: (not c.opened, c.left_l, c.lot))

    def nearly_empty(self, product: str) -> Can | None:
        """Return the open can with the least in it."""
        opened = [c for c in self.cans if c.product == product and c.opened and c.left_l > 0.1]
        return min(opened, key=lambda c: c.left_l, default=None)

    def ready(self, can: Can, at: datetime, who: str, *, stir: bool = True) -> None:
        """Open, strain and stir a can before it is used, as far as it has not been done today."""
        if not can.opened:
            can.opened = True
            self.log.note(LotOpened, at, lot=can.lot, actor=who)
            if PRODUCTS[can.product].get("strain_um"):
                self.log.note(LotStrained, at, lot=can.lot, actor=who, mesh_um=190.0)
            if can.product == "clear-w":
                efflux_s = round(self.log.rng.uniform(38.0, 44.0), 1)
                self.log.note(
                    ViscosityMeasured, at, lot=can.lot, actor=who, cup="iso_4", efflux_s=efflux_s,
                    liquid_c=20.0,
                )  # fmt: skip
        stale = can.stirred is None or at - can.stirred > timedelta(hours=4)
        if stir and stale and PRODUCTS[can.product].get("stir", True):
            can.stirred = at
            self.log.note(LotStirred, at, lot=can.lot, actor=who, hands_on_min=2)

    def mix_2k(self, litres: float, at: datetime, who: str) -> Can:
        """Mix table clear and crosslinker ten to one, for one act."""
        base_l, hard_l = round(litres / 1.1, 3), round(litres / 11.0, 3)
        base = self.pick("clear-2k", base_l, at)
        hard = self.pick("hardener-x", hard_l, at)
        for can, used_l in ((base, base_l), (hard, hard_l)):
            self.ready(can, at - timedelta(minutes=1), who)
            can.left_l = round(can.left_l - used_l, 3)
        total_l = round(base_l + hard_l, 3)
        mix = Can(self._word("MIX"), "clear-2k", total_l, at, opened=True, stirred=at, mixed=at)
        parents = (
            Parent(lot=base.lot, amount_l=base_l),
            Parent(lot=hard.lot, amount_l=hard_l, part="crosslinker"),
        )
        self.log.note(
            LotMixed, at, lot=mix.lot, product="clear-2k", parents=parents, pot_life_h=4.0,
            ratio=(10.0, 1.0), hands_on_min=3, actor=who,
        )  # fmt: skip
        self.log.note(LotStrained, at + timedelta(minutes=3), lot=mix.lot, actor=who, mesh_um=190.0)
        self.cans.append(mix)
        return mix

    def last_mixed(self) -> datetime:
        """Return when the newest mix was made."""
        return max(c.mixed for c in self.cans if c.mixed is not None)

    def discard(self, can: Can, at: datetime, why: str, who: str | None = None) -> None:
        """Throw away what is left."""
        self.log.note(
            LotDiscarded, at, lot=can.lot, left_l=round(can.left_l, 3), why=why, actor=who
        )  # fmt: skip
        can.left_l = 0.0

    def _word(self, prefix: str) -> str:
        self.numbers[prefix] = self.numbers.get(prefix, 0) + 1
        return f"{prefix}-{self.numbers[prefix]:02}"
