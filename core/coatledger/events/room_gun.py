"""The room and the gun: the air that was read, and how the gun was set and cleaned."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.events.base import (
    Celsius,
    Count,
    Fact,
    Kilopascals,
    Micrometres,
    Millimetres,
    Moment,
    Percent,
    Word,
    Work,
)


class Reading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One reading of a room's air; without `at` it was read when the fact occurred."""

    air_c: Celsius
    rh_pct: Percent
    at: Moment | None = None
    surface_c: Celsius | None = None


class ClimateRead(Fact, frozen=True, kw_only=True, tag="climate_read"):
    """One or many readings of one room, all between `occurred_at` and `ended_at`."""

    room: Word
    readings: Annotated[tuple[Reading, ...], Meta(min_length=1, max_length=1000)]
    instrument: Word | None = None


class AirMoved(Fact, frozen=True, kw_only=True, tag="air_moved"):
    """A fan, heater, humidifier or dehumidifier was put on or off."""

    room: Word
    device: Literal["fan", "heater", "humidifier", "dehumidifier", "exhaust"]
    on: bool = True


class GunSetUp(Work, frozen=True, kw_only=True, tag="gun_set_up"):
    """A gun filled and set for one can."""

    gun: Word
    lot: Word
    nozzle_mm: Millimetres | None = None
    cap_pressure_kpa: Kilopascals | None = None
    fan_width_mm: Millimetres | None = None
    distance_mm: Millimetres | None = None
    overlap_pct: Percent | None = None


class TestSprayed(Work, frozen=True, kw_only=True, tag="test_sprayed"):
    """A pass on scrap or paper before the work."""

    __test__ = False  # so that a test runner does not take this class for a test

    gun: Word
    lot: Word
    passes: Count = 1
    fan_width_mm: Millimetres | None = None
    distance_mm: Millimetres | None = None
    overlap_pct: Percent | None = None
    wet_film_um: Micrometres | None = None
    result: Literal["good", "dry", "wet", "split_fan", "heavy_side", "spitting"] = "good"


class GunFlushed(Work, frozen=True, kw_only=True, tag="gun_flushed"):
    """Rinsed through with what its finish asks for."""

    gun: Word
    using: Literal["water", "solvent", "cleaner"] = "water"


class GunStripCleaned(Work, frozen=True, kw_only=True, tag="gun_strip_cleaned"):
    """Taken apart and cleaned."""

    gun: Word
    using: Literal["water", "solvent", "cleaner", "chlorinated_solvent"] = "water"


class AirLineServiced(Work, frozen=True, kw_only=True, tag="air_line_serviced"):
    """Filter changed or water drained from the compressed air."""

    room: Word | None = None
    filter_changed: bool = False
    drained: bool = False
