"""The demonstration's order book: what was ordered, promised, revised, shipped and handed over."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Final

from coatledger.events.leaving import HandedOver, Shipped
from coatledger.events.orders import (
    CustomerTold,
    OrderCancelled,
    OrderChanged,
    OrderLine,
    OrderTaken,
    PieceAllotted,
    PromiseMade,
    PromiseRevised,
)

from coatledger_api.demo.floor import Ask, Script
from coatledger_api.demo.goods import Kind
from coatledger_api.demo.log import Log
from coatledger_api.demo.workdays import Workdays, at

PICKUP: Final = ("mon", "wed", "fri")
PICKUP_WEEKDAYS: Final = (0, 2, 4)
CUTOFF: Final = "14:30"


@dataclass
class Order:
    """One order while it is open."""

    word: str
    kind: Kind
    pieces: tuple[str, ...]
    taken_at: datetime
    ships_by: date
    watched: bool = True
    open: bool = True
    shipped_at: datetime | None = None


@dataclass
class Book:
    """All orders, and which packed piece waits for which."""

    log: Log
    days: Workdays
    orders: list[Order] = field(default_factory=list)
    packed: dict[str, tuple[datetime, Kind]] = field(default_factory=dict)
    owner: dict[str, Order] = field(default_factory=dict)
    quoted: set[str] = field(default_factory=set)

    def pickup_from(self, day: date) -> date:
        """Return the first pick-up day from a day on."""
        open_days = frozenset((*self.days.days, *self.days.ahead))
        for later in range(15):
            found = day + timedelta(days=later)
            if found.weekday() in PICKUP_WEEKDAYS and found in open_days:
                return found
        return day

    def order(
        self, kind: Kind, pieces: tuple[str, ...], taken_at: datetime, ships_by: date,
        watched: bool = True,
    ) -> Order:  # fmt: skip
        """Note an order that will be taken."""
        word = f"O-{1041 + len(self.orders)}"
        made = Order(word, kind, pieces, taken_at, ships_by, watched)
        self.orders.append(made)
        return made

    def take(self, order: Order) -> Script:
        """An order comes in at its time, and its customer is given a date: the service's own, but
        for a date that somebody gave too soon."""
        slot = yield Ask(0, order.taken_at, nobody=True)
        self._taken(order, slot.start)
        if order.watched:
            self.quoted.add(order.word)
            yield from self._watch(order)

    def _taken(self, order: Order, when: datetime) -> None:
        rng = self.log.rng
        line = OrderLine(
            line="1", quantity=len(order.pieces), offering=order.kind.offering, sku=order.kind.sku
        )
        self.log.note(
            OrderTaken, when, post_at=when, source="storefront", order=order.word, lines=(line,),
            customer=f"c-{rng.getrandbits(24):06x}", price=order.kind.price * len(order.pieces),
            currency="EUR", wanted_by=order.ships_by + timedelta(days=7),
        )  # fmt: skip
        self.log.note(
            PromiseMade, when + timedelta(seconds=5), source="storefront", order=order.word,
            ships_by=order.ships_by, level_pct=80.0,
            likely=self.pickup_from(order.ships_by - timedelta(days=3)),
        )  # fmt: skip

    def allot(self, pieces: tuple[str, ...], when: datetime) -> None:
        """Give newly started pieces to the orders that wait for them."""
        for order in self.orders:
            own = tuple(p for p in order.pieces if p in pieces)
            if own and order.open and order.taken_at <= when:
                self.give(order, own, when)

    def give(self, order: Order, pieces: tuple[str, ...], when: datetime) -> None:
        """Allot pieces to an order."""
        self.log.note(
            PieceAllotted, when, source="office", pieces=pieces, order=order.word, line="1"
        )
        self.owner.update(dict.fromkeys(pieces, order))

    def ordered_with_others(self, pieces: tuple[str, ...]) -> str | None:
        """Return one of these pieces whose order wants others too, if there is one."""
        owned = ((p, self.owner.get(p)) for p in pieces)
        return next((p for p, order in owned if order is not None and len(order.pieces) > 1), None)

    def gone(self, piece: str, when: datetime) -> None:
        """A piece will not come: its order is changed to the pieces that are left."""
        order = self.owner.pop(piece, None)
        if order is None:
            return
        order.pieces = tuple(p for p in order.pieces if p != piece)
        line = OrderLine(
            line="1", quantity=max(1, len(order.pieces)), offering=order.kind.offering,
            sku=order.kind.sku,
        )  # fmt: skip
        self.log.note(PieceAllotted, when, source="office", pieces=(piece,))
        self.log.note(OrderChanged, when, source="office", order=order.word, lines=(line,))
        self.log.note(
            CustomerTold, when, source="office", order=order.word, about="part_shipment",
            chose="change",
        )  # fmt: skip

    def call_off(self, order: Order, when: datetime) -> Script:
        """A customer thinks better of it: the order is off and its pieces go to stock."""
        slot = yield Ask(0, when, nobody=True)
        if not order.open:
            return
        order.open = False
        self.log.note(OrderCancelled, slot.start, source="storefront", order=order.word)
        own = tuple(p for p in order.pieces if self.owner.pop(p, None) is not None)
        if own:
            self.log.note(PieceAllotted, slot.start, source="office", pieces=own)

    def _watch(self, order: Order) -> Script:
        """The morning before a promised day somebody looks, and tells the customer of a delay."""
        for _ in range(4):
            eve = max(self.days.index_of(at(order.ships_by, "07:30")) - 1, 0)
            slot = yield Ask(0, max(self.days.at(eve, "09:05"), order.taken_at), nobody=True)
            if not order.open or all(p in self.packed for p in order.pieces):
                return
            order.ships_by = self.pickup_from(order.ships_by + timedelta(days=3))
            self.log.note(
                PromiseRevised, slot.start, source="office", order=order.word,
                ships_by=order.ships_by, level_pct=80.0, why="clock",
            )  # fmt: skip
            self.log.note(
                CustomerTold, slot.start + timedelta(minutes=4), source="office",
                order=order.word, about="delay", chose="wait",
            )  # fmt: skip

    def pickups(self, after: datetime) -> Script:
        """On each pick-up day whole orders go to the carrier, and are handed over days later."""
        day = after
        while True:
            pickup = self.pickup_from((day + timedelta(days=1)).date())
            slot = yield Ask(12, at(pickup, "14:00"), chore=True)
            day = at(pickup, CUTOFF)
            for order in self.orders:
                here = all(p in self.packed and p in self.owner for p in order.pieces)
                if not order.open or not here or order.taken_at > slot.start:
                    continue
                if max(self.packed[p][0] for p in order.pieces) > slot.start:
                    continue
                order.open, order.shipped_at = False, slot.end
                self.log.note(
                    Shipped, slot.end, actor=slot.who, pieces=order.pieces, order=order.word,
                    carrier="van-line",
                )  # fmt: skip
                self.log.note(
                    HandedOver, slot.end + timedelta(hours=67 + self.log.rng.randrange(5)),
                    source="office", pieces=order.pieces, order=order.word,
                )  # fmt: skip

    def shelf_sales(self, after: datetime) -> Script:
        """Now and then somebody buys what stands packed on the shelf."""
        evening = after
        while True:
            evening += timedelta(days=2, hours=self.log.rng.randrange(-3, 4))
            slot = yield Ask(0, evening, nobody=True)
            free = [
                p for p, (since, _) in self.packed.items()
                if p not in self.owner and since < slot.start
            ]  # fmt: skip
            if len(free) < 3:
                continue
            kind = self.packed[free[0]][1]
            pieces = tuple(p for p in free if self.packed[p][1] is kind)[:3]
            ships = self.pickup_from((slot.start + timedelta(days=1)).date())
            order = self.order(kind, pieces, slot.start, ships)
            self._taken(order, slot.start)
            self.give(order, pieces, slot.start + timedelta(minutes=1))
