"""What might make a quote earlier: a Saturday, a coat less, natural look, part of it first."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from msgspec import Struct
from msgspec.structs import replace

from coatledger.computations.calendar import Opening, closed_days, local_date
from coatledger.computations.simulate.shop import Batch, OpenShop, Operation
from coatledger.open_shop.asked_for import Wanted
from coatledger.open_shop.known import Known

WAYS = ("saturday", "natural_look", "coat_less", "split")
_SATURDAY = 6
_SATURDAYS_KEPT = 60
# Fewer coats than this protect nothing, whatever the sheet says: common practice.
COATS_LEAST = 2


class Way(Struct, frozen=True):
    """One thing that could be done otherwise, in words, and the shop and the order then."""

    way: str
    says: str
    shop: OpenShop
    asked_for: tuple[Batch, ...]


def ways_of(
    facts: Known, shop: OpenShop, asked_for: tuple[Batch, ...], wanted: Sequence[Wanted],
    ways: Sequence[str],
) -> Iterator[Way]:  # fmt: skip
    """Yield the ways that are open here, of those asked for."""
    if "saturday" in ways and not any(o.weekday == _SATURDAY for o in shop.hours.openings):
        yield _saturday(shop, asked_for)
    if "natural_look" in ways:
        natural = tuple(_without(batch, _filling(batch)) for batch in asked_for)
        if natural != asked_for:
            yield Way("natural_look", "leave the pores open: no grain filling", shop, natural)
    if "coat_less" in ways:
        less = tuple(_coat_less(facts, batch) for batch in asked_for)
        if less != asked_for:
            yield Way("coat_less", "one coat less, where the sheet allows it", shop, less)
    pieces = sum(one.quantity for one in wanted)
    if "split" in ways and pieces > 1:
        half = tuple(replace(b, pieces=max(b.pieces // 2, 1)) for b in asked_for)
        sent = sum(batch.pieces for batch in half)
        if sent < pieces:
            yield Way("split", f"ship {sent} of {pieces} first", shop, half)


def _saturday(shop: OpenShop, asked_for: tuple[Batch, ...]) -> Way:
    """Open the next Saturday only, for the hours of the longest day."""
    longest = max((o.weekday for o in shop.hours.openings), key=lambda day: open_h(shop, day))
    added = tuple(
        Opening(_SATURDAY, o.opens, o.closes) for o in shop.hours.openings if o.weekday == longest
    )
    today = local_date(shop.now, shop.hours.zone)
    first = today + timedelta(days=(_SATURDAY - today.isoweekday()) % 7)
    others = (first + timedelta(weeks=n) for n in range(1, _SATURDAYS_KEPT))
    hours = replace(shop.hours, openings=(*shop.hours.openings, *added))
    closures = (*shop.closures, *closed_days(others, shop.hours.zone))
    pick_ups = replace(shop, hours=hours, closures=closures)
    return Way("saturday", f"work on Saturday, {first.isoformat()}", pick_ups, asked_for)


def open_h(shop: OpenShop, day: int) -> float:
    """Return for how many hours the shop is open on a weekday; midnight ends a day."""
    return sum(
        (o.closes.hour or 24) + o.closes.minute / 60.0 - o.opens.hour - o.opens.minute / 60.0
        for o in shop.hours.openings
        if o.weekday == day
    )


def _filling(batch: Batch) -> frozenset[int]:
    return frozenset(
        n for n, step in enumerate(batch.operations) if step.name.split("+")[-1] == "fill_grain"
    )


def _coat_less(facts: Known, batch: Batch) -> Batch:
    """Leave out the second coat with what prepares it, where sheet and practice allow one less."""
    coats = [n for n, step in enumerate(batch.operations) if step.name.endswith("coat")]
    if len(coats) <= COATS_LEAST:
        return batch
    product = facts.view.product(batch.operations[coats[1]].product)
    if product is not None and product.coats_min is not None and len(coats) <= product.coats_min:
        return batch
    return _without(batch, frozenset(range(coats[0] + 1, coats[1] + 1)))


def _without(batch: Batch, left_out: frozenset[int]) -> Batch:
    """Leave operations out. An inspection goes back as far as what is left there allows."""
    if not left_out:
        return batch
    kept: list[Operation] = []
    for number, step in enumerate(batch.operations):
        if number in left_out:
            continue
        gone = sum(number - step.back <= n < number for n in left_out) if step.inspects else 0
        kept.append(replace(step, back=step.back - gone) if gone else step)
    return replace(batch, operations=tuple(kept))
