"""What every script of the demonstration shares: the log, the floor, the cans, the air, the book.

`Group` is some pieces that go through the day together, with the film that lies on them.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import cast

from coatledger.clocks.sheets import sheet_of
from coatledger.computations.drying import STAGES, Spread, Stage
from coatledger.computations.drying_climate import NEVER_US, course, spliced
from coatledger.computations.drying_clock import one_coat, ready_times_us
from coatledger.events.base import Fact
from coatledger.events.judging import DefectKind
from coatledger.events.setup import ProductDescribed
from coatledger.ledger.record import micros, moment

from coatledger_api.demo.cans import Can, Cans
from coatledger_api.demo.finishes import HIDDEN_FACTOR, WET_FILM_UM
from coatledger_api.demo.floor import NEVER, Floor
from coatledger_api.demo.goods import Kind
from coatledger_api.demo.log import Log
from coatledger_api.demo.orders import Book
from coatledger_api.demo.weather import Weather
from coatledger_api.demo.workdays import Workdays


@dataclass
class Group:
    """Pieces side by side. `soon` and `later` are faults they carry that nobody has seen yet."""

    name: str
    kind: Kind
    pieces: tuple[str, ...]
    flags: frozenset[str] = frozenset()
    free_at: datetime = NEVER
    coated_at: datetime | None = None
    product: str = ""
    film_um: float = 100.0
    noise: float = 1.0
    moves: tuple[tuple[datetime, str], ...] = ()
    soon: dict[str, DefectKind] = field(default_factory=dict)
    later: dict[str, DefectKind] = field(default_factory=dict)
    times_failed: int = 0

    def part(self, pieces: tuple[str, ...]) -> "Group":
        """Split some pieces off, with what lies on them and what they carry."""
        return replace(
            self,
            pieces=pieces,
            soon={p: k for p, k in self.soon.items() if p in pieces},
            later={p: k for p, k in self.later.items() if p in pieces},
        )

    @property
    def area_m2(self) -> float:
        """The area to coat on all of them."""
        return len(self.pieces) * cast("float", self.kind.started["coat_area_m2"])


@dataclass
class Shop:
    """The invented shop while it is played."""

    rng: random.Random
    days: Workdays
    log: Log
    floor: Floor
    cans: Cans
    air: Weather
    book: Book
    products: Mapping[str, ProductDescribed]
    gun_lot: dict[str, Can] = field(default_factory=dict)
    guns_dirty: dict[str, str] = field(default_factory=dict)
    oily_rags: bool = False
    marked: dict[str, Can] = field(default_factory=dict)
    told: dict[str, Fact] = field(default_factory=dict)
    places: int = 0

    def chance(self, share: float) -> bool:
        """Draw whether something of this likelihood happens."""
        return self.rng.random() < share

    def some(self, pieces: tuple[str, ...], share: float) -> tuple[str, ...]:
        """Draw a share of pieces, at least one."""
        count = max(1, round(share * len(pieces)))
        drawn = frozenset(self.rng.sample(pieces, count))
        return tuple(p for p in pieces if p in drawn)

    def place(self) -> str:
        """Name the next free place of the rack."""
        self.places = self.places % 48 + 1
        return f"R-{self.places:02}"

    def coated(self, group: Group, product: str, at: datetime, film_um: float | None) -> None:
        """Remember the film that now lies on a group, and how it will really dry."""
        group.coated_at = group.free_at = at
        group.product = product
        group.film_um = film_um or WET_FILM_UM[product]
        group.noise = self.rng.lognormvariate(0.0, 0.10)
        group.moves = ((at, "spray"),)

    def dry_at(self, group: Group, stage: Stage) -> datetime:
        """Return when the film on a group really reaches a stage: what a check will find."""
        assert group.coated_at is not None
        parts = [(micros(at), self.air.climates[room]) for at, room in group.moves]
        sheet = sheet_of(self.products[group.product]).sheet
        run = course(sheet, spliced(parts), micros(self.days.now + timedelta(days=13)))
        factor = HIDDEN_FACTOR[group.product] * group.noise
        coat = one_coat(micros(group.coated_at), group.film_um)
        ready = ready_times_us(sheet, coat, run, Spread(factor, factor, factor))
        at_us = int(ready[0, STAGES.index(stage), 1])
        return NEVER if at_us >= NEVER_US else moment(at_us)
