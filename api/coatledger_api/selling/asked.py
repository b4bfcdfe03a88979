"""What a shop's server asks for: the bodies of quotes, holds and promises."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Annotated

import msgspec
from coatledger.events.base import (
    Count,
    Currency,
    Day,
    Days,
    MinorUnits,
    Moment,
    SquareMetres,
    Word,
)
from coatledger.events.orders import OrderLine
from coatledger.events.setup import Use
from msgspec import Meta, Struct

LINES_MAX = 20
# What stands after /v1/promises/ for itself: an order of such a word could not be read there.
ADDRESSES = frozenset(("quote", "score"))
Seed = Annotated[int, Meta(ge=0, le=10**6, description="The luck that is drawn.")]
Replications = Annotated[int, Meta(ge=50, le=5_000, description="How often it is simulated.")]


class AskedLine(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """So many of something the shop sells, by `sku` or `offering`, or of work described by its
    wood, area, schedule and use. A line without a word gets its number."""

    line: Word | None = None
    quantity: Count = 1
    sku: Word | None = None
    offering: Word | None = None
    options: Annotated[Mapping[Word, Word], Meta(max_length=10)] = {}
    species: Word | None = None
    coat_area_m2: SquareMetres | None = None
    schedule: Word | None = None
    use: Use | None = None
    joinery_days: Days | None = None


AskedLines = Annotated[tuple[AskedLine, ...], Meta(min_length=1, max_length=LINES_MAX)]


class QuoteAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A question that stores nothing. `together` false lets each line ship alone. With `as_of` or
    `known_at` it is answered as it would have been then, of which holds no trace is kept."""

    lines: AskedLines
    together: bool = True
    wanted_by: Day | None = None
    as_of: Moment | None = None
    known_at: Moment | None = None
    seed: Seed = 1
    replications: Replications = 1_000
    ways: bool = True


class HoldAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """Capacity to be kept for some minutes under a word of the client's own. `no_later_than`
    refuses rather than hold a later day."""

    hold: Word
    lines: AskedLines
    minutes: Annotated[int, Meta(ge=1, le=60)] = 15
    together: bool = True
    wanted_by: Day | None = None
    no_later_than: Day | None = None
    seed: Seed = 1


class PromiseAsked(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True
):
    """A date to be promised for an order, by the shop's own word for it: that of a `hold`, or of
    `lines`; neither, for an order that the ledger holds already. `customer` is an opaque word. No
    order is promised as `quote` or `score`, which are addresses beside the orders' own."""

    order: Word
    hold: Word | None = None
    lines: AskedLines | None = None
    together: bool = True
    wanted_by: Day | None = None
    no_later_than: Day | None = None
    customer: Word | None = None
    price: MinorUnits | None = None
    currency: Currency | None = None
    seed: Seed = 1


def lines_of(asked: tuple[AskedLine, ...]) -> tuple[OrderLine, ...]:
    """Return the lines as an order has them."""
    return tuple(
        OrderLine(
            line=one.line or str(n), quantity=one.quantity, sku=one.sku, offering=one.offering,
            options=one.options, species=one.species, coat_area_m2=one.coat_area_m2,
            schedule=one.schedule, use=one.use, joinery_days=one.joinery_days,
        )
        for n, one in enumerate(asked, 1)
    )  # fmt: skip


def digest(asked: Struct) -> str:
    """Tell the same call sent twice from another one."""
    return sha256(msgspec.json.encode(asked, order="deterministic")).hexdigest()
