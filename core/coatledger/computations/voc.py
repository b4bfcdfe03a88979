"""Solvent content of a finish as it is regulated and as it is sprayed: two numbers, never one.

Less water and exempt is what limits name; as applied is what leaves the can. Adding water lowers
the second and leaves the first where it was.
"""

from __future__ import annotations

from collections.abc import Sequence

from coatledger.computations.ranges import require
from coatledger.units import g_per_l_from_lb_per_gal

CFR_59 = "40 CFR 59.104(a)(1); 59.406 has the same form (from memory)"
TAC_115 = "30 TAC 115.423(1)"
GUIDEBOOK = "Metal Finishing, Organic Finishing Guidebook 2013, pp. 815-816"
JJ = "40 CFR 63 subpart JJ (wood furniture), from memory"
CONTENT = "solvent content of a finish"
SOLVENT_DENSITY_G_PER_L = g_per_l_from_lb_per_gal(7.36)  # the regulation's D, 30 TAC 115.423


def less_water_g_per_l(
    volatile_g: float,
    water_g: float,
    exempt_g: float,
    volume_l: float,
    water_l: float,
    exempt_l: float,
) -> float:
    """VOC content less water and exempt compounds of a finish as prepared for use.

    *Reference:* 40 CFR 59.104(a)(1): (Wv - Ww - Wec)/(V - Vw - Vec). *Valid:* as mixed and thinned.
    """
    require("volume_l", volume_l, 1e-6, 1e6, CFR_59)
    require("volatile_g", volatile_g, 0, volume_l * 2000, CFR_59)
    require("water_g + exempt_g", water_g + exempt_g, 0, volatile_g, f"{CFR_59}, part of volatile")
    for name, value in (("water_g", water_g), ("water_l", water_l), ("exempt_l", exempt_l)):
        require(name, value, 0, 1e6, CFR_59)
    require("exempt_g", exempt_g, 0, 1e6, CFR_59)
    rest_l = require(
        "volume less water and exempt", volume_l - water_l - exempt_l, 1e-9, volume_l, CFR_59
    )
    return (volatile_g - water_g - exempt_g) / rest_l


def as_applied_g_per_l(
    volatile_g: float, water_g: float, exempt_g: float, volume_l: float
) -> float:
    """VOC in each litre as it leaves the gun: the same mass over the whole volume."""
    return less_water_g_per_l(volatile_g, water_g, exempt_g, volume_l, 0, 0)


def as_applied_from_volumes_g_per_l(
    solids_pct: float, water_pct: float, solvent_g_per_l: float = SOLVENT_DENSITY_G_PER_L
) -> float:
    """VOC as applied from volume shares: what is neither solids nor water is solvent.

    *Reference:* the Guidebook's Example 3 with its solids and water the right way round.
    """
    solvent_pct = _solvent_pct(solids_pct, water_pct)
    require("solvent_g_per_l", solvent_g_per_l, 500, 2000, "a liquid solvent")
    return solvent_pct / 100 * solvent_g_per_l


def less_water_from_volumes_g_per_l(
    solids_pct: float, water_pct: float, solvent_g_per_l: float = SOLVENT_DENSITY_G_PER_L
) -> float:
    """VOC less water from volume shares.

    *Reference:* the Guidebook's Example 3; it swaps solids and water and prints 0.76 lb/gal, where
    its own data (42 % solids, 52 % water) give 0.92. *Valid:* water below 100 %.
    """
    applied = as_applied_from_volumes_g_per_l(solids_pct, water_pct, solvent_g_per_l)
    require("water_pct", water_pct, 0, 99.9, GUIDEBOOK)
    return applied / (1 - water_pct / 100)


def solids_basis_g_per_l(
    less_water_g_per_l: float, solvent_g_per_l: float = SOLVENT_DENSITY_G_PER_L
) -> float:
    """Grams of VOC for each litre of solids: the basis on which finishes can be compared.

    *Reference:* 30 TAC 115.423(1): S = C/(1 - C/D), D = 7.36 lb/gal.
    """
    require("solvent_g_per_l", solvent_g_per_l, 500, 2000, TAC_115)
    require("less_water_g_per_l", less_water_g_per_l, 0, 0.999 * solvent_g_per_l, TAC_115)
    return less_water_g_per_l / (1 - less_water_g_per_l / solvent_g_per_l)


def thinned_g_per_l(voc_g: float, volume_l: float, thinner_g_per_l: float, added_l: float) -> float:
    """VOC content after a solvent thinner: (mass there + mass added)/(volume there + added).

    *Reference:* the Guidebook, (15.9 + 6.4 y)/(5.0 + y). *Valid:* additive volumes, no water.
    """
    require("volume_l", volume_l, 1e-6, 1e6, GUIDEBOOK)
    require("voc_g", voc_g, 0, volume_l * 2000, GUIDEBOOK)
    require("thinner_g_per_l", thinner_g_per_l, 0, 2000, GUIDEBOOK)
    require("added_l", added_l, 0, 1e6, GUIDEBOOK)
    return (voc_g + thinner_g_per_l * added_l) / (volume_l + added_l)


def thinner_limit_l(
    voc_g: float, volume_l: float, thinner_g_per_l: float, limit_g_per_l: float
) -> float | None:
    """The most thinner that keeps a finish at a content limit; None when no amount reaches it.

    *Reference:* the Guidebook, (15.9 + 6.4 y)/(5.0 + y) = 3.5 solved for y. *Valid:* a finish that
    is not above the limit already; a permit or local rule may ask for less.
    """
    require("limit_g_per_l", limit_g_per_l, 0, 2000, GUIDEBOOK)
    content = thinned_g_per_l(voc_g, volume_l, thinner_g_per_l, 0)
    require("content before thinning", content, 0, limit_g_per_l, f"{GUIDEBOOK}, the limit asked")
    if thinner_g_per_l <= limit_g_per_l:
        return None
    return (limit_g_per_l * volume_l - voc_g) / (thinner_g_per_l - limit_g_per_l)


def hazardous_per_solids(materials: Sequence[tuple[float, float, float]]) -> float:
    """Kilograms of hazardous organic pollutant for each kilogram of solids over all materials.

    Each material is (kg used, kg of pollutant in a kg, kg of solids in a kg).
    *Reference:* 40 CFR 63 subpart JJ, weighted average sum(M c)/sum(M s), from memory.
    """
    for used_kg, pollutant, solids in materials:
        require("used_kg", used_kg, 0, 1e6, JJ)
        require("pollutant share", pollutant, 0, 1, JJ)
        require("solids share", solids, 0, 1 - pollutant, f"{JJ}, what is not pollutant")
    solids_kg = sum(used_kg * solids for used_kg, _, solids in materials)
    require("solids_kg", solids_kg, 1e-9, 1e6, JJ)
    return sum(used_kg * pollutant for used_kg, pollutant, _ in materials) / solids_kg


def _solvent_pct(solids_pct: float, water_pct: float) -> float:
    require("solids_pct", solids_pct, 0, 100, GUIDEBOOK)
    require("water_pct", water_pct, 0, 100, GUIDEBOOK)
    return 100 - require("solids_pct + water_pct", solids_pct + water_pct, 0, 100, GUIDEBOOK)
