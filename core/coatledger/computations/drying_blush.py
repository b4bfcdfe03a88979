"""Blush of a solvent lacquer: its solvents cool the film, and below the dew point water settles.

A warning by physics with a stand-in solvent, not the data sheet's word.
"""

import math
from typing import Final

import msgspec

from coatledger.computations import air
from coatledger.computations.air_saturation import KELVIN
from coatledger.computations.drying import GAS_CONSTANT_J_MOL_K
from coatledger.computations.ranges import require

AIR_J_MOL_K: Final = 29.1  # molar heat of air at constant pressure, 1.006 kJ/kg K x 28.97 g/mol
_HALVINGS: Final = 60


class Solvent(msgspec.Struct, frozen=True, kw_only=True):
    """The solvent that cools a lacquer film; the defaults are butyl acetate's (from memory).

    `lewis` is the ratio of heat to mass diffusivity in air, near 2.6 for so heavy a vapour.
    """

    vapour_20c_pa: float = 1200.0
    heat_kj_mol: float = 43.9
    lewis: float = 2.6


class Blush(msgspec.Struct, frozen=True, kw_only=True):
    """How cold the wet lacquer gets and how far above the dew point that is."""

    film_c: float
    dew_point_c: float
    margin_c: float
    at_risk: bool


def solvent_film_c(air_c: float, solvent: Solvent) -> float:
    """Return the temperature of a film from which this solvent evaporates freely.

    *Reference:* the psychrometric balance with the Chilton-Colburn analogy, p_s(T_f) =
    cp P Le^(2/3) (T - T_f)/L; vapour pressure by Clausius and Clapeyron. *Valid:* 0 to 45 C, air
    without solvent vapour, so the coldest it can be.
    """
    require("temperature (C)", air_c, 0.0, 45.0, "the blush model")
    require("solvent vapour pressure at 20 C (Pa)", solvent.vapour_20c_pa, 1.0, 30_000.0, "20 C")
    require("heat of evaporation (kJ/mol)", solvent.heat_kj_mol, 20.0, 80.0, "common solvents")
    require("Lewis number", solvent.lewis, 0.5, 5.0, "vapours in air")
    per_kelvin_pa = air.STANDARD_PRESSURE_PA * AIR_J_MOL_K * math.pow(solvent.lewis, 2.0 / 3.0)
    per_kelvin_pa /= solvent.heat_kj_mol * 1000.0
    low, high = air_c - 60.0, air_c
    for _ in range(_HALVINGS):
        film_c = (low + high) / 2.0
        inverse = 1.0 / (film_c + KELVIN) - 1.0 / (20.0 + KELVIN)
        exponent = -solvent.heat_kj_mol * 1000.0 / GAS_CONSTANT_J_MOL_K * inverse
        if solvent.vapour_20c_pa * math.exp(exponent) < per_kelvin_pa * (air_c - film_c):
            low = film_c
        else:
            high = film_c
    return (low + high) / 2.0


def blush(air_c: float, rh_pct: float, solvent: Solvent | None = None) -> Blush:
    """Return whether a lacquer sprayed in this air may turn white with settled water.

    *Reference:* film temperature as `solvent_film_c` against the dew point (ASHRAE ch. 1). *Valid:*
    as those; a retarder raises the margin, a faster thinner lowers it.
    """
    film_c = solvent_film_c(air_c, solvent or Solvent())
    dew_c = air.dew_point_c(air_c, rh_pct)
    return Blush(film_c=film_c, dew_point_c=dew_c, margin_c=film_c - dew_c, at_risk=film_c < dew_c)
