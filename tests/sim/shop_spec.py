"""The open shop as plain data: what words.md says, field by field, and which shops are impossible.

It knows neither the reference model nor the engine, so that both can be fed from it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

PERSON, SPRAY, NOBODY = "person", "spray", "nobody"
RACK, CURING = "rack", "curing"


class Impossible(ValueError):  # noqa: N818
    """A shop that cannot ever finish what it holds; the text names every fault."""


@dataclass(frozen=True)
class Range:
    """A duration by its 10, 50 and 90 % points in minutes (words 14)."""

    p10: float
    p50: float
    p90: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.p10 <= self.p50 <= self.p90:
            raise ValueError(f"{self} does not ascend from 0")


AT_ONCE = Range(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Opening:
    """One stretch of an ISO weekday by the wall clock; `closes` 00:00 is the end of the day."""

    weekday: int
    opens: time
    closes: time


@dataclass(frozen=True)
class Stretch:
    """From a moment to another: a closure of the shop or an absence of a person."""

    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Person:
    id: str
    absences: tuple[Stretch, ...] = ()


@dataclass(frozen=True)
class Unforeseen:
    """Spells nobody has told of: the chance that one begins on a day, and lengths (words 30)."""

    a_day: float = 0.0
    days: tuple[int, ...] = ()


@dataclass(frozen=True)
class Gun:
    id: str
    holds: str = ""


@dataclass(frozen=True)
class Operation:
    """One step of a batch: its hands-on part, the wait after it, and what an inspection may do."""

    name: str
    needs: str
    setup_min: float
    piece_min: float
    spread: float = 0.0
    product: str = ""
    wait: Range | None = None
    place: str = ""
    rework_chance: float = 0.0
    scrap_chance: float = 0.0
    back: int = 0
    rounds: int = 0

    def inspects(self) -> bool:
        return self.rework_chance + self.scrap_chance > 0.0


@dataclass(frozen=True)
class InHand:
    """A job that is being done at `now`: who does it and how many working minutes are left."""

    person: str
    minutes: float
    spread: float = 0.0
    gun: str = ""


@dataclass(frozen=True)
class Batch:
    """Pieces of one order that move together, and how far they are (words 24)."""

    id: str
    order: str
    pieces: int
    ordered_at: datetime
    due: date
    operations: tuple[Operation, ...]
    position: int = 0
    ready_in: Range = AT_ONCE
    ready_is_wait: bool = False
    place_held: str = ""
    in_hand: InHand | None = None
    left: tuple[int, ...] = ()
    rounds_done: tuple[int, ...] = ()
    chance: float = 1.0

    def left_now(self) -> tuple[int, ...]:
        """Return for how many pieces each operation still has to be done."""
        return self.left or (self.pieces,) * len(self.operations)

    def rounds_now(self) -> tuple[int, ...]:
        """Return how often each inspection has sent the batch back already."""
        return self.rounds_done or (0,) * len(self.operations)


@dataclass(frozen=True)
class Shop:
    """A whole shop at one moment."""

    zone: str
    now: datetime
    openings: tuple[Opening, ...]
    people: tuple[Person, ...]
    batches: tuple[Batch, ...]
    pick_up_weekdays: tuple[int, ...]
    cut_off: time
    closures: tuple[Stretch, ...] = ()
    guns: tuple[Gun, ...] = ()
    changeover_min: float = 0.0
    booth_places: int = 1
    rack_places: int = 10**6
    curing_places: int = 10**6
    shop_share: float = 0.0
    joinery_lead: Range = AT_ONCE
    away: Unforeseen = Unforeseen()
    shut: Unforeseen = Unforeseen()

    def places(self, kind: str) -> int:
        return self.rack_places if kind == RACK else self.curing_places


def require_possible(shop: Shop) -> None:
    """Refuse a shop in which some batch cannot ever finish, naming each fault and its place."""
    if faults := [*_shop_faults(shop), *_in_hand_faults(shop), *_held_faults(shop)]:
        raise Impossible("; ".join(faults))


def _shop_faults(shop: Shop) -> Iterator[str]:
    ZoneInfo(shop.zone)
    if shop.now.utcoffset() is None:
        yield "now has no offset"
    if not shop.openings:
        yield "the shop is never open"
    if not shop.pick_up_weekdays:
        yield "nothing is ever picked up"
    if not 0.0 <= shop.shop_share <= 1.0:
        yield f"a shop share of {shop.shop_share}"
    for ids in (
        [person.id for person in shop.people],
        [gun.id for gun in shop.guns],
        [batch.id for batch in shop.batches],
    ):
        if len(set(ids)) != len(ids):
            yield f"an id stands twice among {', '.join(sorted(ids))}"
    for batch in shop.batches:
        yield from (f"{batch.id}: {fault}" for fault in _batch_faults(shop, batch))


def _batch_faults(shop: Shop, batch: Batch) -> Iterator[str]:
    count = len(batch.operations)
    if batch.pieces < 1 or count < 1 or not 0 <= batch.position < count:
        yield "no pieces, no operations, or a position outside of them"
        return
    if len(batch.left_now()) != count or len(batch.rounds_now()) != count:
        yield "left or rounds_done is not as long as the operations"
    if any(not 0 <= left <= batch.pieces for left in batch.left_now()):
        yield "left holds more pieces than the batch, or fewer than none"
    if batch.place_held and (batch.position == 0 or not batch.ready_is_wait):
        yield "holds places without a wait before its position"
    for index, operation in enumerate(batch.operations):
        for fault in _operation_faults(shop, batch, index):
            yield f"{operation.name}: {fault}"


def _operation_faults(shop: Shop, batch: Batch, index: int) -> Iterator[str]:
    step = batch.operations[index]
    if step.needs not in (PERSON, SPRAY, NOBODY):
        yield f"needs {step.needs!r}"
    if step.setup_min + step.piece_min <= 0.0 or min(step.setup_min, step.piece_min) < 0.0:
        yield "takes no time"
    if step.needs != NOBODY and not shop.people:
        yield "there are no people"
    if step.needs == SPRAY and (not shop.guns or shop.booth_places < 1):
        yield "there is no gun or no booth"
    if (step.needs == SPRAY) != bool(step.product):
        yield "a spray job names a product, and no other does"
    if step.place and (step.wait is None or step.needs == NOBODY):
        yield "places without a wait, or for an operation of nobody"
    if step.place and batch.pieces > shop.places(step.place):
        yield f"{batch.pieces} pieces do not fit into {shop.places(step.place)} places"
    if step.inspects() and (step.wait is not None or step.back > index or step.rounds < 0):
        yield "an inspection waits, or goes back before the first operation"
    if min(step.rework_chance, step.scrap_chance) < 0 or step.rework_chance + step.scrap_chance > 1:
        yield "chances that are none"


def _in_hand_faults(shop: Shop) -> Iterator[str]:
    jobs = [(batch, batch.in_hand) for batch in shop.batches if batch.in_hand]
    busy = [job.person for _, job in jobs]
    used = [job.gun for _, job in jobs if job.gun]
    if len(set(busy)) != len(busy) or not set(busy) <= {person.id for person in shop.people}:
        yield "jobs in hand name a person twice, or a stranger"
    if len(set(used)) != len(used) or not set(used) <= {gun.id for gun in shop.guns}:
        yield "jobs in hand name a gun twice, or a strange one"
    if len(used) > shop.booth_places:
        yield "more spray jobs are in hand than the booth takes"
    holds = {gun.id: gun.holds for gun in shop.guns}
    for batch, job in jobs:
        step = batch.operations[batch.position]
        if (step.needs == SPRAY) != bool(job.gun) or step.needs == NOBODY:
            yield f"{batch.id}: the job in hand and its operation do not go together"
        elif job.gun and holds.get(job.gun) != step.product:
            yield f"{batch.id}: gun {job.gun} does not hold {step.product}"


def _held_faults(shop: Shop) -> Iterator[str]:
    for kind in (RACK, CURING):
        taken = sum(places_taken(batch, kind) for batch in shop.batches)
        if taken > shop.places(kind):
            yield f"{taken} pieces stand in {shop.places(kind)} {kind} places"


def places_taken(batch: Batch, kind: str) -> int:
    """Return how many places of a kind a batch holds at `now`."""
    if batch.in_hand:
        place, index = batch.operations[batch.position].place, batch.position
    else:
        place, index = batch.place_held, batch.position - 1
    return batch.left_now()[index] if place == kind else 0
