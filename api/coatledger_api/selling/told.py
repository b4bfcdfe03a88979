"""What a promise says, read back from the facts that were recorded: the same bytes every time."""

from datetime import date
from hashlib import sha256
from uuid import UUID

from coatledger.answers.promises.ahead import World
from coatledger.answers.promises.made import computed_again, differing, place_of
from coatledger.clocks.overnight import Overnight
from coatledger.computations.simulate.forward import ENGINE
from coatledger.events.base import Moment
from coatledger.events.orders import PromiseMade
from coatledger.ledger.normal import normal_form
from coatledger.ledger.store import Reader
from coatledger.subjects.view import View
from coatledger_adapters.public_holidays import calendar_versions, holidays_around
from msgspec import Struct

from coatledger_api.problems import ProblemError
from coatledger_api.selling.promising import recorded_promises

SHIPS_BY_SAYS = (
    "Ships-by is the day on which it leaves the shop; the carrier's days come on top of it."
)


class PromisedDay(Struct, frozen=True, kw_only=True):
    """The day of a whole order (`line` null) or of one line that ships alone. `chance_pct` is that
    of `ships_by`, often more than the level, because things leave on pick-up days only."""

    event: UUID
    line: str | None
    ships_by: date
    likely: date | None
    chance_pct: float | None
    p50: date | None
    p80: date | None
    p90: date | None
    p95: date | None


class Promised(Struct, frozen=True, kw_only=True):
    """A promise as it was recorded, with all it was computed from."""

    order: str
    position: int
    promised_at: Moment
    ships_by: date
    level_pct: float
    days: tuple[PromisedDay, ...]
    engine: str | None
    seed: int | None
    replications: int | None
    calendar: str | None
    quoted_at: Moment | None
    quoted_position: int | None
    holds_before: int
    says: str = SHIPS_BY_SAYS


class Replayed(Struct, frozen=True, kw_only=True):
    """One promise computed again. `same` when every byte of the fact came out as it was recorded;
    else `differs` names the fields. The calendar is the data of zones and holidays."""

    event: UUID
    line: str | None
    same: bool
    differs: tuple[str, ...]
    recorded_sha256: str
    computed_sha256: str
    ships_by: date
    calendar_then: str | None
    calendar_now: str


class Replay(Struct, frozen=True, kw_only=True):
    """An order's promise computed again as known at its own place, with the same seed."""

    order: str
    position: int
    engine: str
    promises: tuple[Replayed, ...]


def promised(reader: Reader, order: str) -> Promised:
    """Tell an order's promise as it was recorded."""
    found = recorded_promises(reader, order)
    first, *_ = (made for made, *_ in found)
    return Promised(
        order=order,
        position=max(position for _, position, _ in found),
        promised_at=first.occurred_at,
        ships_by=max(made.ships_by for made, *_ in found),
        level_pct=first.level_pct,
        days=tuple(_day(made) for made, *_ in found),
        engine=first.engine, seed=first.seed, replications=first.replications,
        calendar=first.calendar, quoted_at=first.quoted_at, quoted_position=first.position,
        holds_before=len(first.holds),
    )  # fmt: skip


def replay(reader: Reader, order: str) -> Replay:
    """Compute an order's promise again, or refuse saying why that cannot be."""
    found = recorded_promises(reader, order)
    if not found:
        raise ProblemError("not_found", f"no promise was made to order {order}")
    return Replay(
        order=order, position=reader.head().size, engine=ENGINE,
        promises=tuple(_again(reader, made, position) for made, position, _ in found),
    )  # fmt: skip


def _again(reader: Reader, made: PromiseMade, position: int) -> Replayed:
    place = place_of(made)
    if place is None or made.replications is None:
        raise ProblemError("not_computed", f"the date of order {made.order} was told by a person")
    if made.engine != ENGINE:
        detail = f"made by {made.engine}; this program has {ENGINE}"
        raise ProblemError("engine_differs", detail)
    view = View(reader, place.now_us, known=place.known)
    world = World(holidays=holidays_around(reader, place), factors=Overnight(view))
    described = view.shop()
    calendar = calendar_versions(None if described is None else described.holidays)
    again = computed_again(reader, made, position, world, calendar)
    if not isinstance(again, PromiseMade):
        raise ProblemError("cannot_promise", f"missing: {'; '.join(again)}")
    return Replayed(
        event=made.id, line=made.line, same=normal_form(made) == normal_form(again),
        differs=differing(made, again), recorded_sha256=_sha256(made),
        computed_sha256=_sha256(again), ships_by=again.ships_by, calendar_then=made.calendar,
        calendar_now=calendar,
    )  # fmt: skip


def _sha256(made: PromiseMade) -> str:
    return sha256(normal_form(made)).hexdigest()


def _day(made: PromiseMade) -> PromisedDay:
    return PromisedDay(
        event=made.id, line=made.line, ships_by=made.ships_by, likely=made.likely,
        chance_pct=made.chance_pct, p50=made.p50, p80=made.p80, p90=made.p90, p95=made.p95,
    )  # fmt: skip
