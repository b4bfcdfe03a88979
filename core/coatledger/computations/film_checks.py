"""How many film readings an area asks for, and whether the readings pass: SSPC-PA 2.

Written for steel; on wood the gauge is ultrasonic (ASTM D6132) or a wedge cut (ASTM D4138), so this
is a borrowed yardstick for a shop that wants one, not a rule of the wood trade.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from msgspec import Struct

from coatledger.computations.ranges import require
from coatledger.units import ft2_from_m2

PA2 = "SSPC-PA 2 (2015, rev. 2018)"
SPOTS_PER_AREA = 5
READINGS_PER_SPOT = 3
SPOT_LOW_PCT = 80
SPOT_HIGH_PCT = 120


class Plan(Struct, frozen=True):
    """How many areas to measure, spots in them, and gauge readings at the least."""

    areas: int
    spots: int
    readings: int


class Verdict(Struct, frozen=True):
    """Which areas and which spots (area, spot; counted from 0) lie outside; passed when none."""

    passed: bool
    area_means_um: tuple[float, ...]
    areas_outside: tuple[int, ...]
    spots_outside: tuple[tuple[int, int], ...]


def sampling_plan(area_m2: float) -> Plan:
    """Areas, spots and readings for a coated area.

    *Reference:* SSPC-PA 2: under 300 ft² every 100 ft²; to 1,000 ft² three areas; above, one more
    for each further 1,000 ft² or part. *Valid:* any area above nothing.
    """
    require("area_m2", area_m2, 1e-6, 1e6, PA2)
    area_ft2 = round(ft2_from_m2(area_m2), 6)  # 1,000 ft² given in m² must not become 1,001
    if area_ft2 < 300:
        areas = math.ceil(area_ft2 / 100)
    else:
        areas = 3 + max(0, math.ceil((area_ft2 - 1000) / 1000))
    spots = areas * SPOTS_PER_AREA
    return Plan(areas, spots, spots * READINGS_PER_SPOT)


def judge(areas: Sequence[Sequence[float]], low_um: float, high_um: float) -> Verdict:
    """Judge spot means (each the mean of three readings or more) grouped by area.

    *Reference:* SSPC-PA 2 default acceptance, restriction level 3: every area mean within the
    specified range, every spot within 80 % of its least and 120 % of its most.
    """
    require("low_um", low_um, 0.1, 10_000, PA2)
    require("high_um", high_um, low_um, 10_000, f"{PA2}, not below low_um")
    if not areas or any(not spots for spots in areas):
        raise ValueError(f"{PA2} judges at least one area, each with at least one spot")
    for spots in areas:
        for spot_um in spots:
            require("spot_um", spot_um, 0, 10_000, PA2)
    means = tuple(math.fsum(spots) / len(spots) for spots in areas)
    areas_outside = tuple(
        number for number, mean in enumerate(means) if not low_um <= mean <= high_um
    )
    spots_outside = tuple(
        (number, place)
        for number, spots in enumerate(areas)
        for place, spot_um in enumerate(spots)
        if not _spot_inside(spot_um, low_um, high_um)
    )
    return Verdict(not areas_outside and not spots_outside, means, areas_outside, spots_outside)


def _spot_inside(spot_um: float, low_um: float, high_um: float) -> bool:
    # A spot of exactly 120 % passes: 1.2 x 12 is 14.399... in binary, so both sides are rounded.
    share = round(spot_um * 100, 6)
    return round(SPOT_LOW_PCT * low_um, 6) <= share <= round(SPOT_HIGH_PCT * high_um, 6)
