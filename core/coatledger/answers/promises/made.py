"""A quote becomes the fact that a customer was told, and that fact can be computed again."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from types import MappingProxyType
from uuid import UUID

from msgspec import Struct
from msgspec.structs import replace

from coatledger.answers.promises.ahead import Quantile, World
from coatledger.answers.promises.ordered import quote_of_order
from coatledger.answers.promises.quote import Quote, quote
from coatledger.events.orders import HoldBefore, PromiseMade
from coatledger.ledger.normal import normal_form
from coatledger.ledger.record import micros
from coatledger.ledger.store import Reader
from coatledger.open_shop.asked_for import wanted_of
from coatledger.subjects.asked import Asked
from coatledger.subjects.view import View

_AS_QUOTED: Mapping[str | None, date] = MappingProxyType({})


class Basis(Struct, frozen=True, kw_only=True):
    """What a promise says beside its quote. `days` holds the day of a line, or under None that of
    the whole order, where another one is promised than was quoted: one that was held before."""

    order: str
    at: datetime
    id_of: Callable[[str | None], UUID]
    calendar: str
    holds: tuple[HoldBefore, ...] = ()
    days: Mapping[str | None, date] = _AS_QUOTED
    asked_sha256: str | None = None


def promises_of(told: Quote, basis: Basis) -> tuple[PromiseMade, ...]:
    """Make the facts of a quote with a day: one for the order, or one for each line alone."""
    assert told.ships_by is not None, "a promise has a day"
    if not told.lines:
        day = basis.days.get(None, told.ships_by)
        chance = told.chance
        if day != told.ships_by and day == told.wanted_by and told.wanted_chance is not None:
            chance = told.wanted_chance
        return (_made(told, basis, None, day, chance, told.quantiles),)
    return tuple(
        _made(told, basis, one.line, basis.days.get(one.line, one.ships_by), one.chance,
              one.quantiles)
        for one in told.lines
    )  # fmt: skip


def _made(
    told: Quote, basis: Basis, line: str | None, day: date, chance: float,
    quantiles: tuple[Quantile, ...],
) -> PromiseMade:  # fmt: skip
    by_level = {one.level_pct: one.ships_by for one in quantiles}
    return PromiseMade(
        id=basis.id_of(line), occurred_at=basis.at, source="storefront", order=basis.order,
        line=line, ships_by=day, level_pct=told.level_pct, likely=by_level[50.0],
        p50=by_level[50.0], p80=by_level[80.0], p90=by_level[90.0], p95=by_level[95.0],
        seed=told.seed, engine=told.engine, calendar=basis.calendar, position=told.position,
        quoted_at=told.as_of, wanted_by=told.wanted_by, replications=told.replications,
        chance_pct=round(chance * 100.0, 3),
        chances_pct=tuple(round(one.chance * 100.0, 3) for one in quantiles),
        odds_shift=told.correction.odds_shift if told.correction else 0.0,
        odds_stretch=told.correction.odds_stretch if told.correction else 1.0,
        holds=basis.holds, asked_sha256=basis.asked_sha256,
    )  # fmt: skip


def place_of(made: PromiseMade) -> Asked | None:
    """Return from where a promise was computed; None for one that was told by a person."""
    if made.position is None or made.quoted_at is None or made.seed is None:
        return None
    quoted_us = micros(made.quoted_at)
    return Asked(now_us=quoted_us, as_of_us=quoted_us, known=made.position)


def computed_again(
    reader: Reader, made: PromiseMade, position: int, world: World, calendar: str
) -> PromiseMade | tuple[str, ...]:
    """Compute a promise again from its own place, with its seed and the holds then in force, or
    name what is missing for it. `position` is the promise's own.

    *Reference:* the same functions that made it. *Valid:* the engine it was made with; nothing that
    was recorded later is used, whatever it is about.
    """
    place = place_of(made)
    assert place is not None
    assert made.seed is not None
    assert made.replications is not None
    here = replace(world, holds=made.holds)
    if place.view(reader).order(made.order).stage != "unborn":
        told = quote_of_order(
            reader, place, made.order, world=here, seed=made.seed,
            replications=made.replications,
        )  # fmt: skip
    else:
        order = View(reader, micros(made.occurred_at), known=position).order(made.order)
        told = quote(
            reader, place, [wanted_of(line) for line in order.lines],
            lines=[line.line for line in order.lines], together=order.together, seed=made.seed,
            replications=made.replications, wanted_by=made.wanted_by, world=here, ways=(),
        )  # fmt: skip
    if told.missing:
        return told.missing
    basis = Basis(
        order=made.order, at=made.occurred_at, id_of=lambda _: made.id, calendar=calendar,
        holds=made.holds, days={made.line: made.ships_by}, asked_sha256=made.asked_sha256,
    )  # fmt: skip
    again = (one for one in promises_of(told, basis) if one.line == made.line)
    return next(again, ("the line it was about",))


def differing(made: PromiseMade, again: PromiseMade) -> tuple[str, ...]:
    """Name the fields that came out otherwise; none when the bytes are the same."""
    if normal_form(made) == normal_form(again):
        return ()
    names = made.__struct_fields__
    return tuple(name for name in names if getattr(made, name) != getattr(again, name))
