"""Orders and promises: what somebody asked for, and what the shop told them."""

from collections.abc import Mapping
from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.events.base import (
    Count,
    Currency,
    Day,
    Days,
    Fact,
    Label,
    MinorUnits,
    Moment,
    Percent,
    Pieces,
    Sha256,
    SquareMetres,
    Word,
    third_decimal,
)
from coatledger.events.setup import Use


class OrderLine(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One line of an order: something the shop sells, or work described freely by what it is."""

    line: Word
    quantity: Count = 1
    offering: Word | None = None
    sku: Word | None = None
    options: Annotated[Mapping[Word, Word], Meta(max_length=10)] = {}
    species: Word | None = None
    coat_area_m2: SquareMetres | None = None
    schedule: Word | None = None
    use: Use | None = None
    joinery_days: Days | None = None


Odds = Annotated[float, Meta(ge=-10, le=10, extra_json_schema=third_decimal())]
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


class HoldBefore(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A hold in force when a promise was computed: work that somebody else might still take."""

    hold: Annotated[str, Meta(min_length=1, max_length=41)]
    placed_at: Moment
    ships_by: Day
    lines: Lines


class PromiseMade(Fact, frozen=True, kw_only=True, tag="promise_made"):
    """The ship date a customer was given, with all that is needed to compute it again: as of
    `quoted_at`, knowing what was recorded up to `position`, with the `holds` then in force and the
    day that was wished for.
    `asked_sha256` tells the same call sent twice from another one about the same order. Chances are
    as they were said: log-odds of what was simulated, stretched and shifted by what earlier
    promises had come to."""

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
    quoted_at: Moment | None = None
    wanted_by: Day | None = None
    replications: Annotated[int, Meta(ge=1, le=10**5)] | None = None
    chance_pct: Percent | None = None
    holds: Annotated[tuple[HoldBefore, ...], Meta(max_length=100)] = ()
    asked_sha256: Sha256 | None = None
    chances_pct: Annotated[
        tuple[Percent, ...], Meta(max_length=4, description="Of p50, p80, p90 and p95.")
    ] = ()
    odds_shift: Odds = 0.0
    odds_stretch: Odds = 1.0


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
