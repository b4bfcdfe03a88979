"""How much reducer brings a finish to a viscosity, and what the data sheet's limit leaves of that.

An estimate to start a trial pot with, not a recipe: add the low figure, stir, measure again.
"""

from __future__ import annotations

import math

from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.computations.viscosity import Range

REDUCER_MM2_S = 1.0  # water at 20 °C is 1.00 mm²/s (IAPWS); thinners lie between 0.5 and 2
MODEL = "log-linear blending of finish and reducer by volume (Arrhenius 1887)"

# How many times stronger than ideal blending a reducer works. Six cup readings of one water-borne
# paint with 10 % water (a public forum thread of 2015) give 1.1 to 1.35; the rest of the range is
# common practice, no published source.
STRENGTH = Range(1.0, 1.25, 2.0)


class Thinning(Struct, frozen=True):
    """Reducer to reach a target, by volume of the finish, and what the sheet's limit makes of it.

    `allowed_pct` is the likely figure cut at the limit; `reached_mm2_s` is what it brings.
    `within_limit` is None when the sheet gives no limit: then ask the maker, do not guess.
    """

    reducer_pct: Range
    allowed_pct: float
    reached_mm2_s: Range
    within_limit: bool | None
    advice: str


def thinned_mm2_s(
    viscosity_mm2_s: float,
    reducer_pct: float,
    strength: Range = STRENGTH,
    reducer_mm2_s: float = REDUCER_MM2_S,
) -> Range:
    """Viscosity after adding reducer (per cent by volume of the finish).

    *Reference:* ln v = ln v0 - s x (ln v0 - ln vr), x the reducer's share of the mix: Arrhenius
    (1887), from memory, times a strength s. *Valid:* 0 to 100 % reducer, v0 above the reducer's.
    """
    _check(viscosity_mm2_s, reducer_mm2_s)
    require("reducer_pct", reducer_pct, 0, 100, MODEL)
    share = reducer_pct / (100 + reducer_pct)
    fall = share * math.log(viscosity_mm2_s / reducer_mm2_s)

    def left(by: float) -> float:
        require("strength", by, 0.2, 5, MODEL)
        return viscosity_mm2_s * math.exp(-by * fall)

    return Range(left(strength.high), left(strength.likely), left(strength.low))


def strength_seen(
    before_mm2_s: float,
    after_mm2_s: float,
    reducer_pct: float,
    reducer_mm2_s: float = REDUCER_MM2_S,
) -> float:
    """How strongly this reducer worked on this finish, from one trial: `thinned_mm2_s` inverted."""
    _check(before_mm2_s, reducer_mm2_s)
    require("after_mm2_s", after_mm2_s, reducer_mm2_s, before_mm2_s, "a reducer only thins")
    require("reducer_pct", reducer_pct, 0.5, 100, MODEL)
    share = reducer_pct / (100 + reducer_pct)
    return math.log(before_mm2_s / after_mm2_s) / (share * math.log(before_mm2_s / reducer_mm2_s))


def thinning_to(
    measured_mm2_s: float,
    target_mm2_s: float,
    limit_pct: float | None,
    strength: Range = STRENGTH,
    reducer_mm2_s: float = REDUCER_MM2_S,
) -> Thinning:
    """Reducer needed to bring a measured viscosity to a target, held against the sheet's limit.

    *Reference:* `thinned_mm2_s`; the limit is the data sheet's and is never exceeded.
    *Valid:* a target below the reading; reducer cannot thicken.
    """
    _check(measured_mm2_s, reducer_mm2_s)
    require(
        "target_mm2_s", target_mm2_s, reducer_mm2_s, measured_mm2_s, "thinning only: above the "
        "reducer's own viscosity, not above the reading"
    )  # fmt: skip
    if limit_pct is not None:
        require("limit_pct", limit_pct, 0, 100, "the data sheet's thinning limit")
    ratio = math.log(measured_mm2_s / target_mm2_s) / math.log(measured_mm2_s / reducer_mm2_s)

    def needed(by: float) -> float:
        require("strength", by, 0.2, 5, MODEL)
        share = require("reducer's share of the mix", ratio / by, 0, 0.9, MODEL)
        return 100 * share / (1 - share)

    wanted = Range(needed(strength.high), needed(strength.likely), needed(strength.low))
    if limit_pct is None:
        allowed = require("reducer_pct needed", wanted.likely, 0, 100, MODEL)
    else:
        allowed = min(wanted.likely, limit_pct)
    within = None if limit_pct is None else wanted.likely <= limit_pct
    reached = thinned_mm2_s(measured_mm2_s, allowed, strength, reducer_mm2_s)
    return Thinning(wanted, allowed, reached, within, _advice(within))


def _advice(within_limit: bool | None) -> str:
    if within_limit is None:
        return "The sheet gives no thinning limit: ask the maker before adding any reducer."
    if within_limit:
        return "Add the low figure first, stir, let the foam rise, and measure again."
    return "The sheet's limit stops short of this target: warm the finish or take a larger nozzle."


def _check(viscosity_mm2_s: float, reducer_mm2_s: float) -> None:
    require("reducer_mm2_s", reducer_mm2_s, 0.3, 5, "a volatile reducer")
    require("viscosity_mm2_s", viscosity_mm2_s, 2 * reducer_mm2_s, 1e4, MODEL)
