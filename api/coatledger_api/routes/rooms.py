"""Rooms and guns: the air now and what brings it into range; a gun's set-up, trial and cleaning."""

from typing import Annotated

from coatledger.answers.guns.answer import GunAnswer, gun_answer
from coatledger.answers.guns.listing import GunList, gun_list
from coatledger.answers.guns.trial import Batched
from coatledger.answers.rooms import OutsideAir, RoomAnswer, RoomList, room_answer, room_list
from coatledger.events.base import Word
from coatledger.ledger.store import Reader
from msgspec import Meta

from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AskedC, AskedM2, AskedPct, AskedUm, AsOf
from coatledger_api.problems import ProblemError


class OneRoom(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which room, and the air that comes in from outside."""

    room: Word
    air_changes_per_h: Annotated[float, Meta(ge=0, le=1000, description="Air changes an hour.")] = (
        0.0
    )
    outside_c: AskedC | None = None
    outside_rh_pct: AskedPct | None = None


class OneGun(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which gun, and the batch its trial is for."""

    gun: Word
    area_m2: AskedM2 | None = None
    speed_mm_s: (
        Annotated[float, Meta(ge=20, le=3000, description="Speed of the gun, mm a second.")] | None
    ) = None
    stroke_mm: Annotated[float, Meta(ge=20, le=5000, description="Length of a stroke, mm.")] = 600.0
    target_wet_film_um: AskedUm | None = None


@reading("/v1/rooms", tag="Shop")
def list_rooms(call: Call[AsOf], reader: Reader) -> RoomList:
    """List the rooms with their last reading, and whether it lies in range."""
    return room_list(reader, asked(call, reader))


@reading("/v1/rooms/{room}", tag="Shop", problems=("not_found", "beyond_source"))
def read_room(call: Call[OneRoom], reader: Reader) -> RoomAnswer:
    """Read a room's air now and what would bring it into range.

    Dew point, surface margin and the moisture wood comes to; the range it should be in; water to
    add or take out for its volume, what heating alone does; what a piece does that moves to another
    room; and which films dry there, at what speed, at what risk.
    """
    query = call.query
    outside = OutsideAir(query.air_changes_per_h, query.outside_c, query.outside_rh_pct)
    found = room_answer(reader, query.room, asked(call, reader), outside)
    if found is None:
        raise ProblemError("not_found", f"no room {query.room} was known then")
    return found


@reading("/v1/guns", tag="Shop")
def list_guns(call: Call[AsOf], reader: Reader) -> GunList:
    """List the guns with what is in each and what cleaning is due."""
    return gun_list(reader, asked(call, reader))


@reading("/v1/guns/{gun}", tag="Shop", problems=("not_found", "beyond_source"))
def read_gun(call: Call[OneGun], reader: Reader) -> GunAnswer:
    """Read how a gun is set, what its last trial laid, and what cleaning is due.

    With `area_m2` also the litres of a coat for a batch, with `speed_mm_s` its minutes. Pressure
    limits are named with whose they are; nothing here is a permission.
    """
    query = call.query
    batch = Batched(query.area_m2, query.speed_mm_s, query.target_wet_film_um, query.stroke_mm)
    found = gun_answer(reader, query.gun, asked(call, reader), batch)
    if found is None:
        raise ProblemError("not_found", f"no gun {query.gun} was known then")
    return found


OPERATIONS: tuple[Operation, ...] = (list_rooms, read_room, list_guns, read_gun)
