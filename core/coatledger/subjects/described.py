"""Things that are described, each description valid from its own time: product, room, schedule,
offering, shop, gun. What was in force at a time decides what a fact at that time meant."""

from typing import TypeVar

from msgspec import Struct
from msgspec.structs import replace

from coatledger.events.about import RagsDealtWith
from coatledger.events.base import Fact
from coatledger.events.room_gun import AirLineServiced, AirMoved
from coatledger.events.setup import (
    ClosureAnnounced,
    InstrumentChecked,
    OfferingDescribed,
    PersonAbsent,
    ProductDescribed,
    RoomDescribed,
    ScheduleDescribed,
    ShopDescribed,
)
from coatledger.ledger.record import micros

VERSION = 1
D = TypeVar("D", bound=Fact)


class Product(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A finish: its data sheets, oldest first."""

    product: str
    versions: tuple[ProductDescribed, ...] = ()


class Schedule(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A finishing schedule: its versions, oldest first."""

    schedule: str
    versions: tuple[ScheduleDescribed, ...] = ()


class Offering(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """Something the shop sells: its versions, oldest first."""

    offering: str
    versions: tuple[OfferingDescribed, ...] = ()


class Room(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A room: its descriptions, and which devices were put on or off. Climate lives in its own
    rows, because a year of readings is no state."""

    room: str
    versions: tuple[RoomDescribed, ...] = ()
    devices: tuple[AirMoved, ...] = ()


class Shop(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The shop: its descriptions, closures, absences, and what was last done for all of it."""

    versions: tuple[ShopDescribed, ...] = ()
    closures: tuple[ClosureAnnounced, ...] = ()
    absences: tuple[PersonAbsent, ...] = ()
    rags: RagsDealtWith | None = None
    air_line: AirLineServiced | None = None


class Named(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A subject of which only the last fact about itself matters: an instrument or a person."""

    word: str
    check: InstrumentChecked | None = None
    absence: PersonAbsent | None = None


def in_force(versions: tuple[D, ...], at_us: int) -> D | None:
    """Return the last description at or before a time; the earliest one before that.

    A thing described a day after it was first used was most likely the same the day before; a
    finding says that the description came later.
    """
    found = None
    for version in versions:
        if found is None or micros(version.occurred_at) <= at_us:
            found = version
    return found


def evolve_product(state: Product, fact: Fact) -> Product:
    """Fold one more fact about a product in."""
    if isinstance(fact, ProductDescribed):
        return replace(state, versions=(*state.versions, fact))
    return state


def evolve_schedule(state: Schedule, fact: Fact) -> Schedule:
    """Fold one more fact about a schedule in."""
    if isinstance(fact, ScheduleDescribed):
        return replace(state, versions=(*state.versions, fact))
    return state


def evolve_offering(state: Offering, fact: Fact) -> Offering:
    """Fold one more fact about an offering in."""
    if isinstance(fact, OfferingDescribed):
        return replace(state, versions=(*state.versions, fact))
    return state


def evolve_room(state: Room, fact: Fact) -> Room:
    """Fold one more fact about a room in: of each kind of device only the last word is kept."""
    if isinstance(fact, RoomDescribed):
        return replace(state, versions=(*state.versions, fact))
    if isinstance(fact, AirMoved):
        others = tuple(d for d in state.devices if d.device != fact.device)
        return replace(state, devices=(*others, fact))
    return state


def evolve_shop(state: Shop, fact: Fact) -> Shop:
    """Fold one more fact about the whole shop in."""
    if isinstance(fact, ShopDescribed):
        return replace(state, versions=(*state.versions, fact))
    if isinstance(fact, ClosureAnnounced):
        return replace(state, closures=(*state.closures, fact))
    if isinstance(fact, PersonAbsent):
        return replace(state, absences=(*state.absences, fact))
    if isinstance(fact, RagsDealtWith):
        return replace(state, rags=fact)
    if isinstance(fact, AirLineServiced):
        return replace(state, air_line=fact)
    return state


def evolve_named(state: Named, fact: Fact) -> Named:
    """Fold one more fact about an instrument or person in."""
    if isinstance(fact, InstrumentChecked):
        return replace(state, check=fact)
    if isinstance(fact, PersonAbsent):
        return replace(state, absence=fact)
    return state
