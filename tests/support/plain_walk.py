"""The drying clock the plain way, reading by reading: an oracle for tests and measurement."""

import bisect
import math

import numpy as np
from coatledger.computations.drying import Sheet, Spread, budget, cure_rates, leaving_rates
from coatledger.computations.drying_climate import HOUR_US, Climate, climate
from coatledger.computations.drying_clock import Coats

T0 = 1_780_000_000_123_457


def walked(
    sheet: Sheet, coats: Coats, rooms: Climate, factor: Spread, rows: range
) -> list[list[list[float]]]:
    """The plain way, one coat, one stage, one factor at a time: walk the readings and count."""
    times = rooms.times_us.tolist()
    leaving = leaving_rates(sheet, rooms.air_c, rooms.rh_pct, rooms.depression_c).tolist()
    curing = cure_rates(sheet, rooms.air_c).tolist()
    parts = budget(sheet)
    found = []
    for row in rows:
        applied = int(coats.applied_us[row])
        film = (coats.wet_film_um[row] + coats.below_um[row]) / sheet.reference_wet_film_um
        slow = 1.0 + sheet.extender_slowing_per_pct * coats.extender_pct[row]
        wide = 1.2815515655446004 * 0.15 if coats.bare_wood[row] else 0.0
        factors = [
            factor.p50 * math.exp(-math.hypot(math.log(factor.p50 / factor.p10), wide)),
            factor.p50,
            factor.p50 * math.exp(math.hypot(math.log(factor.p90 / factor.p50), wide)),
        ]
        stages = []
        for late, cure in zip(parts.leaving_late, parts.curing, strict=True):
            water_h = (parts.leaving_first * film + late * film * film) * slow
            cure_h = cure * (sheet.crosslinked_cure_factor if coats.crosslinked[row] else 1.0)
            stages.append(
                [walk(times, leaving, curing, applied, water_h * f, cure_h * f) for f in factors]
            )
        found.append(stages)
    return found


def walk(
    times: list[int],
    leaving: list[float],
    curing: list[float],
    applied: int,
    water_h: float,
    cure_h: float,
) -> float:
    """Hours from a coat to its stage."""
    water, cure = water_h * HOUR_US, cure_h * HOUR_US
    reading = max(bisect.bisect_right(times, applied) - 1, 0)
    now = float(applied - times[0])
    while True:
        end = float(times[reading + 1] - times[0]) if reading + 1 < len(times) else math.inf
        if water > 0.0:
            needed = water / leaving[reading] if leaving[reading] > 0.0 else math.inf
            if now + needed > end:
                water -= (end - now) * leaving[reading]
                now, reading = end, reading + 1
                continue
            now, water = now + needed, 0.0
        needed = cure / curing[reading]
        if now + needed > end:
            cure -= (end - now) * curing[reading]
            now, reading = end, reading + 1
            continue
        return (now + needed - (applied - times[0])) / HOUR_US


def a_years_readings() -> Climate:
    """A damp coast's year in ten-minute readings, seeded."""
    count = 52_560
    rng = np.random.default_rng(7)
    days = np.arange(count) / 144.0
    air_c = 17.0 + 4.0 * np.sin(days / 365 * 2 * np.pi) + 2.5 * np.sin(days * 2 * np.pi)
    rh_pct = 62.0 + 12.0 * np.cos(days / 365 * 2 * np.pi) + 6.0 * rng.standard_normal(count)
    return climate(
        T0 + np.arange(count) * 600_000_000,
        air_c + 0.3 * rng.standard_normal(count),
        np.clip(rh_pct, 20.0, 98.0),
    )


def ten_thousand_coats() -> Coats:
    rng = np.random.default_rng(8)
    count = 10_000
    return Coats(
        T0 + rng.integers(0, 52_559 * 600_000_000, count),
        rng.uniform(60.0, 150.0, count),
        rng.choice([0.0, 20.0], count),
        rng.random(count) < 0.3,
        rng.choice([0.0, 5.0], count),
        rng.random(count) < 0.2,
    )
