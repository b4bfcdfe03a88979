"""How fast a film dries and cures: a data sheet's hours, carried to another climate and film.

Drying (liquid leaving) and curing (coalescence, crosslinking, oxidation) run one after the other:
the liquid must go before what is left counts as curing. At the sheet's own climate and film every
rate is exactly 1, so the sheet's hours come out as printed. `drying_climate` runs the rates over
recorded readings, `drying_clock` answers when a coat is ready.
"""

import math
from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType
from typing import Final, Literal, TypeAlias, get_args

import msgspec
import numpy as np

from coatledger.computations import air
from coatledger.computations.air_saturation import KELVIN, Floats
from coatledger.computations.practice import (
    DECOR_BEFORE_SHIPPING_H,
    LACQUER_RECOAT_H,
    NIGHT_BEFORE_PACKING_H,
    OIL_BASED_RECOAT_H,
    WATER_BORNE_RECOAT_H,
)
from coatledger.computations.ranges import OutOfRange, require, require_all

Kind: TypeAlias = Literal["water_borne", "lacquer", "oil_based"]
# `sandable` is also when the next coat may go on, `wrap_safe` when it may be packed.
Stage: TypeAlias = Literal["touch_dry", "tack_free", "sandable", "stackable", "wrap_safe", "cured"]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)

SHEET: Final = "the data sheet"
MODEL: Final = "the drying model, as checked,"
GAS_CONSTANT_J_MOL_K: Final = 8.314462618  # CODATA 2018, exact
# Between two stages, how much of the sheet's time is liquid leaving; the rest is curing. Common
# practice, no published source: a water-borne film is dry long before it is hard, a lacquer only
# ever dries, an oil takes up oxygen once its little solvent is gone.
_LEAVING: Final[Mapping[Kind, tuple[float, ...]]] = MappingProxyType(
    {
        "water_borne": (1.0, 0.75, 0.5, 0.25, 0.0, 0.0),
        "lacquer": (1.0, 1.0, 1.0, 1.0, 1.0, 1.0),
        "oil_based": (0.25, 0.0, 0.0, 0.0, 0.0, 0.0),
    }
)
# Hours at the sheet's climate for stages on which a sheet is silent: common practice, no published
# source. They are scaled to what the sheet does say, and an answer built on them is marked.
_PRACTICE_HOURS: Final[Mapping[Kind, tuple[float, ...]]] = MappingProxyType(
    {
        "water_borne": (
            0.5, 1.0, WATER_BORNE_RECOAT_H, NIGHT_BEFORE_PACKING_H, DECOR_BEFORE_SHIPPING_H, 168.0,
        ),
        "lacquer": (0.25, 0.5, LACQUER_RECOAT_H, 8.0, DECOR_BEFORE_SHIPPING_H, 168.0),
        "oil_based": (4.0, 8.0, OIL_BASED_RECOAT_H, 48.0, 72.0, 720.0),
    }
)  # fmt: skip
# Heat of evaporation of a lacquer's slow solvents and of mineral spirits, about that of butyl
# acetate and of decane (from memory): by Clausius and Clapeyron it steers their vapour pressure.
_SOLVENT_KJ_MOL: Final[Mapping[Kind, float]] = MappingProxyType(
    {"water_borne": 0.0, "lacquer": 44.0, "oil_based": 50.0}
)

Z_90: Final = 1.2815515655446004  # standard normal 90 % point
# How unlike one product is in one shop to its sheet, and one coat to the next: priors, no
# published source; checks replace the first.
PRODUCT_LOG_SD: Final = 0.35
COAT_LOG_SD: Final = 0.14


class Sheet(msgspec.Struct, frozen=True, kw_only=True):
    """What a product's data sheet says about drying, at its reference climate and wet film.

    `extender_slowing_per_pct` is how much longer the liquid takes for each percent of extender;
    `crosslinked_cure_factor` what a crosslinker makes of the curing hours. Their defaults are
    common practice, no published source.
    """

    kind: Kind
    reference_air_c: float
    reference_rh_pct: float
    reference_wet_film_um: float
    stage_hours: Mapping[Stage, float]
    recoat_window_h: float | None = None
    crosslinked_recoat_window_h: float | None = None
    mfft_c: float | None = None
    cure_activation_kj_mol: float = 60.0
    burns_in: bool = False
    extender_slowing_per_pct: float = 0.04
    crosslinked_cure_factor: float = 1.0


class Spread(msgspec.Struct, frozen=True):
    """The factor on the sheet's hours in this shop: 10, 50 and 90 % points."""

    p10: float
    p50: float
    p90: float


class StageHours(msgspec.Struct, frozen=True):
    """Hours to each stage at the reference, and which of them the sheet itself does not say."""

    hours: tuple[float, ...]
    assumed: tuple[bool, ...]


class Budget(msgspec.Struct, frozen=True):
    """Reference hours a film must work off up to each stage.

    `leaving_first` grows with the film, `leaving_late` with its square, `curing` with the film for
    an oil and not at all otherwise.
    """

    leaving_first: float
    leaving_late: tuple[float, ...]
    curing: tuple[float, ...]


def spread(median: float = 1.0, log_sd: float = math.hypot(PRODUCT_LOG_SD, COAT_LOG_SD)) -> Spread:
    """Return a lognormal factor's 10, 50 and 90 % points; the default is a shop without checks."""
    require("factor", median, 0.01, 100.0, "the clock's factor")
    require("log standard deviation", log_sd, 0.0, 3.0, "the clock's factor")
    width = math.exp(Z_90 * log_sd)
    return Spread(median / width, median, median * width)


def stage_hours(sheet: Sheet) -> StageHours:
    """Return hours to every stage, filling the sheet's silences from scaled common practice.

    *Reference:* the data sheet; common practice, no published source, where it is silent. *Valid:*
    hours that do not fall from stage to stage.
    """
    practice = _PRACTICE_HOURS[sheet.kind]
    given = [sheet.stage_hours.get(stage) for stage in STAGES]
    known = [index for index, hours in enumerate(given) if hours is not None]
    filled: list[float] = []
    for index, hours in enumerate(given):
        soonest = filled[-1] if filled else 0.0
        if hours is None:
            later = [given[other] for other in known if other > index]
            latest = later[0] if later and later[0] is not None else math.inf
            near = min(known, key=lambda other: abs(other - index), default=None)
            near_hours = given[near] if near is not None else None
            scale = near_hours / practice[near] if near is not None and near_hours else 1.0
            hours = max(min(practice[index] * scale, latest), soonest)
        else:
            require(f"hours to {STAGES[index]}", hours, max(soonest, 1e-3), 20_000.0, SHEET)
        filled.append(hours)
    return StageHours(tuple(filled), tuple(hours is None for hours in given))


def budget(sheet: Sheet) -> Budget:
    """Split the sheet's hours into liquid leaving and curing; their sum is the sheet's hours.

    *Reference:* constant rate first, ~1/film, then limited by diffusion, ~1/film^2 (Kiil, Prog.
    Org. Coat. 57 (2006) 236); the shares are common practice, no published source.
    """
    hours = stage_hours(sheet).hours
    steps = (hours[0], *(after - before for before, after in pairwise(hours)))
    shares = _LEAVING[sheet.kind]
    late, curing = [0.0], [steps[0] * (1.0 - shares[0])]
    for step, share in zip(steps[1:], shares[1:], strict=True):
        late.append(late[-1] + step * share)
        curing.append(curing[-1] + step * (1.0 - share))
    return Budget(steps[0] * shares[0], tuple(late), tuple(curing))


def leaving_rate(
    sheet: Sheet, air_c: float, rh_pct: float, wet_film_um: float | None = None
) -> float:
    """Return how fast liquid leaves against the sheet's climate (and film, when one is given).

    *Reference:* water: proportional to wet-bulb depression and to 1/film (Dalton; Keddie & Routh
    2010 ch. 3, film at its wet bulb); solvent: proportional to its vapour pressure (Clausius and
    Clapeyron). *Valid:* -20 to 60 C, the same air movement; exactly 1 at the reference. Where
    the wet bulb falls below 0 C it steps by a few percent, for the film would freeze.
    """
    rates = leaving_rates(sheet, np.array([air_c]), np.array([rh_pct]))
    film_um = sheet.reference_wet_film_um if wet_film_um is None else wet_film_um
    require("wet film (um)", film_um, 1.0, 2000.0, MODEL)
    return float(rates[0]) * (sheet.reference_wet_film_um / film_um)


def cure_rate(sheet: Sheet, air_c: float) -> float:
    """Return how fast a film cures against the sheet's temperature.

    *Reference:* Arrhenius, exp(-E/R (1/T - 1/T_ref)); 50 to 80 kJ/mol, 52.9 doubles it every 10 C
    near 30 C. *Valid:* -20 to 60 C; exactly 1 at the reference.
    """
    require("temperature (C)", air_c, -20.0, 60.0, MODEL)
    return arrhenius(sheet.cure_activation_kj_mol, sheet.reference_air_c, air_c)


def arrhenius(activation_kj_mol: float, from_c: float, to_c: float) -> float:
    """Return the ratio of a reaction's rates at two temperatures.

    *Reference:* Arrhenius 1889; R of CODATA 2018. *Valid:* 0 to 200 kJ/mol, -100 to 200 C.

    >>> round(arrhenius(60.0, 20.0, 30.0), 6)
    2.252465
    """
    require("activation energy (kJ/mol)", activation_kj_mol, 0.0, 200.0, MODEL)
    require("temperature (C)", from_c, -100.0, 200.0, MODEL)
    require("temperature (C)", to_c, -100.0, 200.0, MODEL)
    inverse = 1.0 / (to_c + KELVIN) - 1.0 / (from_c + KELVIN)
    return math.exp(-activation_kj_mol * 1000.0 / GAS_CONSTANT_J_MOL_K * inverse)


def leaving_rates(
    sheet: Sheet, air_c: Floats, rh_pct: Floats, depression_c: Floats | None = None
) -> Floats:
    """Return `leaving_rate` of many readings; wet-bulb depressions are taken when known already."""
    if sheet.kind != "water_borne":
        return _arrhenius_many(_SOLVENT_KJ_MOL[sheet.kind], sheet.reference_air_c, air_c)
    require("reference humidity (%)", sheet.reference_rh_pct, 1.0, 95.0, SHEET)
    if depression_c is None:
        depression_c = air.wet_bulb_depressions_c(air_c, rh_pct)
    reference_c = air.wet_bulb_depression_c(sheet.reference_air_c, sheet.reference_rh_pct)
    rates = depression_c / reference_c
    # The last bit of two ways to compute one number must not move a printed hour.
    rates[(air_c == sheet.reference_air_c) & (rh_pct == sheet.reference_rh_pct)] = 1.0
    return rates


def cure_rates(sheet: Sheet, air_c: Floats) -> Floats:
    """Return `cure_rate` of many readings."""
    return _arrhenius_many(sheet.cure_activation_kj_mol, sheet.reference_air_c, air_c)


def film_wet_c(air_c: float, rh_pct: float) -> float:
    """Return the temperature of a wet water-borne film, the coldest it can be: the wet bulb.

    *Reference:* evaporative cooling towards the wet bulb, the conservative rule against a minimum
    film-formation temperature (ASTM D2354, ISO 2115). *Valid:* as `air.wet_bulb_c`.
    """
    return air.wet_bulb_c(air_c, rh_pct)


def film_can_form(sheet: Sheet, air_c: float, rh_pct: float) -> bool:
    """Say whether a water-borne film drying in this air stays above its film-formation limit."""
    if sheet.kind != "water_borne" or sheet.mfft_c is None:
        return True
    return film_wet_c(air_c, rh_pct) >= sheet.mfft_c


def recoat_window_hours(sheet: Sheet, *, crosslinked: bool = False) -> float | None:
    """Return the sheet's longest wait before a coat must be abraded; none for burn-in lacquers.

    *Reference:* the data sheet; a lacquer that burns in dissolves the coat below, at any age.
    """
    if sheet.burns_in:
        return None
    if crosslinked and sheet.crosslinked_recoat_window_h is not None:
        return sheet.crosslinked_recoat_window_h
    return sheet.recoat_window_h


def _arrhenius_many(activation_kj_mol: float, from_c: float, air_c: Floats) -> Floats:
    require("activation energy (kJ/mol)", activation_kj_mol, 0.0, 200.0, SHEET)
    require_all("temperature (C)", air_c, -20.0, 60.0, MODEL)
    if not -20.0 <= from_c <= 60.0:
        raise OutOfRange("reference temperature (C)", from_c, -20.0, 60.0, SHEET)
    inverse = 1.0 / (air_c + KELVIN) - 1.0 / (from_c + KELVIN)
    rates: Floats = np.exp(-activation_kj_mol * 1000.0 / GAS_CONSTANT_J_MOL_K * inverse)
    return rates
