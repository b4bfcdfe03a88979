"""Moist air: what a thermometer and a hygrometer in the shop say about water in the air.

Scalar functions, with a vectorised wet-bulb depression for the drying clock. Room corrections
(grams of water, heating) stand in `air_rooms`.
"""

import math
from typing import Final

import msgspec
import numpy as np

from coatledger.computations.air_saturation import (
    ICE,
    KELVIN,
    TRIPLE_POINT_C,
    WATER,
    Floats,
    coefficients_at,
    log_pressure,
    log_pressures,
    log_slope,
    log_slopes,
)
from coatledger.computations.ranges import OutOfRange, require, require_all

ASHRAE: Final = "ASHRAE Handbook - Fundamentals 2017, ch. 1"
STANDARD_PRESSURE_PA: Final = 101_325.0
WATER_TO_AIR: Final = 0.621945  # ratio of molar masses, ASHRAE ch. 1 eq. 20
ISO_8502_4_MARGIN_C: Final = 3.0
FIVE_F_MARGIN_C: Final = 5.0 / 1.8  # 5 F of difference, 2.78 C
_ITERATIONS_MAX: Final = 50
_CONVERGED_C: Final = 1e-11


class SurfaceCheck(msgspec.Struct, frozen=True, kw_only=True):
    """How far a surface is above the dew point, and what the two customary rules say of it."""

    dew_point_c: float
    margin_c: float
    iso_3c_ok: bool
    five_f_ok: bool


def saturation_pressure_pa(air_c: float) -> float:
    """Return the pressure of saturated water vapour, over ice up to the triple point.

    *Reference:* ASHRAE Fundamentals 2017 ch. 1 eqs 5 and 6, changing over at 0.01 C, for the
    printed 0 C leaves a step. *Valid:* -100 to 200 C; within 300 ppm of ASHRAE Table 3.
    """
    require("temperature (C)", air_c, -100.0, 200.0, ASHRAE)
    return math.exp(log_pressure(air_c + KELVIN, coefficients_at(air_c)))


def vapour_pressure_pa(air_c: float, rh_pct: float) -> float:
    """Return the partial pressure of water vapour. *Reference:* ASHRAE ch. 1 eq. 22."""
    require("relative humidity (%)", rh_pct, 0.0, 100.0, "relative humidity")
    return saturation_pressure_pa(air_c) * rh_pct / 100.0


def vapour_pressure_deficit_pa(air_c: float, rh_pct: float) -> float:
    """Return how much vapour pressure the air lacks to saturation.

    *Reference:* definition, p_ws(T) - p_v. *Valid:* one state; a day's mean must average p_ws at
    its warmest and coldest hour, not take p_ws at the mean temperature (FAO-56 eq. 12).
    """
    return saturation_pressure_pa(air_c) - vapour_pressure_pa(air_c, rh_pct)


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Return the temperature at which this air begins to condense (or to form frost).

    *Reference:* inversion of ASHRAE eqs 5 and 6 by Newton's method, not the printed regression.
    *Valid:* dew points of -100 to 200 C; air without any vapour has none.
    """
    require("relative humidity (%)", rh_pct, 0.0, 100.0, "relative humidity")
    return saturation_temperature_c(vapour_pressure_pa(air_c, rh_pct))


def saturation_temperature_c(vapour_pa: float) -> float:
    """Return the temperature at which this vapour pressure is saturation: the dew point.

    *Reference:* inversion of ASHRAE eqs 5 and 6. *Valid:* -100 to 200 C.
    """
    low, high = saturation_pressure_pa(-100.0), saturation_pressure_pa(200.0)
    require("vapour pressure (Pa)", vapour_pa, low, high, ASHRAE)
    coefficients = ICE if vapour_pa <= saturation_pressure_pa(TRIPLE_POINT_C) else WATER
    log_target = math.log(vapour_pa)
    # A Magnus form is within a few degrees everywhere and starts Newton's method safely.
    ratio = math.log(vapour_pa / 611.2)
    kelvin = 243.12 * ratio / (17.62 - ratio) + KELVIN
    for _ in range(_ITERATIONS_MAX):
        step = (log_pressure(kelvin, coefficients) - log_target) / log_slope(kelvin, coefficients)
        kelvin -= step
        if abs(step) < _CONVERGED_C:
            return kelvin - KELVIN
    raise OutOfRange("vapour pressure (Pa)", vapour_pa, low, high, ASHRAE)


def rh_from_dew_point_pct(air_c: float, dew_c: float) -> float:
    """Return the relative humidity of air with this dew point. *Reference:* ASHRAE eq. 22."""
    require("dew point (C)", dew_c, -100.0, air_c, "a dew point is not above its air")
    return 100.0 * saturation_pressure_pa(dew_c) / saturation_pressure_pa(air_c)


def humidity_ratio_kg_kg(
    air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return kilograms of water per kilogram of dry air. *Reference:* ASHRAE ch. 1 eq. 20."""
    return _ratio(vapour_pressure_pa(air_c, rh_pct), pressure_pa)


def wet_bulb_c(air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the thermodynamic wet-bulb temperature: how cold evaporation alone makes a wet film.

    *Reference:* ASHRAE ch. 1 eq. 33 (water) and eq. 35 (ice), by Newton's method. Near 0 C both can
    hold; the water root is taken, for a wet film is liquid. *Valid:* -20 to 60 C, 60 to 110 kPa.
    """
    _require_shop_air(pressure_pa)
    require("temperature (C)", air_c, -20.0, 60.0, "wet bulb, as checked")
    ratio = humidity_ratio_kg_kg(air_c, rh_pct, pressure_pa)
    over_water = _wet_bulb_root(air_c, ratio, pressure_pa, (2501.0, 2.326, 4.186), air_c)
    if over_water >= 0.0:
        return over_water
    return _wet_bulb_root(air_c, ratio, pressure_pa, (2830.0, 0.24, 2.1), min(air_c, 0.0))


def wet_bulb_depression_c(
    air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return air temperature less wet bulb, what drives water out of a film; see `wet_bulb_c`."""
    return max(0.0, air_c - wet_bulb_c(air_c, rh_pct, pressure_pa))


def wet_bulb_depressions_c(
    air_c: Floats, rh_pct: Floats, pressure_pa: float = STANDARD_PRESSURE_PA
) -> Floats:
    """Return the wet-bulb depression of many readings at once.

    *Reference:* as `wet_bulb_c`, to which it is equal within 1e-9 C. *Valid:* as there.
    """
    _require_shop_air(pressure_pa)
    require_all("temperature (C)", air_c, -20.0, 60.0, "wet bulb, as checked")
    require_all("relative humidity (%)", rh_pct, 0.0, 100.0, "relative humidity")
    vapour = np.exp(log_pressures(air_c + KELVIN)) * rh_pct / 100.0
    ratio = WATER_TO_AIR * vapour / (pressure_pa - vapour)
    bulb = _wet_bulb_roots(air_c, ratio, pressure_pa, (2501.0, 2.326, 4.186), air_c)
    frozen = np.flatnonzero(bulb < 0.0)
    if frozen.size:
        air, cold_ratio = air_c[frozen], ratio[frozen]
        start = np.minimum(air, 0.0)
        bulb[frozen] = _wet_bulb_roots(air, cold_ratio, pressure_pa, (2830.0, 0.24, 2.1), start)
    return np.maximum(0.0, air_c - bulb)


def rh_from_wet_bulb_pct(
    air_c: float, wet_c: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Return the relative humidity that a sling psychrometer's two temperatures mean.

    *Reference:* ASHRAE ch. 1 eqs 33 and 35. *Valid:* as `wet_bulb_c`; a wet bulb too cold for air
    with no vapour at all is refused.
    """
    _require_shop_air(pressure_pa)
    require("wet bulb (C)", wet_c, -100.0, air_c, "a wet bulb is not above its air")
    heat, cooling, liquid = (2501.0, 2.326, 4.186) if wet_c >= 0.0 else (2830.0, 0.24, 2.1)
    saturated = _ratio(saturation_pressure_pa(wet_c), pressure_pa)
    water = (heat - cooling * wet_c) * saturated - 1.006 * (air_c - wet_c)
    ratio = water / (heat + 1.86 * air_c - liquid * wet_c)
    vapour = pressure_pa * ratio / (WATER_TO_AIR + ratio)
    rh_pct = 100.0 * vapour / saturation_pressure_pa(air_c)
    return require("relative humidity (%)", rh_pct, 0.0, 100.0 + 1e-9, "a possible wet bulb")


def enthalpy_kj_kg(air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return kilojoules per kilogram of dry air, above dry air at 0 C.

    *Reference:* ASHRAE ch. 1 eq. 30. *Valid:* as humidity ratio.
    """
    ratio = humidity_ratio_kg_kg(air_c, rh_pct, pressure_pa)
    return 1.006 * air_c + ratio * (2501.0 + 1.86 * air_c)


def density_kg_m3(air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return the density of moist air. *Reference:* ASHRAE ch. 1 eqs 11 and 26, (1 + W)/v."""
    ratio = humidity_ratio_kg_kg(air_c, rh_pct, pressure_pa)
    return (1.0 + ratio) * dry_air_kg_m3(air_c, rh_pct, pressure_pa)


def dry_air_kg_m3(air_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Return kilograms of dry air in a cubic metre of moist air; *Reference:* ASHRAE eq. 26."""
    ratio = humidity_ratio_kg_kg(air_c, rh_pct, pressure_pa)
    return pressure_pa / (287.042 * (air_c + KELVIN) * (1.0 + 1.607858 * ratio))


def standard_pressure_pa(altitude_m: float) -> float:
    """Return the standard atmosphere's pressure at an altitude.

    *Reference:* ASHRAE ch. 1 eq. 3. *Valid:* -5,000 to 11,000 m.
    """
    require("altitude (m)", altitude_m, -5000.0, 11_000.0, f"{ASHRAE} eq. 3")
    return STANDARD_PRESSURE_PA * math.pow(1.0 - 2.25577e-5 * altitude_m, 5.2559)


def surface_check(surface_c: float, air_c: float, rh_pct: float) -> SurfaceCheck:
    """Return a surface's margin over the dew point, judged by both customary rules.

    *Reference:* ISO 8502-4 practice, at least 3 C; United States practice (ASTM D3276, from
    memory), at least 5 F = 2.78 C. They part for margins of 2.78 to 3 C. *Valid:* as `dew_point_c`.
    """
    require("surface temperature (C)", surface_c, -100.0, 200.0, ASHRAE)
    dew_c = dew_point_c(air_c, rh_pct)
    margin_c = surface_c - dew_c
    return SurfaceCheck(
        dew_point_c=dew_c,
        margin_c=margin_c,
        iso_3c_ok=margin_c >= ISO_8502_4_MARGIN_C,
        five_f_ok=margin_c >= FIVE_F_MARGIN_C,
    )


def _ratio(vapour_pa: float, pressure_pa: float) -> float:
    require("pressure (Pa)", pressure_pa, vapour_pa * 1.000001 + 1.0, 1e7, "air above its vapour")
    return WATER_TO_AIR * vapour_pa / (pressure_pa - vapour_pa)


def _require_shop_air(pressure_pa: float) -> None:
    require("pressure (Pa)", pressure_pa, 60_000.0, 110_000.0, "wet bulb, as checked")


def _wet_bulb_root(
    air_c: float, ratio: float, pressure_pa: float, terms: tuple[float, float, float], start: float
) -> float:
    """Solve eq. 33 or 35: rising and convex, so Newton's method from above stays above."""
    heat, cooling, liquid = terms
    bulb = start
    for _ in range(_ITERATIONS_MAX):
        c = coefficients_at(bulb)
        vapour = math.exp(log_pressure(bulb + KELVIN, c))
        saturated = WATER_TO_AIR * vapour / (pressure_pa - vapour)
        slope = saturated * pressure_pa / (pressure_pa - vapour) * log_slope(bulb + KELVIN, c)
        excess = (heat - cooling * bulb) * saturated - 1.006 * (air_c - bulb)
        excess -= ratio * (heat + 1.86 * air_c - liquid * bulb)
        rise = (heat - cooling * bulb) * slope - cooling * saturated + 1.006 + ratio * liquid
        step = excess / rise
        bulb -= step
        if abs(step) < _CONVERGED_C:
            return bulb
    raise OutOfRange("temperature (C)", air_c, -20.0, 60.0, "wet bulb, as checked")


def _wet_bulb_roots(
    air_c: Floats,
    ratio: Floats,
    pressure_pa: float,
    terms: tuple[float, float, float],
    start: Floats,
) -> Floats:
    """Solve eq. 33 or 35 for many readings in step, until the slowest has converged."""
    heat, cooling, liquid = terms
    bulb = start.copy()
    known = 1.006 * air_c + ratio * (heat + 1.86 * air_c)
    gain = 1.006 + ratio * liquid
    for _ in range(_ITERATIONS_MAX):
        kelvin = bulb + KELVIN
        vapour = np.exp(log_pressures(kelvin))
        room_for = pressure_pa - vapour
        saturated = WATER_TO_AIR * vapour / room_for
        latent = heat - cooling * bulb
        rise = latent * (saturated * (pressure_pa / room_for) * log_slopes(kelvin))
        rise += gain - cooling * saturated
        step = (latent * saturated + gain * bulb - known) / rise
        bulb -= step
        if float(np.max(np.abs(step), initial=0.0)) < _CONVERGED_C:
            return bulb
    raise OutOfRange("temperature (C)", float(air_c[0]), -20.0, 60.0, "wet bulb, as checked")
