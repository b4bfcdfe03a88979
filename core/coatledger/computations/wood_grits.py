"""Grains of coated abrasives by P grade, so that grades are compared by size, not by number."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from coatledger.computations.ranges import OutOfRange

# Median grain size in micrometres: FEPA 43-1 and 43-2, ISO 6344-2 and -3. P12 to P120, P220 and
# P2500 confirmed in text, the others from memory. American (CAMI) numbers part above 220.
GRAIN_UM: Final[Mapping[int, float]] = MappingProxyType(
    {
        12: 1815.0,
        16: 1324.0,
        20: 1000.0,
        24: 764.0,
        30: 642.0,
        36: 538.0,
        40: 425.0,
        50: 336.0,
        60: 269.0,
        80: 201.0,
        100: 162.0,
        120: 125.0,
        150: 100.0,
        180: 82.0,
        220: 68.0,
        240: 58.5,
        280: 52.2,
        320: 46.2,
        360: 40.5,
        400: 35.0,
        500: 30.2,
        600: 25.8,
        800: 21.8,
        1000: 18.3,
        1200: 15.3,
        1500: 12.6,
        2000: 10.3,
        2500: 8.4,
    }
)


def grain_um(grit_p: int) -> float:
    """Return a P grade's median grain size.

    *Reference:* ISO 6344-2 and -3 (FEPA 43-1, 43-2). *Valid:* the grades of the standard, P12 to
    P2500; a number that is no grade is refused.
    """
    size = GRAIN_UM.get(grit_p)
    if size is None:
        raise OutOfRange("grit (P)", grit_p, 12, 2500, "ISO 6344, whose grades are fixed,")
    return size


def grades_skipped(from_p: int, to_p: int) -> int:
    """Return how many grades lie between two, going finer; 0 for neighbours and going coarser.

    *Reference:* the order of ISO 6344's grades. *Valid:* as `grain_um`.
    """
    grain_um(from_p), grain_um(to_p)
    return sum(1 for grade in GRAIN_UM if from_p < grade < to_p)
