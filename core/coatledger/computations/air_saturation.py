"""The saturation curve of water: ASHRAE's equations 5 and 6, for one temperature and for many."""

import math
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

Floats: TypeAlias = npt.NDArray[np.float64]

KELVIN: Final = 273.15
TRIPLE_POINT_C: Final = 0.01
# ASHRAE eq. 5 (over ice): C1/T + C2 + C3 T + C4 T^2 + C5 T^3 + C6 T^4 + C7 ln T, T in kelvin.
ICE: Final = (
    -5.6745359e3,
    6.3925247,
    -9.677843e-3,
    6.2215701e-7,
    2.0747825e-9,
    -9.484024e-13,
    4.1635019,
)
# ASHRAE eq. 6 (over water): C8/T + C9 + C10 T + C11 T^2 + C12 T^3 + C13 ln T; no T^4 term.
WATER: Final = (
    -5.8002206e3,
    1.3914993,
    -4.8640239e-2,
    4.1764768e-5,
    -1.4452093e-8,
    0.0,
    6.5459673,
)


def coefficients_at(air_c: float) -> tuple[float, ...]:
    """Return which equation holds: over ice up to the triple point, over water above."""
    return ICE if air_c <= TRIPLE_POINT_C else WATER


def log_pressure(kelvin: float, c: tuple[float, ...]) -> float:
    """Return ln p_ws, p_ws in pascal.

    *Reference:* ASHRAE Fundamentals 2017 ch. 1 eqs 5 and 6. *Valid:* -100 to 200 C, by the caller.
    """
    powers = c[1] + kelvin * (c[2] + kelvin * (c[3] + kelvin * (c[4] + kelvin * c[5])))
    return c[0] / kelvin + powers + c[6] * math.log(kelvin)


def log_slope(kelvin: float, c: tuple[float, ...]) -> float:
    """Return d(ln p_ws)/dT per kelvin: the derivative of `log_pressure`."""
    powers = c[2] + kelvin * (2.0 * c[3] + kelvin * (3.0 * c[4] + kelvin * 4.0 * c[5]))
    return powers - c[0] / kelvin**2 + c[6] / kelvin


def log_pressures(kelvin: Floats) -> Floats:
    """Return ln p_ws of many temperatures; as `log_pressure`."""
    log_kelvin = np.log(kelvin)
    result = _polynomials(kelvin, log_kelvin, WATER)
    cold = np.flatnonzero(kelvin <= TRIPLE_POINT_C + KELVIN)
    if cold.size:
        result[cold] = _polynomials(kelvin[cold], log_kelvin[cold], ICE)
    return result


def log_slopes(kelvin: Floats) -> Floats:
    """Return d(ln p_ws)/dT over water, which also steers Newton's method well enough over ice."""
    powers = WATER[2] + kelvin * (2.0 * WATER[3] + kelvin * 3.0 * WATER[4])
    return powers + (WATER[6] - WATER[0] / kelvin) / kelvin


def _polynomials(kelvin: Floats, log_kelvin: Floats, c: tuple[float, ...]) -> Floats:
    powers = c[1] + kelvin * (c[2] + kelvin * (c[3] + kelvin * (c[4] + kelvin * c[5])))
    return c[0] / kelvin + powers + c[6] * log_kelvin
