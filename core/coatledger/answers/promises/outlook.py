"""Every open promise and what it is worth now: the whole shop is simulated once for all of them."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import (
    REPLICATIONS,
    Ahead,
    World,
    ahead,
    chance_by,
    keys_of,
    run,
)
from coatledger.answers.promises.danger import LIMITS, Danger, Limits, is_endangered
from coatledger.answers.promises.endangers import endangers
from coatledger.answers.promises.ordered import days_of
from coatledger.answers.promises.quote import LEVEL_LEAST
from coatledger.computations.calendar import local_date
from coatledger.computations.simulate.forward import ENGINE, Simulated, quantile_day
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import open_orders
from coatledger.subjects.order import Order, Told
from coatledger.subjects.order_lines import LineStands, lines_of


class ToldDay(Struct, frozen=True, kw_only=True):
    """One day a customer was told, when, and by which fact."""

    event: UUID
    ships_by: date
    level_pct: float
    told_at: datetime


class OpenPromise(Struct, frozen=True, kw_only=True):
    """A promise that is not kept or missed yet: of a whole order, or of one line that ships alone.

    `chance` is that of the latest day told, `first_chance` that of the first one, by which it is
    scored. `in_danger` when the chance is less than what the shop bears, 60 % unless it is set
    otherwise; `because` then says of what, and `danger`, once the service has watched it, since
    when, what led to it, and what would save it.
    """

    order: str
    line: str | None
    first: ToldDay
    latest: ToldDay
    times_told: int
    quantity: int
    shipped: int
    packed: int
    under_way: int
    not_begun: int
    wanted_by: date | None = None
    chance: float | None = None
    first_chance: float | None = None
    likely: date | None = None
    ships_by: date | None = None
    overdue: bool = False
    in_danger: bool = False
    because: tuple[str, ...] = ()
    danger: Danger | None = None


class Outlook(Struct, frozen=True, kw_only=True):
    """The open promises, the one due first at the head. `ships_by` of each is the day it would be
    promised for now. `missing` names why none can be priced."""

    position: int
    as_of: datetime | None
    engine: str
    seed: int
    replications: int
    promises: tuple[OpenPromise, ...]
    holds: int
    assumed: tuple[str, ...]
    missing: tuple[str, ...]


class _Priced(Struct, frozen=True):
    """The shop and what its one simulation found."""

    found: Ahead
    simulated: Simulated
    replications: int
    limits: Limits


def outlook(
    reader: Reader, asked: Asked, *, world: World, seed: int = 1, replications: int = REPLICATIONS,
    orders: Sequence[str] | None = None, limits: Limits = LIMITS,
) -> Outlook:  # fmt: skip
    """Price every open promise, or those of some orders.

    *Reference:* `computations.simulate`. *Valid:* as `quote`.
    """
    told = Outlook(
        position=asked.position(reader), as_of=iso(asked.now_us), engine=ENGINE, seed=seed,
        replications=replications, promises=(), holds=len(world.holds), assumed=(), missing=(),
    )  # fmt: skip
    open_ones = [
        order
        for order in open_orders(reader, asked)
        if order.told and (orders is None or order.order in orders)
    ]
    if not open_ones:
        return told
    found = ahead(reader, asked, world)
    if found is None:
        return replace(told, missing=("shop_described",))
    missing, priced = found.lacks, None
    if not missing:
        watched = {
            key for order in open_ones for row in _rows(order) for key in keys_of(order, row)
        }
        there = {batch.order for batch in found.shop.batches}
        simulated = run(found.shop, seed, replications, sorted(watched & there))
        if isinstance(simulated, Simulated):
            priced = _Priced(found, simulated, replications, limits)
        else:
            missing = simulated
    rows = [row for order in open_ones for row in _promises(found, order, priced)]
    rows.sort(key=lambda one: (one.latest.ships_by, one.order, one.line or ""))
    return replace(told, missing=missing, assumed=tuple(found.facts.assumed), promises=tuple(rows))


def _rows(order: Order) -> tuple[str | None, ...]:
    """Say of what there are promises: of the whole order, or of each line of it."""
    if all(one.line is None for one in order.told):
        return (None,)
    return tuple(line.line for line in order.lines if order.told_of(line.line))


def _promises(found: Ahead, order: Order, priced: _Priced | None) -> Iterator[OpenPromise]:
    stands = lines_of(order, found.facts.view.piece)
    for line in _rows(order):
        mine = [one for one in stands if line in (None, one.line)]
        if any(one.rest for one in mine):
            yield _promise(found, order, line, mine, priced)


def _promise(
    found: Ahead, order: Order, line: str | None, stands: Sequence[LineStands],
    priced: _Priced | None,
) -> OpenPromise:  # fmt: skip
    told = order.told_of(line)
    first, latest = _day(told[0]), _day(told[-1])
    now = OpenPromise(
        order=order.order, line=line, first=first, latest=latest, times_told=len(told),
        quantity=sum(one.quantity for one in stands),
        shipped=sum(len(one.shipped) for one in stands),
        packed=sum(len(one.packed) for one in stands),
        under_way=sum(len(one.under_way) for one in stands),
        not_begun=sum(one.not_begun for one in stands),
        wanted_by=None if order.wanted_by is None else date.fromisoformat(order.wanted_by),
        overdue=latest.ships_by < local_date(found.shop.now, found.shop.hours.zone),
    )  # fmt: skip
    if priced is None:
        return now
    ships = days_of(found, priced.simulated, order, line, priced.replications)
    level = max(latest.level_pct / 100.0, LEVEL_LEAST)
    chance = chance_by(ships, latest.ships_by)
    in_danger = is_endangered(chance, level, before=False, limits=priced.limits)
    spent = dict(priced.simulated.spent)
    mine = tuple(spent[key] for key in keys_of(order, line) if key in spent)
    return replace(
        now, chance=chance, first_chance=chance_by(ships, first.ships_by),
        likely=quantile_day(ships, 0.5), ships_by=quantile_day(ships, level), in_danger=in_danger,
        because=endangers(found, stands, mine, latest.ships_by) if in_danger else (),
    )  # fmt: skip


def _day(told: Told) -> ToldDay:
    return ToldDay(
        event=told.event, ships_by=date.fromisoformat(told.ships_by), level_pct=told.level_pct,
        told_at=moment(told.at_us),
    )  # fmt: skip
