"""Rules of the room's air while finish goes on."""

import math
from collections.abc import Iterable
from functools import lru_cache

from coatledger.computations import air
from coatledger.computations.drying_blush import blush
from coatledger.computations.practice import EXTENDER_BELOW_RH_PCT
from coatledger.events.coating import CoatApplied
from coatledger.events.preparing import Stained
from coatledger.findings.finding import COMMON, SHEET, Hit, Rule
from coatledger.findings.place import READING_HOLDS_H, Place, seen
from coatledger.ledger.store import ClimateRow

# Where sheet and room are silent: about 21 C and 40 to 50 % is wanted, outside these the finish
# shows it. Common practice, no published source.
ROOM_C = (16.0, 29.0)
ROOM_RH_PCT = (30.0, 65.0)
# Drier air has a dew point far below any surface, and none at 0 %.
DRIEST_PCT = 5.0


def _no_reading(fact: CoatApplied, place: Place) -> Hit | None:
    room = place.room()
    if room is None or place.reading(room) is not None:
        return None
    says = f"nobody read the air of {room} in the {READING_HOLDS_H:.0f} h before"
    return _hit(fact, room, says)


def _out_of_band(fact: CoatApplied, place: Place) -> Hit | None:
    room = place.room()
    row = place.reading(room)
    if room is None or row is None:
        return None
    limits = (place.sheet(fact.lot), SHEET), (place.view.room(room), "the room's own limits")
    sources = []
    says = []
    for value, unit, ends, wide in (
        (row.air_c, "C", ("air_min_c", "air_max_c"), ROOM_C),
        (row.rh_pct, "%", ("rh_min_pct", "rh_max_pct"), ROOM_RH_PCT),
    ):
        low, high, source = _band(ends, limits, wide)
        if not low <= value <= high:
            says.append(f"{value:g} {unit}, wanted {_wanted(low, high)} {unit}")
            sources.append(source)
    if not says:
        return None
    return _hit(fact, room, _when(row, "; ".join(says)))._replace(source=sources[0])


def _too_cold_to_form(fact: CoatApplied, place: Place) -> Hit | None:
    room = place.room()
    row, sheet = place.reading(room), place.sheet(fact.lot)
    if room is None or row is None or sheet is None or sheet.mfft_c is None:
        return None
    if sheet.kind != "water_borne" or not -20.0 <= row.air_c <= 60.0:
        return None
    if row.air_c >= sheet.mfft_c + 30.0:  # no air cools a film by more; saves the wet bulb
        return None
    film_c = _wet_bulb_c(row.air_c, row.rh_pct)
    if film_c >= sheet.mfft_c:
        return None
    says = f"a wet film is at {film_c:.1f} C in this air, it needs {sheet.mfft_c:g} C to form"
    return _hit(fact, room, _when(row, says))


@lru_cache(maxsize=1024)
def _wet_bulb_c(air_c: float, rh_pct: float) -> float:
    return air.wet_bulb_c(air_c, rh_pct)


def _near_dew_point(fact: CoatApplied | Stained, place: Place) -> Hit | None:
    room = place.room()
    row = place.reading(room)
    if room is None or row is None or row.rh_pct < DRIEST_PCT:
        return None
    surface_c = row.air_c if row.surface_c is None else row.surface_c
    if row.surface_c is None and row.rh_pct < 75.0:  # the margin is above 3 C in any shop's air
        return None
    check = air.surface_check(surface_c, row.air_c, row.rh_pct)
    if check.iso_3c_ok:
        return None
    what = "surface" if row.surface_c is not None else "air (no surface was read)"
    says = f"the {what} was {check.margin_c:.1f} C above the dew point, {check.dew_point_c:.1f} C"
    return _hit(fact, room, _when(row, says))


def _blush_risk(fact: CoatApplied, place: Place) -> Hit | None:
    room = place.room()
    row, sheet = place.reading(room), place.sheet(fact.lot)
    if room is None or row is None or sheet is None or sheet.kind != "lacquer":
        return None
    if not 0.0 <= row.air_c <= 45.0 or row.rh_pct < DRIEST_PCT:
        return None
    risk = blush(row.air_c, row.rh_pct)
    if not risk.at_risk:
        return None
    says = f"a wet lacquer film may be at {risk.film_c:.1f} C, the dew point is "
    return _hit(fact, room, _when(row, f"{says}{risk.dew_point_c:.1f} C"))


def _dry_air(fact: CoatApplied, place: Place) -> Hit | None:
    room = place.room()
    row, sheet = place.reading(room), place.sheet(fact.lot)
    if room is None or row is None or row.rh_pct >= EXTENDER_BELOW_RH_PCT:
        return None
    if sheet is None or sheet.kind != "water_borne" or fact.method == "wipe":
        return None
    if any(parent.part == "extender" for parent in place.lot(fact.lot).parents):
        return None
    return _hit(fact, room, _when(row, f"{row.rh_pct:g} % and no extender in {fact.lot}"))


def _band(
    ends: tuple[str, str], limits: Iterable[tuple[object, str]], wide: tuple[float, float]
) -> tuple[float, float, str]:
    """The sheet decides where it speaks, then the room's own limits, then common practice."""
    for described, source in limits:
        low, high = getattr(described, ends[0], None), getattr(described, ends[1], None)
        if low is not None or high is not None:
            return -math.inf if low is None else low, math.inf if high is None else high, source
    return (*wide, COMMON)


def _wanted(low: float, high: float) -> str:
    """Write a range in words; one end may be open."""
    if math.isinf(low):
        return f"at most {high:g}"
    return f"at least {low:g}" if math.isinf(high) else f"{low:g} to {high:g}"


def _hit(fact: CoatApplied | Stained, room: str, says: str) -> Hit:
    return Hit((seen(says),), fact.pieces, f"room:{room}")


def _when(row: ClimateRow, says: str) -> str:
    return f"{row.air_c:g} C and {row.rh_pct:g} % were read in {row.room}: {says}"


RULES: tuple[Rule, ...] = (
    Rule(
        "no_climate_reading", "note", (CoatApplied,),
        "Nobody had read the room's air lately when a coat went on.",
        "Without a reading the clocks rest on the sheet's climate, not on yours.",
        "Read the air before the first coat of the day.",
        COMMON, _no_reading, "day",
    ),
    Rule(
        "room_out_of_band", "caution", (CoatApplied,),
        "The room's air was outside the limits while a coat went on.",
        "Cold or damp air slows drying and dulls the film; hot or dry air stops it levelling.",
        "Bring the room into range, or wait; then follow the clocks, not the watch.",
        SHEET, _out_of_band, "air",
    ),
    Rule(
        "film_below_formation", "critical", (CoatApplied,),
        "The wet film was colder than the finish can form a film.",
        "Its particles do not flow together; the film stays powdery or cracked and time does not "
        "mend it.",
        "Warm the room now, before half of the water has left; look at it dry and rub it with a "
        "nail. A void film comes off.",
        SHEET, _too_cold_to_form, "air",
    ),
    Rule(
        "surface_near_dew_point", "serious", (CoatApplied, Stained),
        "The surface was less than 3 C above the dew point.",
        "Water settles on the surface or into the film: poor hold, whitening.",
        "Warm the piece or dry the air until the margin is 3 C.",
        "ISO 8502-4", _near_dew_point, "air",
    ),
    Rule(
        "blush_risk", "caution", (CoatApplied,),
        "A solvent lacquer was sprayed in air damp enough to whiten it.",
        "Its solvents cool the film below the dew point and water settles in it.",
        "Dry or warm the air, use a retarder as the data sheet allows; a later coat may clear it.",
        "psychrometric balance with butyl acetate (ASHRAE ch. 1; Chilton and Colburn)",
        _blush_risk, "air",
    ),
    Rule(
        "dry_air_no_extender", "note", (CoatApplied,),
        "Water-borne finish was sprayed in dry air without an extender.",
        "It dries before it levels: orange peel, dry spray, shut-in bubbles.",
        "Add extender as the data sheet allows, or damp the air.",
        COMMON, _dry_air, "air",
    ),
)  # fmt: skip
