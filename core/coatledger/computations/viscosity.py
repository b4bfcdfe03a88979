"""Efflux cups, temperature and thinning: what a draining time says about a finish.

A cup's time is turned into kinematic viscosity by its own standard's equation, never cup to cup;
outside a cup's range of times the equation is refused. What a nozzle likes stands in `NOZZLES`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from msgspec import Struct

from coatledger.computations.ranges import OutOfRange, require

GAS_J_MOL_K = 8.314462618
ZERO_C_K = 273.15
PRACTICE = "common practice, no published source"

D1200 = "ASTM D1200"
D4212 = "ASTM D4212, appendix X3 (Patton 1979, p. 82)"
ISO2431 = "ISO 2431"
DIN53211 = "DIN 53211 (withdrawn 1996)"


class Cup(Struct, frozen=True):
    """One cup's equation: `linear` is a(t - b), `hyperbolic` is a t - b/t; t within its seconds."""

    form: Literal["linear", "hyperbolic"]
    a: float
    b: float
    low_s: float
    high_s: float
    at_c: float
    source: str


CUPS: Mapping[str, Cup] = MappingProxyType(
    {
        "ford_1": Cup("linear", 0.49, 35.0, 55, 100, 25, D1200),
        "ford_2": Cup("linear", 1.44, 18.0, 40, 100, 25, D1200),
        "ford_3": Cup("linear", 2.31, 6.58, 20, 100, 25, D1200),
        "ford_4": Cup("linear", 3.85, 4.49, 20, 100, 25, D1200),
        "ford_5": Cup("linear", 12.1, 2.0, 20, 100, 25, D1200),
        "zahn_1": Cup("linear", 1.1, 29, 35, 80, 25, D4212),
        "zahn_2": Cup("linear", 3.5, 14, 20, 80, 25, D4212),
        "zahn_3": Cup("linear", 11.7, 7.5, 20, 80, 25, D4212),
        "zahn_4": Cup("linear", 14.8, 5, 20, 80, 25, D4212),
        "zahn_5": Cup("linear", 23, 0, 20, 80, 25, D4212),
        "shell_1": Cup("linear", 0.226, 13, 20, 80, 25, D4212),
        "shell_2": Cup("linear", 0.576, 5, 20, 80, 25, D4212),
        "shell_2_5": Cup("linear", 0.925, 3, 20, 80, 25, D4212),
        "shell_3": Cup("linear", 1.51, 2, 20, 80, 25, D4212),
        "shell_3_5": Cup("linear", 2.17, 1.5, 20, 80, 25, D4212),
        "shell_4": Cup("linear", 3.45, 1, 20, 80, 25, D4212),
        "shell_5": Cup("linear", 6.5, 1, 20, 80, 25, D4212),
        "shell_6": Cup("linear", 16.2, 0.5, 20, 80, 25, D4212),
        "din_4": Cup("hyperbolic", 4.57, 452, 25, 150, 23, DIN53211),
        "iso_3": Cup("hyperbolic", 0.443, 200, 30, 100, 23, ISO2431),
        "iso_4": Cup("hyperbolic", 1.37, 200, 30, 100, 23, ISO2431),
        "iso_5": Cup("hyperbolic", 3.28, 220, 30, 100, 23, ISO2431),
        "iso_6": Cup("hyperbolic", 6.90, 570, 30, 100, 23, ISO2431),
    }
)

# Two laboratories' Zahn cups of one number may differ by a third (ASTM D4212, 13.1.1).
ZAHN_REPRODUCIBILITY_PCT = 33.0


class Range(Struct, frozen=True):
    """A value with the least and the most it may well be."""

    low: float
    likely: float
    high: float


class Nozzle(Struct, frozen=True):
    """A nozzle and the viscosities it commonly sprays well (common practice)."""

    nozzle_mm: float
    low_mm2_s: float
    high_mm2_s: float
    use: str


# Common practice, no published source: no standard ties a nozzle to a viscosity.
NOZZLES: tuple[Nozzle, ...] = (
    Nozzle(1.0, 10, 45, "stains, toners, shading"),
    Nozzle(1.1, 20, 80, "a thinner finish, against microfoam"),
    Nozzle(1.3, 35, 140, "the general nozzle for clear finishes"),
    Nozzle(1.5, 70, 200, "build coats as they come from the can"),
    Nozzle(1.8, 120, 320, "primers and heavy build"),
    Nozzle(2.0, 180, 450, "fillers, very thick finishes"),
)


def cup_named(cup: str) -> Cup:
    """The cup of a name such as `ford_4`, `zahn_2`, `iso_4`, or a fault that lists the names."""
    known = CUPS.get(cup)
    if known is None:
        raise ValueError(f"no cup is called {cup}; known are {', '.join(CUPS)}")
    return known


def viscosity_mm2_s(cup: str, drain_s: float) -> float:
    """Kinematic viscosity (mm²/s, the same as cSt) from a cup's draining time.

    *Reference:* the equation of the cup's own standard, `CUPS`. *Valid:* the standard's range of
    times, refused outside; Newtonian liquids; certified oils agree within 4 %, Zahn cups of two
    makers only within 33 %.
    """
    known = cup_named(cup)
    require(f"drain_s of {cup}", drain_s, known.low_s, known.high_s, known.source)
    return _equation(known, drain_s)


def drain_s(cup: str, viscosity_mm2_s: float) -> float:
    """Draining time of a cup for a viscosity: the inverse of `viscosity_mm2_s`, same range."""
    known = cup_named(cup)
    low, high = _equation(known, known.low_s), _equation(known, known.high_s)
    require(f"viscosity_mm2_s in {cup}", viscosity_mm2_s, low, high, known.source)
    if known.form == "linear":
        return viscosity_mm2_s / known.a + known.b
    root = math.sqrt(viscosity_mm2_s**2 + 4 * known.a * known.b)
    return (viscosity_mm2_s + root) / (2 * known.a)


def cups_for(viscosity_mm2_s: float) -> tuple[str, ...]:
    """The cups whose range of times takes a viscosity, in the table's order."""
    require("viscosity_mm2_s", viscosity_mm2_s, 0.1, 1e5, "a finish that flows")
    return tuple(
        name
        for name, cup in CUPS.items()
        if _equation(cup, cup.low_s) <= viscosity_mm2_s <= _equation(cup, cup.high_s)
    )


def dynamic_mpa_s(viscosity_mm2_s: float, density_g_per_l: float) -> float:
    """Dynamic viscosity: kinematic viscosity times density (g/cm³). *Reference:* ISO 2431."""
    require("viscosity_mm2_s", viscosity_mm2_s, 0.1, 1e5, "a finish that flows")
    require("density_g_per_l", density_g_per_l, 500, 3000, "density of a liquid finish, ISO 2811")
    return viscosity_mm2_s * density_g_per_l / 1000


def nozzles_for(viscosity_mm2_s: float) -> tuple[Nozzle, ...]:
    """Nozzles that commonly suit a viscosity, the best centred first; none is said, not forced.

    *Reference:* common practice, no published source; the gun's and the finish's sheets come first.
    """
    require("viscosity_mm2_s", viscosity_mm2_s, 0.1, 1e5, "a finish that flows")
    fitting = [n for n in NOZZLES if n.low_mm2_s <= viscosity_mm2_s <= n.high_mm2_s]

    def off_centre(nozzle: Nozzle) -> float:
        return abs(math.log(viscosity_mm2_s**2 / (nozzle.low_mm2_s * nozzle.high_mm2_s)))

    return tuple(sorted(fitting, key=off_centre))


# Slope of ln(viscosity) over 1/T. The least is water's own (from its viscosities at 20 and 25 C,
# IAPWS, from memory); the most is the 10 % a degree that an ASTM notice on its work item WK33642
# names as occurring; the likely one, about 4 % a degree, is common practice, no published source.
ACTIVATION_KJ_MOL = Range(17, 30, 76)
TEMPERATURE_MODEL = "Andrade's equation between two shop temperatures"


def viscosity_at(
    viscosity_mm2_s: float,
    measured_c: float,
    wanted_c: float,
    activation_kj_mol: Range = ACTIVATION_KJ_MOL,
) -> Range:
    """What a viscosity measured at one temperature is at another (20 or 25 °C, say).

    *Reference:* Andrade (1930), ln(v2/v1) = E/R (1/T2 - 1/T1), from memory; the slope is
    `ACTIVATION_KJ_MOL` unless the shop has measured its own. *Valid:* 5 to 40 °C; the further from
    the reading, the wider the answer.
    """
    require("viscosity_mm2_s", viscosity_mm2_s, 0.1, 1e5, "a finish that flows")
    require("measured_c", measured_c, 5, 40, TEMPERATURE_MODEL)
    require("wanted_c", wanted_c, 5, 40, TEMPERATURE_MODEL)
    span = 1 / (wanted_c + ZERO_C_K) - 1 / (measured_c + ZERO_C_K)

    def moved(kj_mol: float) -> float:
        require("activation_kj_mol", kj_mol, 1, 200, TEMPERATURE_MODEL)
        return viscosity_mm2_s * math.exp(kj_mol * 1000 / GAS_J_MOL_K * span)

    ends = moved(activation_kj_mol.low), moved(activation_kj_mol.high)
    return Range(min(ends), moved(activation_kj_mol.likely), max(ends))


def activation_kj_mol(
    first_mm2_s: float, first_c: float, second_mm2_s: float, second_c: float
) -> float:
    """A finish's own temperature slope from two readings of it: `viscosity_at` turned round.

    *Reference:* Andrade (1930). *Valid:* two readings at least 2 °C apart between 5 and 40 °C.
    """
    for name, value in (("first_mm2_s", first_mm2_s), ("second_mm2_s", second_mm2_s)):
        require(name, value, 0.1, 1e5, "a finish that flows")
    require("first_c", first_c, 5, 40, TEMPERATURE_MODEL)
    require("second_c", second_c, 5, 40, TEMPERATURE_MODEL)
    require("degrees apart", abs(second_c - first_c), 2, 35, TEMPERATURE_MODEL)
    span = 1 / (second_c + ZERO_C_K) - 1 / (first_c + ZERO_C_K)
    slope = math.log(second_mm2_s / first_mm2_s) / span * GAS_J_MOL_K / 1000
    if slope <= 0:
        raise OutOfRange("activation_kj_mol", slope, 1, 200, "a liquid that thins when warmed")
    return slope


def _equation(cup: Cup, seconds: float) -> float:
    if cup.form == "linear":
        return cup.a * (seconds - cup.b)
    return cup.a * seconds - cup.b / seconds
