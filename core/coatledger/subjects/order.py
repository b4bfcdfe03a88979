"""One order: its lines, its pieces as they were allotted, and every date its customer was told."""

from collections.abc import Mapping
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.events import leaving, orders
from coatledger.events.base import Fact
from coatledger.events.catalogue import TAG_OF
from coatledger.ledger.record import micros

VERSION = 2

# Stage -> tag -> next stage. An order that is off takes no more pieces and no more promises.
NEXT: Mapping[str, Mapping[str, str]] = {
    "unborn": {"order_taken": "open"},
    "open": {
        "order_changed": "open",
        "order_cancelled": "cancelled",
        "piece_allotted": "open",
        "promise_made": "open",
        "promise_revised": "open",
        "customer_told": "open",
        "shipped": "open",
        "handed_over": "open",
        "returned": "open",
        "finding_settled": "open",
    },
    "cancelled": {
        "customer_told": "cancelled",
        "shipped": "cancelled",
        "handed_over": "cancelled",
        "returned": "cancelled",
        "finding_settled": "cancelled",
    },
}


class Told(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One date the customer was given."""

    event: UUID
    at_us: int
    ships_by: str
    level_pct: float
    line: str | None = None


class Allotted(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A piece that was given to this order. Whether it still is, the piece's own state says."""

    piece: str
    line: str | None = None


class Order(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What somebody ordered and was told."""

    order: str
    stage: str = "unborn"
    customer: str | None = None
    lines: tuple[orders.OrderLine, ...] = ()
    wanted_by: str | None = None
    together: bool = True
    price: int | None = None
    currency: str | None = None
    taken_us: int | None = None
    pieces: tuple[Allotted, ...] = ()
    told: tuple[Told, ...] = ()
    shipped: tuple[str, ...] = ()
    disputed: tuple[UUID, ...] = ()

    @property
    def shelf(self) -> str:
        """Where it is listed: by its stage, and `done` when all that was ordered has left."""
        ordered = sum(line.quantity for line in self.lines)
        done = self.stage == "open" and 0 < ordered <= len(self.shipped)
        return "done" if done else self.stage

    def told_of(self, line: str | None) -> tuple[Told, ...]:
        """Return the days told of a line: those of the whole order are of each line too."""
        return tuple(one for one in self.told if one.line in (None, line))


def initial(order: str) -> Order:
    """A word nobody has used yet."""
    return Order(order=order)


def may_follow(order: Order, fact: Fact) -> bool:
    """Say whether the table allows this fact at the order's stage."""
    return TAG_OF[type(fact)] in NEXT[order.stage]


def evolve(order: Order, fact: Fact) -> Order:
    """Fold one more fact in, in order of (occurred, position)."""
    if not may_follow(order, fact):
        return replace(order, disputed=(*order.disputed, fact.id))
    stage = NEXT[order.stage][TAG_OF[type(fact)]]
    return replace(_changed(order, fact), stage=stage)


def _changed(order: Order, fact: Fact) -> Order:
    match fact:
        case orders.OrderTaken():
            return replace(
                order, customer=fact.customer, lines=fact.lines, together=fact.together,
                wanted_by=str(fact.wanted_by) if fact.wanted_by else None, price=fact.price,
                currency=fact.currency, taken_us=micros(fact.occurred_at),
            )  # fmt: skip
        case orders.OrderChanged():
            return replace(
                order,
                lines=order.lines if fact.lines is None else fact.lines,
                wanted_by=str(fact.wanted_by) if fact.wanted_by else order.wanted_by,
                together=order.together if fact.together is None else fact.together,
            )
        case orders.PieceAllotted():
            others = tuple(p for p in order.pieces if p.piece not in fact.pieces)
            new = tuple(Allotted(piece=piece, line=fact.line) for piece in fact.pieces)
            return replace(order, pieces=(*others, *new))
        case orders.PromiseMade() | orders.PromiseRevised():
            told = Told(
                event=fact.id, at_us=micros(fact.occurred_at), ships_by=str(fact.ships_by),
                level_pct=fact.level_pct, line=fact.line,
            )  # fmt: skip
            return replace(order, told=(*order.told, told))
        case leaving.Shipped() | leaving.HandedOver():
            new_pieces = tuple(p for p in fact.pieces if p not in order.shipped)
            return replace(order, shipped=(*order.shipped, *new_pieces))
        case _:
            return order
