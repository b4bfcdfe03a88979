"""A room's air now: what it does to surfaces, wood and films, and what brings it into range.

The range is the room's own, else common practice; the products that dry in the room add what their
sheets ask. Amounts are of the air alone: wood and walls take and give water too.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from coatledger.clocks.in_room import FilmHere, films_here
from coatledger.computations import air, air_rooms, wood
from coatledger.computations.practice import PRACTICE, ROOM_C, ROOM_RH_PCT
from coatledger.computations.ranges import OutOfRange
from coatledger.events.room_gun import AirMoved
from coatledger.events.setup import RoomDescribed
from coatledger.ledger.record import moment
from coatledger.ledger.store import ClimateRow, Reader
from coatledger.refusal import refuse
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import words
from coatledger.subjects.view import View

HOUR_US = 3_600_000_000
READING_HOLDS_H = 12.0  # as the findings have it; common practice, no published source
DEVICES_LOOKED_AT = 20
HEATED_BY_C = (2.0, 4.0, 6.0, 8.0)
WIDEST = ((-20.0, 60.0), (1.0, 100.0))
ROOM_LIMITS = "the room's own limits"


class AirNow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The last reading and what follows from it. Without a surface reading the surface is taken to
    be as warm as the air; `emc_pct` is the moisture wood comes to in this air."""

    read_at: datetime
    age_h: float
    stale: bool
    air_c: float
    rh_pct: float
    surface_c: float | None = None
    surface: air.SurfaceCheck | None = None
    wet_bulb_c: float | None = None
    emc_pct: float | None = None


class Band(Struct, frozen=True, kw_only=True):
    """The air wanted, and who says so."""

    air_low_c: float
    air_high_c: float
    rh_low_pct: float
    rh_high_pct: float
    air_source: str
    rh_source: str


class Heated(Struct, frozen=True, kw_only=True):
    """The same air, heated and nothing else."""

    air_c: float
    rh_pct: float


class WoodElsewhere(Struct, frozen=True, kw_only=True):
    """What a piece at home in this room's air does in another room's."""

    room: str
    moves: wood.Move


class RoomAnswer(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One room. `outside` says in words where its air leaves the range; `into_range` what brings
    it back, `heating` what warmth alone does; `films` is what dries there, those at risk first."""

    position: int
    as_of: datetime | None
    room: str
    name: str | None = None
    volume_m3: float | None = None
    devices_on: tuple[str, ...] = ()
    air: AirNow | None = None
    wanted: Band | None = None
    in_range: bool | None = None
    outside: tuple[str, ...] = ()
    into_range: air_rooms.Correction | None = None
    heating: tuple[Heated, ...] = ()
    wood_elsewhere: tuple[WoodElsewhere, ...] = ()
    films: tuple[FilmHere, ...] = ()
    notes: tuple[str, ...] = ()


class RoomRow(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One room in the list."""

    room: str
    name: str | None = None
    air: AirNow | None = None
    in_range: bool | None = None


class RoomList(Struct, frozen=True, kw_only=True):
    """Every room, in order of words."""

    position: int
    as_of: datetime | None
    rooms: tuple[RoomRow, ...]


class OutsideAir(NamedTuple):
    """What nobody reads for the ledger: how often outside air replaces the room's, and that air."""

    air_changes_per_h: float = 0.0
    outside_c: float | None = None
    outside_rh_pct: float | None = None


STILL_AIR = OutsideAir()


def room_answer(
    reader: Reader, word: str, asked: Asked, outside: OutsideAir = STILL_AIR
) -> RoomAnswer | None:
    """Answer how a room's air is; None when nobody described the room or read its air by then."""
    view = asked.view(reader)
    described, row = view.room(word), view.climate_before(word)
    if described is None and row is None:
        return None
    notes: list[str] = []
    now = None if row is None else _air(row, asked.now_us, notes)
    band = _band(described)
    said = () if row is None else tuple(_outside(row, band))
    sound = now is not None and now.surface is not None
    if row is None:
        notes.append("nobody has read this room's air: record climate_read")
    elif now is not None and now.stale:
        notes.append(f"the reading is {now.age_h:.0f} h old: read the air before relying on it")
    return RoomAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        room=word,
        name=described.name if described else None,
        volume_m3=described.volume_m3 if described else None,
        devices_on=_devices_on(view, word),
        air=now,
        wanted=band,
        in_range=None if row is None else not said,
        outside=said,
        into_range=_correction(row, described, band, outside, notes) if row and sound else None,
        heating=_heating(row) if row and sound else (),
        wood_elsewhere=tuple(_elsewhere(view, word, now)) if now and now.emc_pct else (),
        films=films_here(view, reader, asked, word, row if sound else None),
        notes=tuple(notes),
    )


def _devices_on(view: View, word: str) -> tuple[str, ...]:
    """Name what was put on last and not off again; of each device its last word counts."""
    placed = view.last(f"room:{word}", ("air_moved",), DEVICES_LOOKED_AT)
    told = {p.fact.device: p.fact.on for p in placed if isinstance(p.fact, AirMoved)}
    return tuple(sorted(device for device, is_on in told.items() if is_on))


def room_list(reader: Reader, asked: Asked) -> RoomList:
    """List every room with its air."""
    view = asked.view(reader)
    rows = []
    for word in words("room", reader):
        described, row = view.room(word), view.climate_before(word)
        if described is None and row is None:
            continue
        rows.append(
            RoomRow(
                room=word,
                name=described.name if described else None,
                air=None if row is None else _air(row, asked.now_us, []),
                in_range=None if row is None else not any(_outside(row, _band(described))),
            )
        )
    return RoomList(position=asked.position(reader), as_of=iso(asked.now_us), rooms=tuple(rows))


def _air(row: ClimateRow, now_us: int, notes: list[str]) -> AirNow:
    age_h = (now_us - row.at_us) / HOUR_US
    plain = AirNow(
        read_at=moment(row.at_us),
        age_h=round(age_h, 2),
        stale=age_h > READING_HOLDS_H,
        air_c=row.air_c,
        rh_pct=row.rh_pct,
        surface_c=row.surface_c,
    )
    surface_c = row.air_c if row.surface_c is None else row.surface_c
    try:
        return replace(
            plain,
            surface=air.surface_check(surface_c, row.air_c, row.rh_pct),
            wet_bulb_c=air.wet_bulb_c(row.air_c, row.rh_pct),
            emc_pct=wood.emc_pct(row.air_c, row.rh_pct),
        )
    except OutOfRange as fault:
        notes.append(f"nothing more is worked out of this reading: {fault}")
        return plain


def _band(described: RoomDescribed | None) -> Band:
    """The room's limits decide where it has any; an end left open stays open."""
    ends: list[float] = []
    sources: list[str] = []
    for name, usual, widest in (
        ("air_{}_c", ROOM_C, WIDEST[0]),
        ("rh_{}_pct", ROOM_RH_PCT, WIDEST[1]),
    ):
        low = getattr(described, name.format("min"), None)
        high = getattr(described, name.format("max"), None)
        if low is None and high is None:
            ends += usual
            sources.append(PRACTICE)
        else:
            ends += (widest[0] if low is None else low, widest[1] if high is None else high)
            sources.append(ROOM_LIMITS)
    return Band(
        air_low_c=ends[0], air_high_c=ends[1], rh_low_pct=ends[2], rh_high_pct=ends[3],
        air_source=sources[0], rh_source=sources[1],
    )  # fmt: skip


def _outside(row: ClimateRow, band: Band) -> Iterable[str]:
    for what, value, unit, low, high in (
        ("air", row.air_c, "C", band.air_low_c, band.air_high_c),
        ("humidity", row.rh_pct, "%", band.rh_low_pct, band.rh_high_pct),
    ):
        if value < low:
            yield f"the {what} is {value:g} {unit}, wanted at least {low:g} {unit}"
        elif value > high:
            yield f"the {what} is {value:g} {unit}, wanted at most {high:g} {unit}"


def _correction(
    row: ClimateRow, described: RoomDescribed | None, band: Band, outside: OutsideAir,
    notes: list[str],
) -> air_rooms.Correction | None:  # fmt: skip
    if described is None or described.volume_m3 is None:
        notes.append("water to add or take out needs volume_m3 in room_described")
        return None
    if outside.air_changes_per_h and (outside.outside_c is None or outside.outside_rh_pct is None):
        notes.append("outside air was not given: water an hour is left out")
    room = air_rooms.RoomState(
        air_c=row.air_c, rh_pct=row.rh_pct, volume_m3=described.volume_m3, **outside._asdict()
    )
    wanted = air_rooms.Wanted(
        air_low_c=band.air_low_c, air_high_c=band.air_high_c, rh_low_pct=band.rh_low_pct,
        rh_high_pct=band.rh_high_pct,
    )  # fmt: skip
    try:
        return air_rooms.correction(room, wanted)
    except ValueError as fault:
        raise refuse("beyond_source", "", str(fault)) from fault


def _heating(row: ClimateRow) -> tuple[Heated, ...]:
    return tuple(
        Heated(
            air_c=row.air_c + by_c,
            rh_pct=air_rooms.rh_after_heating_pct(row.air_c, row.rh_pct, row.air_c + by_c),
        )
        for by_c in HEATED_BY_C
    )


def _elsewhere(view: View, here: str, now: AirNow) -> Iterable[WoodElsewhere]:
    assert now.emc_pct is not None
    for word in words("room", view.reader):
        row = view.climate_before(word) if word != here else None
        if row is None:
            continue
        try:
            moves = wood.moved(now.emc_pct, row.air_c, row.rh_pct)
        except OutOfRange:
            continue
        yield WoodElsewhere(room=word, moves=moves)
