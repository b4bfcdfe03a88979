"""Sheen: gloss-meter readings against the sheen that was asked.

ISO 2813 says how gloss is measured; which units are called satin is the trade's own habit.
"""

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from msgspec import Struct

from coatledger.computations.practice import PRACTICE
from coatledger.computations.ranges import require

ISO_2813 = "ISO 2813"
LEAST_READINGS = 3
SPREAD_MOST_GU = 5.0  # ISO 2813, from memory: more spread than this asks for more readings

# Gloss units at 60°: common practice, no published source; makers draw the lines elsewhere.
BANDS_GU: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "dead_flat": (0, 10),
        "matte": (10, 25),
        "satin": (25, 45),
        "semi_gloss": (45, 70),
        "gloss": (70, 100),
    }
)


class Sheen(Struct, frozen=True):
    """Mean gloss, the band it falls in, and how it stands to the band that was asked."""

    mean_gu: float
    spread_gu: float
    band: str
    asked: str
    verdict: Literal["as_asked", "duller", "shinier"]
    off_by_gu: float
    notes: tuple[str, ...]


def band_of(gloss_60_gu: float) -> str:
    """The trade's word for a 60° gloss. *Reference:* common practice, no published source."""
    require("gloss_60_gu", gloss_60_gu, 0, 100, f"{ISO_2813}, 60° on a transparent film")
    for name, (_, high) in BANDS_GU.items():
        if gloss_60_gu < high:
            return name
    return "gloss"


def geometry_deg(gloss_60_gu: float) -> int:
    """The angle to measure at: 20° above 70 units at 60°, 85° below 10.

    *Reference:* ISO 2813 (20° for high gloss, 85° for low), from memory.
    """
    require("gloss_60_gu", gloss_60_gu, 0, 100, ISO_2813)
    if gloss_60_gu > 70:
        return 20
    return 85 if gloss_60_gu < 10 else 60


def judge_sheen(readings_gu: Sequence[float], asked: str) -> Sheen:
    """Hold 60° readings against the sheen asked for.

    *Reference:* mean of three readings or more (ISO 2813, from memory); bands common practice.
    *Valid:* one face, along the grain, cured film: a fresh film still changes.
    """
    if asked not in BANDS_GU:
        raise ValueError(f"no sheen is called {asked}; known are {', '.join(BANDS_GU)}")
    if not readings_gu:
        raise ValueError(f"{ISO_2813} judges at least one reading")
    for reading in readings_gu:
        require("readings_gu", reading, 0, 100, f"{ISO_2813}, 60° on a transparent film")
    mean = math.fsum(readings_gu) / len(readings_gu)
    spread = max(readings_gu) - min(readings_gu)
    low, high = BANDS_GU[asked]
    verdict: Literal["as_asked", "duller", "shinier"] = "as_asked"
    if mean < low:
        verdict = "duller"
    elif mean > high:
        verdict = "shinier"
    off = max(low - mean, mean - high, 0.0)
    notes = [f"Bands of sheen are {PRACTICE}."]
    if len(readings_gu) < LEAST_READINGS:
        notes.append(f"Take at least {LEAST_READINGS} readings.")
    if spread > SPREAD_MOST_GU:
        notes.append(f"Readings spread over {spread:g} units: clean the face and take more.")
    return Sheen(mean, spread, band_of(mean), asked, verdict, off, tuple(notes))
