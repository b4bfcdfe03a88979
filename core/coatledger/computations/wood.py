"""Wood and water: the moisture content air drives wood towards, and what moving a piece means.

Also its density. Species stand in `wood_species`, abrasive grains in `wood_grits`.
"""

from typing import Final, Literal

import msgspec

from coatledger.computations.ranges import OutOfRange, require
from coatledger.computations.wood_species import Species

HANDBOOK: Final = "USDA Wood Handbook GTR-282, ch. 4"
FIBRE_SATURATION_PCT: Final = 30.0
# Equation 4-5's W, K, K1, K2, each a + b T + c T^2, for Celsius and for Fahrenheit degrees.
COEFFICIENTS_C: Final = (
    (349.0, 1.29, 0.0135),
    (0.805, 0.000736, -0.00000273),
    (6.27, -0.00938, -0.000303),
    (1.91, 0.0407, -0.000293),
)
COEFFICIENTS_F: Final = (
    (330.0, 0.452, 0.00415),
    (0.791, 0.000463, -0.000000844),
    (6.34, 0.000775, -0.0000935),
    (1.09, 0.0284, -0.0000904),
)
_HALVINGS: Final = 60


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """What another room's air will do to a piece, given time to come to balance."""

    emc_pct: float
    change_pct: float
    direction: Literal["dries", "stays", "takes_water"]
    within_furniture_range: bool


def emc_pct(air_c: float, rh_pct: float) -> float:
    """Return the moisture content wood comes to in this air, in % of ovendry mass.

    *Reference:* USDA Wood Handbook (GTR-282, 2021) ch. 4 eq. 4-5, Celsius coefficients. *Valid:*
    table 4-2 prints -1.1 to 132 C and 5 to 95 %, the equation is carried on to -20 C and to 0 and
    100 %. Species differ: a tenth of a percent is not meaningful.
    """
    require("temperature (C)", air_c, -20.0, 132.3, HANDBOOK)
    return _equation(air_c, rh_pct, COEFFICIENTS_C)


def emc_fahrenheit_pct(air_f: float, rh_pct: float) -> float:
    """Return the same from the printed Fahrenheit coefficients, which differ by up to 0.013 points.

    *Reference:* as `emc_pct`, Fahrenheit coefficients. *Valid:* -4 to 270 F.
    """
    require("temperature (F)", air_f, -4.0, 270.2, HANDBOOK)
    return _equation(air_f, rh_pct, COEFFICIENTS_F)


def rh_for_emc_pct(air_c: float, wanted_emc_pct: float) -> float:
    """Return the relative humidity that keeps wood at this moisture content.

    *Reference:* eq. 4-5 inverted by halving, for it rises with humidity. *Valid:* as `emc_pct`, and
    moisture contents that air of 0 to 100 % reaches.
    """
    require("moisture content (%)", wanted_emc_pct, 0.0, emc_pct(air_c, 100.0), HANDBOOK)
    low, high = 0.0, 100.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if emc_pct(air_c, middle) < wanted_emc_pct:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def moisture_content_pct(wet_g: float, ovendry_g: float) -> float:
    """Return moisture content from two weighings, in % of ovendry mass.

    *Reference:* USDA Wood Handbook ch. 4 eq. 4-2. *Valid:* the wet mass is not below the dry one.
    """
    require("ovendry mass (g)", ovendry_g, 1e-6, 1e9, HANDBOOK)
    require("wet mass (g)", wet_g, ovendry_g, 1e9, HANDBOOK)
    return (wet_g - ovendry_g) / ovendry_g * 100.0


def moved(moisture_pct: float, air_c: float, rh_pct: float, *, still_pct: float = 1.0) -> Move:
    """Return where a piece of this moisture content goes in another room's air.

    *Reference:* eq. 4-5 for the balance; furniture, cabinetry and millwork lumber 6 to 8 % (Wood
    Handbook ch. 13). A change within `still_pct` counts as none: common practice, no published
    source. *Valid:* as `emc_pct`; says where, not how soon.
    """
    require("moisture content (%)", moisture_pct, 0.0, 200.0, HANDBOOK)
    balance_pct = emc_pct(air_c, rh_pct)
    change_pct = balance_pct - moisture_pct
    direction: Literal["dries", "stays", "takes_water"] = "stays"
    if abs(change_pct) > still_pct:
        direction = "dries" if change_pct < 0.0 else "takes_water"
    return Move(
        emc_pct=balance_pct,
        change_pct=change_pct,
        direction=direction,
        within_furniture_range=6.0 <= balance_pct <= 8.0,
    )


def width_change_mm(
    species: Species,
    width_mm: float,
    from_pct: float,
    to_pct: float,
    cut: Literal["flat_sawn", "quarter_sawn"] = "flat_sawn",
) -> float:
    """Return how much wider (or, negative, narrower) a board becomes.

    *Reference:* USDA Wood Handbook ch. 4 eq. 4-8: shrinkage from green is linear below fibre
    saturation, S (30 - M)/30, tangential for flat-sawn and radial for quarter-sawn boards. *Valid:*
    moisture contents of 0 to 30 %, species whose shrinkage is known; boards between cuts between.
    """
    require("width (mm)", width_mm, 0.0, 1e5, HANDBOOK)
    shrinkage = species.tangential_pct if cut == "flat_sawn" else species.radial_pct
    before, after = (
        1.0 - shrinkage / 100.0 * (30.0 - _below_saturation(pct)) / FIBRE_SATURATION_PCT
        for pct in (from_pct, to_pct)
    )
    return width_mm * (after - before) / before


def density_kg_m3(species: Species, moisture_pct: float) -> float:
    """Return the density of a species at a moisture content.

    *Reference:* 1000 G (1 + M/100), with the specific gravity carried from 12 % to M through the
    basic one, G_M = G_b/(1 - 0.265 G_b (1 - M/30)): USDA Wood Handbook ch. 4 (form from memory,
    exact at 12 %). *Valid:* 0 to 30 %; single boards vary by about 10 %.
    """
    _below_saturation(moisture_pct)
    basic = species.specific_gravity_12 / (1.0 + 0.265 * 0.6 * species.specific_gravity_12)
    dryness = 1.0 - moisture_pct / FIBRE_SATURATION_PCT
    gravity = basic / (1.0 - 0.265 * basic * dryness)
    return 1000.0 * gravity * (1.0 + moisture_pct / 100.0)


def _below_saturation(moisture_pct: float) -> float:
    return require("moisture content (%)", moisture_pct, 0.0, FIBRE_SATURATION_PCT, HANDBOOK)


def _equation(degrees: float, rh_pct: float, table: tuple[tuple[float, ...], ...]) -> float:
    require("relative humidity (%)", rh_pct, 0.0, 100.0, HANDBOOK)
    w, k, k1, k2 = (a + degrees * (b + degrees * c) for a, b, c in table)
    kh = k * rh_pct / 100.0
    if not 0.0 <= kh < 1.0:  # the equation's pole: no air that was let in reaches it
        raise OutOfRange("K h", kh, 0.0, 1.0, HANDBOOK)
    hydrated = k1 * kh + 2.0 * k1 * k2 * kh * kh
    return 1800.0 / w * (kh / (1.0 - kh) + hydrated / (1.0 + k1 * kh + k1 * k2 * kh * kh))
