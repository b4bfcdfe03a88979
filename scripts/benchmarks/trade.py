"""The trade's numbers: how well the clock learns, how quick it is, how near PsychroLib it stays."""

import json
import statistics
import time
from collections.abc import Callable, Sequence
from itertools import product

import numpy as np
import psychrolib
from coatledger.computations import air, drying_clock
from coatledger.computations.drying import Sheet, spread
from coatledger.computations.drying_climate import climate, course
from coatledger.computations.drying_clock import ready_times_us
from learning_world import learn_in_many_shops
from plain_walk import a_years_readings, ten_thousand_coats, walked

RUNS = 7
WALKED = range(0, 10_000, 250)
SHEET = Sheet(
    kind="water_borne",
    reference_air_c=21.0,
    reference_rh_pct=50.0,
    reference_wet_film_um=100.0,
    stage_hours={"touch_dry": 0.5, "sandable": 3.0, "wrap_safe": 24.0, "cured": 168.0},
    mfft_c=10.0,
)
# The same 3,915 states as in tests/core/computations/test_air.py.
GRID = tuple(
    product(
        np.arange(-10.0, 45.1, 1.25), np.arange(2.0, 100.1, 3.5), (101_325.0, 95_460.8, 84_555.9)
    )
)


def main(arguments: Sequence[str]) -> int:
    """Measure and print; `--json` prints one object."""
    learned = learn_in_many_shops()
    quick_ms, plain_ms = clocks()
    found = {
        "coverage_80": round(learned.covered[-1], 4),
        "error_after_20_vs_prior": round(learned.errors[-1] / learned.errors[0], 4),
        "clocks_10k_ms": round(quick_ms, 1),
        "clocks_vs_loop": round(plain_ms / quick_ms, 1),
        "psychrolib_worst": differences(),
    }
    if "--json" in arguments:
        print(json.dumps(found))
    else:
        for name, value in found.items():
            print(f"{name:<26}{value}")
    return 0


def clocks() -> tuple[float, float]:
    """Return milliseconds for 10,000 coats over a year, at once (median) and by the plain walk."""
    rooms, coats, factor = a_years_readings(), ten_thousand_coats(), spread()
    now = int(rooms.times_us[-1])

    def at_once() -> None:
        fresh = climate(rooms.times_us, rooms.air_c, rooms.rh_pct)
        run = course(SHEET, fresh, now)
        drying_clock.void_from_us(SHEET, coats, run, factor)
        ready_times_us(SHEET, coats, run, factor)

    quick = statistics.median(milliseconds(at_once) for _ in range(RUNS))
    plain = milliseconds(lambda: walked(SHEET, coats, rooms, factor, WALKED))
    return quick, plain / len(WALKED) * 10_000


def milliseconds(call: Callable[[], object]) -> float:
    """Time one call."""
    begun = time.perf_counter()
    call()
    return (time.perf_counter() - begun) * 1000


def differences() -> dict[str, float]:
    """Return the worst difference from PsychroLib by quantity; wet bulbs about 0 C where ice and
    water both balance are left out, as the test explains."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    worst: dict[str, float] = {}
    for air_c, rh_pct, pressure in GRID:
        share = rh_pct / 100.0
        ratio = psychrolib.GetHumRatioFromRelHum(air_c, share, pressure)
        bulb = psychrolib.GetTWetBulbFromRelHum(air_c, share, pressure)
        ours = air.wet_bulb_c(air_c, rh_pct, pressure)
        seen = {
            "dew_point_c": air.dew_point_c(air_c, rh_pct)
            - psychrolib.GetTDewPointFromRelHum(air_c, share),
            "humidity_ratio_share": air.humidity_ratio_kg_kg(air_c, rh_pct, pressure) / ratio - 1,
            "wet_bulb_c": 0.0 if ours >= 0.0 > bulb else ours - bulb,
            "density_share": air.density_kg_m3(air_c, rh_pct, pressure)
            / psychrolib.GetMoistAirDensity(air_c, ratio, pressure)
            - 1,
        }
        for name, difference in seen.items():
            worst[name] = max(worst.get(name, 0.0), abs(float(difference)))
    return {name: float(f"{value:.3g}") for name, value in worst.items()}
