"""Calculations about a room's air, and what it does to surfaces and wood."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from coatledger.answers.calculations.calculation import AirC, Calculation, RhPct
from coatledger.computations import air, air_rooms, wood
from coatledger.computations.drying_blush import Blush, blush
from coatledger.computations.sheen import Sheen, judge_sheen
from coatledger.computations.wood_species import species


class AirAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A room's air, as an instrument reads it."""

    air_c: AirC
    rh_pct: RhPct
    altitude_m: Annotated[float, Meta(description="Height above the sea, metres.")] = 0.0


class AirTold(Struct, frozen=True, kw_only=True):
    """What the air holds and takes. `wet_bulb_depression_c` is what dries a water-borne film."""

    dew_point_c: float
    wet_bulb_c: float
    wet_bulb_depression_c: float
    vapour_pressure_pa: float
    vapour_pressure_deficit_pa: float
    humidity_ratio_g_kg: float
    density_kg_m3: float


class AirOnly(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The air a lacquer is sprayed in."""

    air_c: AirC
    rh_pct: RhPct


class SheenAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Gloss-meter readings of one face, and the sheen that was wanted."""

    readings_gu: Annotated[
        tuple[float, ...],
        Meta(min_length=1, max_length=50, description="Readings at 60 degrees, gloss units."),
    ]
    asked: Annotated[str, Meta(description="dead_flat, matte, satin, semi_gloss or gloss.")]


class MarginAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A surface in a room's air."""

    surface_c: Annotated[float, Meta(description="Temperature of the surface, degrees Celsius.")]
    air_c: AirC
    rh_pct: RhPct


class RoomAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A room's air, the range it should be in, and the air that comes in from outside."""

    air_c: AirC
    rh_pct: RhPct
    volume_m3: Annotated[float, Meta(description="Volume of the room, cubic metres.")]
    air_min_c: Annotated[float, Meta(description="Lowest temperature wanted, degrees Celsius.")]
    air_max_c: Annotated[float, Meta(description="Highest temperature wanted, degrees Celsius.")]
    rh_min_pct: Annotated[float, Meta(description="Lowest relative humidity wanted, percent.")]
    rh_max_pct: Annotated[float, Meta(description="Highest relative humidity wanted, percent.")]
    air_changes_per_h: Annotated[float, Meta(description="Changes of air an hour.")] = 0.0
    outside_c: (
        Annotated[float, Meta(description="Temperature outside, degrees Celsius.")] | None
    ) = None
    outside_rh_pct: (
        Annotated[float, Meta(description="Relative humidity outside, percent.")] | None
    ) = None


class WoodAsked(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A room's air, and a piece that comes into it: by its moisture, or by the air it came from."""

    air_c: AirC
    rh_pct: RhPct
    moisture_pct: (
        Annotated[float, Meta(description="Moisture content of the piece, percent.")] | None
    ) = None
    from_air_c: Annotated[float, Meta(description="Air it comes from, degrees Celsius.")] | None = (
        None
    )
    from_rh_pct: (
        Annotated[float, Meta(description="Relative humidity it comes from, percent.")] | None
    ) = None
    species: Annotated[str, Meta(description="Its wood: white_oak, ash, cherry.")] | None = None
    width_mm: Annotated[float, Meta(description="Width of a board, millimetres.")] | None = None
    cut: Literal["flat_sawn", "quarter_sawn"] = "flat_sawn"


class WoodTold(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The moisture wood comes to in this air; `moves` says where a piece goes from its own,
    `wider_mm` by how much its board grows (or, negative, shrinks) on the way."""

    emc_pct: float
    from_pct: float | None = None
    moves: wood.Move | None = None
    wider_mm: float | None = None


def _air(asked: AirAsked) -> AirTold:
    pressure_pa = air.standard_pressure_pa(asked.altitude_m)
    return AirTold(
        dew_point_c=air.dew_point_c(asked.air_c, asked.rh_pct),
        wet_bulb_c=air.wet_bulb_c(asked.air_c, asked.rh_pct, pressure_pa),
        wet_bulb_depression_c=air.wet_bulb_depression_c(asked.air_c, asked.rh_pct, pressure_pa),
        vapour_pressure_pa=air.vapour_pressure_pa(asked.air_c, asked.rh_pct),
        vapour_pressure_deficit_pa=air.vapour_pressure_deficit_pa(asked.air_c, asked.rh_pct),
        humidity_ratio_g_kg=1000 * air.humidity_ratio_kg_kg(asked.air_c, asked.rh_pct, pressure_pa),
        density_kg_m3=air.density_kg_m3(asked.air_c, asked.rh_pct, pressure_pa),
    )


def _margin(asked: MarginAsked) -> air.SurfaceCheck:
    return air.surface_check(asked.surface_c, asked.air_c, asked.rh_pct)


def _room(asked: RoomAsked) -> air_rooms.Correction:
    room = air_rooms.RoomState(
        air_c=asked.air_c,
        rh_pct=asked.rh_pct,
        volume_m3=asked.volume_m3,
        air_changes_per_h=asked.air_changes_per_h,
        outside_c=asked.outside_c,
        outside_rh_pct=asked.outside_rh_pct,
    )
    wanted = air_rooms.Wanted(
        air_low_c=asked.air_min_c,
        air_high_c=asked.air_max_c,
        rh_low_pct=asked.rh_min_pct,
        rh_high_pct=asked.rh_max_pct,
    )
    return air_rooms.correction(room, wanted)


def _wood(asked: WoodAsked) -> WoodTold:
    emc_pct = wood.emc_pct(asked.air_c, asked.rh_pct)
    was_pct = asked.moisture_pct
    if was_pct is None and asked.from_air_c is not None and asked.from_rh_pct is not None:
        was_pct = wood.emc_pct(asked.from_air_c, asked.from_rh_pct)
    if was_pct is None:
        return WoodTold(emc_pct=emc_pct)
    return WoodTold(
        emc_pct=emc_pct,
        from_pct=was_pct,
        moves=wood.moved(was_pct, asked.air_c, asked.rh_pct),
        wider_mm=_wider_mm(asked, was_pct, emc_pct),
    )


def _wider_mm(asked: WoodAsked, was_pct: float, emc_pct: float) -> float | None:
    if asked.species is None or asked.width_mm is None:
        return None
    known = species(asked.species)
    if known is None:
        raise ValueError(f"nothing is known of {asked.species}")
    return wood.width_change_mm(known, asked.width_mm, was_pct, emc_pct, asked.cut)


def _blush(asked: AirOnly) -> Blush:
    return blush(asked.air_c, asked.rh_pct)


def _sheen(asked: SheenAsked) -> Sheen:
    return judge_sheen(asked.readings_gu, asked.asked)


ALL: tuple[Calculation, ...] = (
    Calculation(
        "air",
        "Dew point, wet bulb and what else the air of a room says.",
        AirAsked,
        AirTold,
        _air,
        "ASHRAE Fundamentals 2017, chapter 1",
        {"air_c": 21, "rh_pct": 50},
    ),
    Calculation(
        "dew-point-margin",
        "How far a surface is above the dew point, by the two customary rules.",
        MarginAsked,
        air.SurfaceCheck,
        _margin,
        "ISO 8502-4 practice (3 °C); ASTM D3276 (5 °F), from memory",
        {"surface_c": 14, "air_c": 21, "rh_pct": 50},
    ),
    Calculation(
        "blush",
        "How near a wet solvent lacquer comes to the dew point in this air.",
        AirOnly,
        Blush,
        _blush,
        "psychrometric balance with butyl acetate (ASHRAE ch. 1; Chilton and Colburn), a stand-in",
        {"air_c": 22, "rh_pct": 70},
    ),
    Calculation(
        "sheen",
        "Gloss readings held against the sheen that was asked.",
        SheenAsked,
        Sheen,
        _sheen,
        "ISO 2813 for the readings; which units are called satin is common practice, no published"
        " source",
        {"readings_gu": [33, 35, 34], "asked": "satin"},
    ),
    Calculation(
        "room",
        "What brings a room's air into range: heat, and water to add or take out.",
        RoomAsked,
        air_rooms.Correction,
        _room,
        "ASHRAE Fundamentals 2017, chapter 1, for the air alone",
        {
            "air_c": 12,
            "rh_pct": 80,
            "volume_m3": 60,
            "air_min_c": 19,
            "air_max_c": 24,
            "rh_min_pct": 40,
            "rh_max_pct": 50,
        },
    ),
    Calculation(
        "wood-moisture",
        "The moisture content wood comes to in a room's air, and whether a piece will move.",
        WoodAsked,
        WoodTold,
        _wood,
        "USDA Wood Handbook GTR-282, chapter 4, equation 4-5",
        {"air_c": 21, "rh_pct": 50, "moisture_pct": 11},
    ),
)
