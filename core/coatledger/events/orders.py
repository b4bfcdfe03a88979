"""Orders and promises: what somebody asked for, and what the shop told them."""

from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.events.base import (
    Count,
    Currency,
    Day,
    Fact,
    Label,
    MinorUnits,
    Percent,
    Pieces,
    Word,
)


class OrderLine(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One line of an order."""

    line: Word
    quantity: Count = 1
    offering: Word | None = None
    sku: Word | None = None
    options: Annotated[Mapping[Word, Word], Meta(max_length=10)] = {}


Lines = Annotated[tuple[OrderLine, ...], Meta(min_length=1, max_length=100)]


class OrderTaken(Fact, frozen=True, kw_only=True, tag="order_taken"):
    """A customer ordered. `customer` is an opaque reference, never a name."""

    order: Word
    lines: Lines
    customer: Word | None = None
    wanted_by: Day | None = None
    together: bool = True
    price: MinorUnits | None = None
    currency: Currency | None = None


class OrderChanged(Fact, frozen=True, kw_only=True, tag="order_changed"):
    """The order's lines or wish date from now on."""

    order: Word
    lines: Lines | None = None
    wanted_by: Day | None = None
    together: bool | None = None


class OrderCancelled(Fact, frozen=True, kw_only=True, tag="order_cancelled"):
    """The order is off; pieces made for it go back to stock."""

    order: Word
    by: Literal["customer", "shop"] = "customer"


class PieceAllotted(Fact, frozen=True, kw_only=True, tag="piece_allotted"):
    """Pieces now belong to an order's line, or to none."""

    pieces: Pieces
    order: Word | None = None
    line: Word | None = None


class PromiseMade(Fact, frozen=True, kw_only=True, tag="promise_made"):
    """The ship date a customer was given, with all that is needed to compute it again."""

    order: Word
    ships_by: Day
    level_pct: Percent
    line: Word | None = None
    likely: Day | None = None
    p50: Day | None = None
    p80: Day | None = None
    p90: Day | None = None
    p95: Day | None = None
    seed: Annotated[int, Meta(ge=0, le=10**6)] | None = None
    engine: Label | None = None
    calendar: Label | None = None
    position: Annotated[int, Meta(ge=0, le=10**12)] | None = None


class PromiseRevised(Fact, frozen=True, kw_only=True, tag="promise_revised"):
    """A later word about the date; the first one told still counts for the score."""

    order: Word
    ships_by: Day
    level_pct: Percent
    line: Word | None = None
    why: Literal["rework", "clock", "finish", "people", "joinery", "customer", "other"] = "other"


class CustomerTold(Fact, frozen=True, kw_only=True, tag="customer_told"):
    """The customer was told of a delay or a part shipment, and what they chose."""

    order: Word
    about: Literal["delay", "part_shipment", "ready", "defect", "other"]
    chose: Literal["wait", "split", "cancel", "change", "nothing_asked"] = "nothing_asked"
    line: Word | None = None
