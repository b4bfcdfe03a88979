"""What would bring a room's air into range: water to add or remove, and what heating alone does.

Only the air is counted. Wood, walls and wet finish give and take water too, so amounts are floors.
"""

import msgspec

from coatledger.computations import air
from coatledger.computations.ranges import require


class RoomState(msgspec.Struct, frozen=True, kw_only=True):
    """A room's air, its size and how often outside air replaces it."""

    air_c: float
    rh_pct: float
    volume_m3: float
    air_changes_per_h: float = 0.0
    outside_c: float | None = None
    outside_rh_pct: float | None = None
    pressure_pa: float = air.STANDARD_PRESSURE_PA


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """The range asked of a room, from the data sheet or the shop."""

    air_low_c: float
    air_high_c: float
    rh_low_pct: float
    rh_high_pct: float


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """What brings a room to the nearest edge of its range; zeros mean nothing to do.

    `water_once_g` changes the air that is there, `water_g_per_h` holds it against the air changes;
    negative is water to remove. `heat_only_c` is the temperature at which heating alone would bring
    a damp room to its highest allowed humidity, when that temperature is within the range.
    """

    to_air_c: float
    rh_unhelped_pct: float
    to_rh_pct: float
    water_once_g: float
    water_g_per_h: float
    heat_once_kj: float
    heat_only_c: float | None


def rh_after_heating_pct(air_c: float, rh_pct: float, to_c: float) -> float:
    """Return the relative humidity once the same air has another temperature.

    *Reference:* vapour pressure is unchanged at constant pressure (ASHRAE ch. 1 eqs 20 and 22).
    Above 100 means that water condenses first. *Valid:* as `air.saturation_pressure_pa`.
    """
    return 100.0 * air.vapour_pressure_pa(air_c, rh_pct) / air.saturation_pressure_pa(to_c)


def temperature_for_rh_c(air_c: float, rh_pct: float, wanted_rh_pct: float) -> float:
    """Return the temperature at which the same air has the wanted relative humidity.

    *Reference:* inversion of ASHRAE eqs 5 and 6 at the vapour pressure divided by the wanted RH.
    """
    require("wanted relative humidity (%)", wanted_rh_pct, 1.0, 100.0, "relative humidity")
    vapour_pa = air.vapour_pressure_pa(air_c, rh_pct)
    return air.saturation_temperature_c(vapour_pa / (wanted_rh_pct / 100.0))


def water_in_air_g(air_c: float, rh_pct: float, volume_m3: float, pressure_pa: float) -> float:
    """Return grams of water in a room's air. *Reference:* ASHRAE ch. 1 eqs 20 and 26."""
    require("volume (m3)", volume_m3, 0.0, 1e6, "a room")
    ratio = air.humidity_ratio_kg_kg(air_c, rh_pct, pressure_pa)
    return 1000.0 * volume_m3 * ratio * air.dry_air_kg_m3(air_c, rh_pct, pressure_pa)


def water_to_reach_g(room: RoomState, to_air_c: float, to_rh_pct: float) -> float:
    """Return grams of water to add (or, negative, remove) once, with no air change.

    *Reference:* dry air held in the room at its target, times the difference in humidity ratio.
    """
    require("volume (m3)", room.volume_m3, 0.0, 1e6, "a room")
    before = air.humidity_ratio_kg_kg(room.air_c, room.rh_pct, room.pressure_pa)
    after = air.humidity_ratio_kg_kg(to_air_c, to_rh_pct, room.pressure_pa)
    dry_kg = room.volume_m3 * air.dry_air_kg_m3(to_air_c, to_rh_pct, room.pressure_pa)
    return 1000.0 * dry_kg * (after - before)


def water_to_hold_g_per_h(room: RoomState, to_air_c: float, to_rh_pct: float) -> float:
    """Return grams an hour that hold the target against outside air coming in.

    *Reference:* mass balance of a well-mixed room, dry air flow times the difference of
    humidity ratios.
    Where the outside air was not given, nothing is assumed about it and the answer is for none.
    """
    require("air changes (1/h)", room.air_changes_per_h, 0.0, 1000.0, "a room")
    if room.outside_c is None or room.outside_rh_pct is None:
        return 0.0
    outside = air.humidity_ratio_kg_kg(room.outside_c, room.outside_rh_pct, room.pressure_pa)
    inside = air.humidity_ratio_kg_kg(to_air_c, to_rh_pct, room.pressure_pa)
    dry_kg_m3 = air.dry_air_kg_m3(to_air_c, to_rh_pct, room.pressure_pa)
    return 1000.0 * room.air_changes_per_h * room.volume_m3 * dry_kg_m3 * (inside - outside)


def correction(room: RoomState, wanted: Wanted) -> Correction:
    """Return what brings the room to the nearest edge of the wanted range.

    *Reference:* psychrometrics as above; heat from ASHRAE ch. 1 eq. 30 for the air alone, at the
    humidity ratio it has. *Valid:* the room's air only, so a floor on water and heat.
    """
    require("highest temperature (C)", wanted.air_high_c, wanted.air_low_c, 60.0, "a range")
    require("highest humidity (%)", wanted.rh_high_pct, wanted.rh_low_pct, 100.0, "a range")
    to_c = min(max(room.air_c, wanted.air_low_c), wanted.air_high_c)
    unhelped_pct = rh_after_heating_pct(room.air_c, room.rh_pct, to_c)
    to_rh_pct = min(max(unhelped_pct, wanted.rh_low_pct), wanted.rh_high_pct)
    moved = to_rh_pct != unhelped_pct
    ratio = air.humidity_ratio_kg_kg(room.air_c, room.rh_pct, room.pressure_pa)
    dry_kg = room.volume_m3 * air.dry_air_kg_m3(room.air_c, room.rh_pct, room.pressure_pa)
    return Correction(
        to_air_c=to_c,
        rh_unhelped_pct=unhelped_pct,
        to_rh_pct=to_rh_pct,
        water_once_g=water_to_reach_g(room, to_c, to_rh_pct) if moved else 0.0,
        water_g_per_h=water_to_hold_g_per_h(room, to_c, to_rh_pct),
        heat_once_kj=dry_kg * (1.006 + 1.86 * ratio) * (to_c - room.air_c),
        heat_only_c=_heat_only_c(room, wanted) if unhelped_pct > wanted.rh_high_pct else None,
    )


def _heat_only_c(room: RoomState, wanted: Wanted) -> float | None:
    needed_c = temperature_for_rh_c(room.air_c, room.rh_pct, wanted.rh_high_pct)
    return needed_c if needed_c <= wanted.air_high_c else None
