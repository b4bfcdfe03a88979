"""The open shop as data for a simulation: who works when, what stands where, what is to be done.

A batch is pieces of one order that move together. Minutes of hands and guns pass only while the
shop is open; waits are elapsed time. A shop in which something can never be finished is refused
before the first draw, with every fault by name.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from typing import Literal

from msgspec import Struct

from coatledger.computations.calendar import Closure, Hours
from coatledger.computations.recalibration import AS_SIMULATED, Recalibration

Needs = Literal["person", "spray", "nobody"]
Place = Literal["", "rack", "curing"]


class Impossible(ValueError):  # noqa: N818
    """A shop that cannot ever finish what it holds. `faults` names each of them."""

    def __init__(self, faults: Iterable[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(self.faults))


class Likely(Struct, frozen=True):
    """A duration by its 10, 50 and 90 % points in minutes."""

    p10: float
    p50: float
    p90: float

    def __post_init__(self) -> None:
        """Refuse points that do not ascend from 0."""
        if not 0.0 <= self.p10 <= self.p50 <= self.p90:
            raise ValueError(f"{self.p10}, {self.p50}, {self.p90} do not ascend from 0")


AT_ONCE = Likely(0.0, 0.0, 0.0)


class Hand(Struct, frozen=True):
    """A person, and when they begin nothing."""

    id: str
    absences: tuple[Closure, ...] = ()


class Sprayer(Struct, frozen=True):
    """A gun, and the product in it ("" for none)."""

    id: str
    holds: str = ""


class Unforeseen(Struct, frozen=True):
    """Spells nobody has told of yet: the chance that one begins on a day, and lengths in days."""

    a_day: float = 0.0
    days: tuple[int, ...] = ()


class Operation(Struct, frozen=True, kw_only=True):
    """One step of a batch: its hands-on part, the wait after it, and what an inspection may do.

    It takes (setup + piece x pieces) minutes times exp(spread x Z), Z standard normal. The places
    of its wait are taken when it begins. An inspection sends pieces `back` so many operations, at
    most `rounds` times.
    """

    name: str
    needs: Needs
    setup_min: float = 0.0
    piece_min: float = 0.0
    spread: float = 0.0
    product: str = ""
    wait: Likely | None = None
    place: Place = ""
    rework_chance: float = 0.0
    scrap_chance: float = 0.0
    back: int = 0
    rounds: int = 0

    @property
    def inspects(self) -> bool:
        """Whether pieces may come back from here."""
        return self.rework_chance + self.scrap_chance > 0.0


class InHand(Struct, frozen=True, kw_only=True):
    """A job that is being done now: by whom, and how many working minutes are left."""

    person: str
    minutes: float
    spread: float = 0.0
    gun: str = ""


class Batch(Struct, frozen=True, kw_only=True):
    """Pieces of one order that move together, and how far they are.

    `ready_in` is when it will be ready for `position`, of which `passed_min` have passed: a wait
    (it then holds places of kind `place_held`) or a supply. `left` says for how many pieces each
    operation still has to be done. A scrapped piece begins again after `joinery_lead`. `members`
    are the words of its pieces, where they have any. What only may come has a `chance` below 1.
    """

    id: str
    order: str
    pieces: int
    ordered_at: datetime
    due: date
    operations: tuple[Operation, ...]
    position: int = 0
    ready_in: Likely = AT_ONCE
    passed_min: float = 0.0
    ready_is_wait: bool = False
    place_held: Place = ""
    in_hand: InHand | None = None
    left: tuple[int, ...] = ()
    rounds_done: tuple[int, ...] = ()
    joinery_lead: Likely = AT_ONCE
    members: tuple[str, ...] = ()
    chance: float = 1.0

    @property
    def left_now(self) -> tuple[int, ...]:
        """For how many pieces each operation still has to be done."""
        return self.left or (self.pieces,) * len(self.operations)

    def places_taken(self, kind: Place) -> int:
        """Count the places of a kind it holds now."""
        if self.in_hand:
            place, index = self.operations[self.position].place, self.position
        else:
            place, index = self.place_held, self.position - 1
        return self.left_now[index] if place == kind else 0


class OpenShop(Struct, frozen=True, kw_only=True):
    """A whole shop at one moment. `shop_share` is the part of a wait's doubt that all share. `away`
    is what may yet befall each person, `shut` all of them at once; `said` is how what
    was said of it came true.
    """

    now: datetime
    hours: Hours
    people: tuple[Hand, ...]
    batches: tuple[Batch, ...]
    pick_up_weekdays: tuple[int, ...]
    cut_off: time
    closures: tuple[Closure, ...] = ()
    guns: tuple[Sprayer, ...] = ()
    changeover_min: float = 0.0
    booth_places: int = 1
    rack_places: int = 10**6
    curing_places: int = 10**6
    shop_share: float = 0.0
    away: Unforeseen = Unforeseen()
    shut: Unforeseen = Unforeseen()
    said: Recalibration = AS_SIMULATED

    def places(self, kind: Place) -> int:
        """Return how many places of a kind there are."""
        return self.rack_places if kind == "rack" else self.curing_places


def require_possible(shop: OpenShop) -> None:
    """Refuse a shop in which some batch cannot ever finish, naming each fault and its place."""
    if faults := [*_shop_faults(shop), *_in_hand_faults(shop), *_held_faults(shop)]:
        raise Impossible(faults)


def _shop_faults(shop: OpenShop) -> Iterator[str]:
    if not shop.hours.openings:
        yield "the shop is never open"
    if not shop.pick_up_weekdays:
        yield "nothing is ever picked up"
    if not 0.0 <= shop.shop_share <= 1.0:
        yield f"a shop share of {shop.shop_share}"
    for what, spells in (("away", shop.away), ("shut", shop.shut)):
        if not 0.0 <= spells.a_day < 1.0 or any(length < 1 for length in spells.days):
            yield f"spells {what} with a chance that is none or of less than a day"
        elif spells.a_day > 0.0 and not spells.days:
            yield f"spells {what} without lengths"
    for what, ids in (
        ("person", (person.id for person in shop.people)),
        ("gun", (gun.id for gun in shop.guns)),
        ("batch", (batch.id for batch in shop.batches)),
    ):
        yield from (f"{what} {id_} stands twice" for id_, n in Counter(ids).items() if n > 1)
    for batch in shop.batches:
        yield from (f"{batch.id}: {fault}" for fault in _batch_faults(shop, batch))


def _batch_faults(shop: OpenShop, batch: Batch) -> Iterator[str]:
    count = len(batch.operations)
    if batch.pieces < 1 or count < 1 or not 0 <= batch.position < count:
        yield "no pieces, no operations, or a position outside of them"
        return
    if len(batch.left_now) != count or len(batch.rounds_done) not in (0, count):
        yield "left or rounds_done is not as long as the operations"
    elif not all(0 <= left <= batch.pieces for left in batch.left_now):
        yield "left holds more pieces than the batch, or fewer than none"
    if not 0.0 <= batch.chance <= 1.0:
        yield "a chance that is none"
    if batch.chance < 1.0 and (batch.in_hand or batch.place_held):
        yield "is here, and yet only may come"
    if batch.passed_min < 0.0:
        yield "what has passed is less than nothing"
    if batch.place_held and (batch.position == 0 or not batch.ready_is_wait):
        yield "holds places without a wait before its position"
    for index, step in enumerate(batch.operations):
        yield from (f"{step.name}: {fault}" for fault in _operation_faults(shop, batch, index))


def _operation_faults(shop: OpenShop, batch: Batch, index: int) -> Iterator[str]:
    step = batch.operations[index]
    if step.setup_min + step.piece_min <= 0.0 or min(step.setup_min, step.piece_min) < 0.0:
        yield "takes no time"
    if step.needs != "nobody" and not shop.people:
        yield "there are no people"
    if step.needs == "spray" and (not shop.guns or shop.booth_places < 1):
        yield "there is no gun or no booth"
    if (step.needs == "spray") != bool(step.product):
        yield "a spray job names a product, and no other does"
    if step.place and (step.wait is None or step.needs == "nobody"):
        yield "places without a wait, or for an operation of nobody"
    if step.place and batch.pieces > shop.places(step.place):
        yield f"{batch.pieces} pieces do not fit into {shop.places(step.place)} places"
    if step.inspects and (step.wait or step.back > index or step.rounds < 0):
        yield "an inspection waits, or goes back before the first operation"
    if step.inspects and step.needs != "person":
        yield "an inspection needs a person"
    if min(step.rework_chance, step.scrap_chance) < 0 or step.rework_chance + step.scrap_chance > 1:
        yield "chances that are none"


def _in_hand_faults(shop: OpenShop) -> Iterator[str]:
    jobs = [(batch, batch.in_hand) for batch in shop.batches if batch.in_hand]
    busy = Counter(job.person for _, job in jobs)
    used = Counter(job.gun for _, job in jobs if job.gun)
    if any(n > 1 for n in busy.values()) or not set(busy) <= {person.id for person in shop.people}:
        yield "jobs in hand name a person twice, or a stranger"
    if any(n > 1 for n in used.values()) or not set(used) <= {gun.id for gun in shop.guns}:
        yield "jobs in hand name a gun twice, or a strange one"
    if len(used) > shop.booth_places:
        yield "more spray jobs are in hand than the booth takes"
    holds = {gun.id: gun.holds for gun in shop.guns}
    for batch, job in jobs:
        step = batch.operations[batch.position]
        if (step.needs == "spray") != bool(job.gun) or step.needs == "nobody":
            yield f"{batch.id}: the job in hand and its operation do not go together"
        elif job.gun and holds.get(job.gun) != step.product:
            yield f"{batch.id}: gun {job.gun} does not hold {step.product}"


def _held_faults(shop: OpenShop) -> Iterator[str]:
    kinds: tuple[Place, ...] = ("rack", "curing")
    for kind in kinds:
        taken = sum(batch.places_taken(kind) for batch in shop.batches)
        if taken > shop.places(kind):
            yield f"{taken} pieces stand in {shop.places(kind)} {kind} places"
