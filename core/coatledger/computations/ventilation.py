"""Air for a spraying place: the airflow required first, the breather's exposure next, fire last.

Nothing here permits anything, and nothing counts down: an answer below a limit is no permission to
spray. The safety data sheet, local codes and licensed practice decide; a mixture that is measured
wins over one that is computed. Figures of a fan are measured, never taken from its plate.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.units import m_s_from_fpm

DILUTION = "29 CFR 1910.94(c)(6)(ii)"
BOOTH = "29 CFR 1910.94(c) Table G-10 and 1910.107(b)(5)(i)"
EXPOSURE = "29 CFR 1910.1000(d)"
LE_CHATELIER = "LeChatelier's rule for flammable mixtures"
LEL = "lower explosive limit of a solvent, per cent by volume (its current safety data sheet)"
LITRES = "solvent that evaporates, without solids and water"
GAS_L_MOL = 24.45  # molar volume of the regulation's ppm conversion, 25 °C and 101 325 Pa
GAS_J_MOL_K = 8.314462618

DEFER = (
    "Not a permission. The safety data sheet, local fire and building codes and a licensed "
    "engineer decide; measure the air where people breathe."
)

Cross = Literal["negligible", "to_50_fpm", "to_100_fpm", "any"]
Size = Literal["large", "small", "any"]


class Velocity(Struct, frozen=True):
    """One line of the booth tables: the air's speed into the opening, and the range allowed."""

    operation: Literal["air_operated", "electrostatic_unmanned", "dry_booth", "electrostatic"]
    crossdraft: Cross
    booth: Size
    design_m_s: float
    low_m_s: float
    high_m_s: float | None
    source: str


def _line(
    operation: Literal["air_operated", "electrostatic_unmanned", "dry_booth", "electrostatic"],
    crossdraft: Cross,
    booth: Size,
    fpm: tuple[float, float, float | None],
    source: str,
) -> Velocity:
    design, low, high = fpm
    top = None if high is None else m_s_from_fpm(high)
    return Velocity(
        operation, crossdraft, booth, m_s_from_fpm(design), m_s_from_fpm(low), top, source
    )


G10 = "29 CFR 1910.94(c) Table G-10 (read in WAC 296-62-11019 Table 14)"
G10_MEMORY = "29 CFR 1910.94(c) Table G-10 (this line from memory)"
B5 = "29 CFR 1910.107(b)(5)(i) (read in WAC 296-24-37003)"

BOOTH_VELOCITIES: tuple[Velocity, ...] = (
    _line("electrostatic_unmanned", "negligible", "large", (50, 50, 75), G10),
    _line("electrostatic_unmanned", "negligible", "small", (100, 75, 125), G10),
    _line("air_operated", "to_50_fpm", "large", (100, 75, 125), G10),
    _line("air_operated", "to_50_fpm", "small", (150, 125, 175), G10_MEMORY),
    _line("air_operated", "to_100_fpm", "large", (150, 125, 175), G10_MEMORY),
    _line("air_operated", "to_100_fpm", "small", (200, 150, 250), G10),
    _line("dry_booth", "any", "any", (100, 100, None), B5),
    _line("electrostatic", "any", "any", (60, 60, None), B5),
)


def booth_velocity(operation: str, crossdraft: str, booth: str) -> Velocity:
    """The line of the regulation for an operation, its cross-draught and the booth's size."""
    for line in BOOTH_VELOCITIES:
        if (line.operation, line.crossdraft, line.booth) in (
            (operation, crossdraft, booth),
            (operation, "any", "any"),
        ):
            return line
    raise ValueError(f"{BOOTH} has no line for {operation}, {crossdraft}, {booth}")


def booth_airflow_m3_s(open_face_m2: float, velocity_m_s: float) -> float:
    """Airflow through a booth's open face: area times velocity.

    *Reference:* 29 CFR 1910.107(b)(5)(i), average over the open face. *Valid:* clean filters; the
    speed falls as they load.
    """
    require("open_face_m2", open_face_m2, 0.01, 500, "the open face of one booth")
    require("velocity_m_s", velocity_m_s, 0.01, 5, BOOTH)
    return open_face_m2 * velocity_m_s


def vapour_m3_per_l(density_g_per_l: float, molar_mass_g: float, air_c: float) -> float:
    """Vapour volume of a litre of solvent: ideal gas at one atmosphere.

    *Reference:* n R T/p; agrees within 6 % with the volumes of 29 CFR 1910.94 Table G-11.
    """
    require("density_g_per_l", density_g_per_l, 500, 2000, "a liquid solvent")
    require("molar_mass_g", molar_mass_g, 18, 400, "a liquid solvent")
    require("air_c", air_c, -20, 60, "air in a workshop")
    return density_g_per_l / molar_mass_g * GAS_J_MOL_K * (air_c + 273.15) / 101_325


def dilution_air_m3(solvent_l: float, vapour_m3_per_l: float, lel_pct: float) -> float:
    """Air that dilutes a volume of evaporated solvent to a quarter of its lower explosive limit.

    *Reference:* 29 CFR 1910.94(c)(6)(ii): 4 (100 - LEL) V/LEL for each volume of solvent (formula
    from memory, its printed toluene example 8,564 ft³ reproduced). *Valid:* perfect mixing; solids
    and water taken off first.
    """
    require("solvent_l", solvent_l, 0, 1e4, LITRES)
    require("vapour_m3_per_l", vapour_m3_per_l, 0.01, 2, "vapour of a litre of liquid solvent")
    require("lel_pct", lel_pct, 0.3, 30, LEL)
    return 4 * (100 - lel_pct) * vapour_m3_per_l / lel_pct * solvent_l


def dilution_airflow_m3_s(
    solvent_l: float, minutes: float, vapour_m3_per_l: float, lel_pct: float
) -> float:
    """Dilution airflow while a volume of solvent evaporates evenly over some minutes."""
    require("minutes", minutes, 0.1, 1e4, f"{DILUTION}, time in which the solvent evaporates")
    return dilution_air_m3(solvent_l, vapour_m3_per_l, lel_pct) / (minutes * 60)


def exposure_twa(levels: Sequence[tuple[float, float]]) -> float:
    """Eight-hour exposure from (level, hours) pairs, in the unit of the levels.

    *Reference:* 29 CFR 1910.1000(d)(1): E = sum(C T)/8; a longer day still divides by eight.
    """
    for level, hours in levels:
        require("level", level, 0, 1e6, EXPOSURE)
        require("hours", hours, 0, 24, EXPOSURE)
    require("sum of hours", math.fsum(hours for _, hours in levels), 0, 24, EXPOSURE)
    return math.fsum(level * hours for level, hours in levels) / 8


def mixture_index(exposures: Sequence[tuple[float, float]]) -> float:
    """Combined exposure from (level, limit) pairs of one unit each: above 1 exceeds the limit.

    *Reference:* 29 CFR 1910.1000(d)(2): sum(C/L). *Valid:* agents of like effect; one without a
    limit cannot be weighed here.
    """
    for level, limit in exposures:
        require("level", level, 0, 1e6, EXPOSURE)
        require("limit", limit, 1e-6, 1e6, EXPOSURE)
    return math.fsum(level / limit for level, limit in exposures)


def mg_m3_from_ppm(level_ppm: float, molar_mass_g: float) -> float:
    """Milligrams a cubic metre from parts per million by volume at 25 °C (24.45 L/mol)."""
    require("level_ppm", level_ppm, 0, 1e6, EXPOSURE)
    require("molar_mass_g", molar_mass_g, 1, 1000, EXPOSURE)
    return level_ppm * molar_mass_g / GAS_L_MOL


def ppm_from_mg_m3(level_mg_m3: float, molar_mass_g: float) -> float:
    """Parts per million from milligrams a cubic metre: the inverse of `mg_m3_from_ppm`."""
    require("level_mg_m3", level_mg_m3, 0, 1e9, EXPOSURE)
    require("molar_mass_g", molar_mass_g, 1, 1000, EXPOSURE)
    return level_mg_m3 * GAS_L_MOL / molar_mass_g


def mixture_lel_pct(parts: Sequence[tuple[float, float]]) -> float:
    """Lower explosive limit of a vapour mixture from (share of the vapour, LEL per cent) parts.

    *Reference:* LeChatelier: 1/sum(y/LEL), y a share of the flammable vapour, sum 1.
    *Valid:* hydrocarbons, alcohols, esters, ketones; shares of vapour, not of liquid.
    """
    for share, lel_pct in parts:
        require("share", share, 0, 1, LE_CHATELIER)
        require("lel_pct", lel_pct, 0.3, 30, LEL)
    total = math.fsum(share for share, _ in parts)
    require("sum of shares", total, 1 - 1e-6, 1 + 1e-6, LE_CHATELIER)
    return total / math.fsum(share / lel_pct for share, lel_pct in parts)


class Spraying(Struct, frozen=True):
    """What evaporates and how: one solvent blend, its even rate, its limits; the air there is."""

    solvent_l_per_h: float
    vapour_m3_per_l: float
    lel_pct: float
    limit_ppm: float
    airflow_m3_s: float
    booth_airflow_m3_s: float


class AirAnswer(Struct, frozen=True):
    """Read in this order: airflow required and what asks for it, then exposure, then fire."""

    required_m3_s: float
    required_by: Literal["booth", "exposure", "dilution"]
    short_m3_s: float
    exposure_index: float
    share_of_lel_pct: float
    above_quarter_lel: bool
    cautions: tuple[str, ...]


def air_answer(spraying: Spraying) -> AirAnswer:
    """Airflow required for a spraying place and how the air there is compares, mixed evenly.

    *Reference:* the largest of the booth's face flow (1910.107(b)(5)(i)), the flow that keeps the
    mean vapour at its exposure limit (1910.1000(d)) and the dilution flow (1910.94(c)(6)(ii)).
    *Valid:* perfect mixing, steady state. Near the gun the air is always worse than its mean.
    """
    require("solvent_l_per_h", spraying.solvent_l_per_h, 0, 1000, LITRES)
    require("limit_ppm", spraying.limit_ppm, 0.001, 10_000, EXPOSURE)
    require("airflow_m3_s", spraying.airflow_m3_s, 0.001, 500, "the airflow measured at the booth")
    require("booth_airflow_m3_s", spraying.booth_airflow_m3_s, 0, 500, BOOTH)
    diluting = dilution_airflow_m3_s(
        spraying.solvent_l_per_h, 60, spraying.vapour_m3_per_l, spraying.lel_pct
    )
    vapour_m3_s = spraying.solvent_l_per_h * spraying.vapour_m3_per_l / 3600
    breathing = vapour_m3_s * 1e6 / spraying.limit_ppm
    required = max(spraying.booth_airflow_m3_s, breathing, diluting)
    by: Literal["booth", "exposure", "dilution"] = "dilution"
    if required == spraying.booth_airflow_m3_s:
        by = "booth"
    elif required == breathing:
        by = "exposure"
    # Vapour adds to the air it leaves with, as the regulation's (100 - LEL) has it.
    share_pct = 100 * vapour_m3_s / (spraying.airflow_m3_s + vapour_m3_s) / spraying.lel_pct * 100
    short = max(0.0, required - spraying.airflow_m3_s)
    index = vapour_m3_s / spraying.airflow_m3_s * 1e6 / spraying.limit_ppm
    return AirAnswer(
        required, by, short, index, share_pct, share_pct > 25, _said(short, index, share_pct)
    )


def _said(short_m3_s: float, exposure_index: float, share_of_lel_pct: float) -> tuple[str, ...]:
    said = []
    if short_m3_s > 0:
        said.append(f"The air falls short by {short_m3_s:.3g} m³/s: do not spray on this air.")
    if exposure_index > 1:
        said.append("The mean vapour is above its exposure limit: more air comes before a mask.")
    if share_of_lel_pct > 25:
        said.append("The mean vapour is above a quarter of its explosive limit: stop, let it air.")
    said.append("Air close to the gun is worse than this mean; wear what the sheet names.")
    return (*said, DEFER)
