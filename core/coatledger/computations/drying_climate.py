"""A room's recorded climate as the clock needs it: readings, then a forecast, and the gaps between.

A reading holds until the next one. Where there was none for too long, what was held is named as a
gap, so that no answer rests on a climate nobody measured without saying so.
"""

from collections.abc import Sequence
from typing import Final, TypeAlias

import msgspec
import numpy as np
import numpy.typing as npt

from coatledger.computations import air
from coatledger.computations.air_saturation import Floats
from coatledger.computations.drying import Sheet, cure_rates, leaving_rates
from coatledger.computations.ranges import OutOfRange, require

Micros: TypeAlias = npt.NDArray[np.int64]

HOUR_US: Final = 3_600_000_000
NEVER_US: Final = 2**62
GAP_H: Final = 3.0  # the longest silence that is not a gap; common practice, no published source


class Climate(msgspec.Struct, frozen=True, eq=False):
    """Readings of one room (or of the rooms a piece stood in), oldest first, times in UTC.

    Wet-bulb depressions are kept with them: they cost most and serve every product alike.
    """

    times_us: Micros
    air_c: Floats
    rh_pct: Floats
    depression_c: Floats


class Course(msgspec.Struct, frozen=True, eq=False):
    """A product's rates over a climate, with their running sums, so that any coat is a look-up.

    Times count microseconds from `origin_us`; sums are microseconds of the sheet's own climate,
    so that at a rate of 1 they stay whole numbers. Rates hold from their time to the next, the last
    for ever, the first also before. `cold_from` is the next time, from each reading on, at which a
    wet film is below its film-formation limit.
    """

    origin_us: int
    now_us: int
    recorded_from_us: int
    recorded_gaps: tuple[tuple[int, int], ...]
    gap_us: int
    times: Floats
    leaving: Floats
    curing: Floats
    leaving_sum: Floats
    curing_sum: Floats
    cold_from: Floats


def climate(
    times_us: Sequence[int] | Micros,
    air_c: Sequence[float] | Floats,
    rh_pct: Sequence[float] | Floats,
) -> Climate:
    """Return readings as a climate. *Valid:* times that never fall; -20 to 60 C, 0 to 100 %."""
    times = np.asarray(times_us, dtype=np.int64)
    degrees = np.asarray(air_c, dtype=np.float64)
    humidity = np.asarray(rh_pct, dtype=np.float64)
    if not times.shape == degrees.shape == humidity.shape:
        counts = f"{times.size} times, {degrees.size} temperatures, {humidity.size} humidities"
        raise ValueError(f"a climate needs as many of each: {counts}")
    falls = np.flatnonzero(np.diff(times) < 0)
    if falls.size:
        raise OutOfRange(
            "time of a reading (us)",
            float(times[falls[0] + 1]),
            float(times[falls[0]]),
            float(times[-1]),
            "a climate in order of time",
        )
    return Climate(times, degrees, humidity, air.wet_bulb_depressions_c(degrees, humidity))


def spliced(parts: Sequence[tuple[int, Climate]]) -> Climate:
    """Return the climate of a piece that moved: each part from its time on, until the next part.

    A room's last reading before the piece came is taken to hold when it comes in. *Valid:* parts in
    order of time.
    """
    starts = [start for start, _ in parts]
    pieces: list[tuple[Micros, Floats, Floats, Floats]] = []
    for (start, room), end in zip(parts, [*starts[1:], np.iinfo(np.int64).max], strict=True):
        first = int(np.searchsorted(room.times_us, start, side="right")) - 1
        last = int(np.searchsorted(room.times_us, end, side="left"))
        held = slice(max(first, 0), last)
        times = np.maximum(room.times_us[held], start)
        pieces.append((times, room.air_c[held], room.rh_pct[held], room.depression_c[held]))
    columns = [np.concatenate(column) for column in zip(*pieces, strict=True)]
    return Climate(*columns)


def course(
    sheet: Sheet,
    readings: Climate,
    now_us: int,
    *,
    forecast: Climate | None = None,
    gap_h: float = GAP_H,
) -> Course:
    """Run a product's rates over what was recorded up to now, then over a forecast.

    Without a forecast the last reading holds; without any reading the sheet's own climate is taken,
    and all of it is a gap. *Reference:* `leaving_rates`, `cure_rates`, held between readings.
    """
    require("longest silence (h)", gap_h, 0.01, 1000.0, "a gap")
    past = int(np.searchsorted(readings.times_us, now_us, side="right"))
    recorded = readings.times_us[:past]
    joined = _joined(sheet, readings, past, forecast, now_us)
    leaving = leaving_rates(sheet, joined.air_c, joined.rh_pct, joined.depression_c)
    curing = cure_rates(sheet, joined.air_c)
    origin_us = int(joined.times_us[0])
    times = (joined.times_us - origin_us).astype(np.float64)
    steps = np.diff(times)
    gap_us = round(gap_h * HOUR_US)
    return Course(
        origin_us=origin_us,
        now_us=now_us,
        recorded_from_us=int(recorded[0]) if past else now_us,
        recorded_gaps=_gaps(recorded, now_us, gap_us),
        gap_us=gap_us,
        times=times,
        leaving=leaving,
        curing=curing,
        leaving_sum=_running(leaving, steps),
        curing_sum=_running(curing, steps),
        cold_from=_cold_from(sheet, joined, times),
    )


def gaps(run: Course, from_us: int, to_us: int) -> tuple[tuple[int, int], ...]:
    """Return every silence within an interval: climate that was held, not measured.

    The future is a forecast and not a gap; the time before the first reading is one.
    """
    before = min(run.recorded_from_us, to_us)
    lead = ((from_us, before),) if before - from_us > run.gap_us else ()
    inside = tuple(
        (max(start, from_us), min(stop, to_us))
        for start, stop in run.recorded_gaps
        if start < to_us and stop > from_us
    )
    return lead + inside


def segment_at(run: Course, time: Floats) -> npt.NDArray[np.intp]:
    """Return which reading holds at each time of a course."""
    return np.maximum(np.searchsorted(run.times, time, side="right") - 1, 0)


def sum_at(run: Course, sums: Floats, rates: Floats, time: Floats) -> Floats:
    """Return a running sum at any time of a course."""
    held = segment_at(run, time)
    return sums[held] + (time - run.times[held]) * rates[held]


def time_at(run: Course, sums: Floats, rates: Floats, target: Floats) -> Floats:
    """Return the first time a running sum reaches its target, infinite when it never does."""
    held = np.maximum(np.searchsorted(sums, target, side="left") - 1, 0)
    rate, missing = rates[held], target - sums[held]
    with np.errstate(divide="ignore", invalid="ignore"):
        needed = missing / rate
    return run.times[held] + np.where(rate > 0.0, needed, np.where(missing > 0.0, np.inf, 0.0))


def micros_at(run: Course, time: Floats) -> Micros:
    """Return a course's times as microseconds in UTC, `NEVER_US` where they are infinite."""
    known = time < NEVER_US / 4
    whole = np.rint(np.where(known, time, 0.0)).astype(np.int64) + run.origin_us
    return np.where(known, whole, NEVER_US)


def _joined(
    sheet: Sheet, readings: Climate, past: int, forecast: Climate | None, now_us: int
) -> Climate:
    parts = [
        (readings.times_us[:past], readings.air_c[:past], readings.rh_pct[:past],
         readings.depression_c[:past]),
    ]  # fmt: skip
    if forecast is not None:
        ahead = int(np.searchsorted(forecast.times_us, now_us, side="right"))
        held = slice(max(ahead - 1, 0), None)
        parts.append(
            (np.maximum(forecast.times_us[held], now_us), forecast.air_c[held],
             forecast.rh_pct[held], forecast.depression_c[held]),
        )  # fmt: skip
    joined = Climate(*(np.concatenate(column) for column in zip(*parts, strict=True)))
    if joined.times_us.size:
        return joined
    return climate([now_us], [sheet.reference_air_c], [sheet.reference_rh_pct])


def _running(rates: Floats, steps: Floats) -> Floats:
    sums = np.zeros_like(rates)
    np.cumsum(rates[:-1] * steps, out=sums[1:])
    return sums


def _cold_from(sheet: Sheet, joined: Climate, times: Floats) -> Floats:
    if sheet.kind != "water_borne" or sheet.mfft_c is None:
        return np.full_like(times, np.inf)
    cold = joined.air_c - joined.depression_c < sheet.mfft_c
    starts = np.where(cold, times, np.inf)
    if cold[0]:
        starts[0] = -np.inf
    return np.minimum.accumulate(starts[::-1])[::-1]


def _gaps(recorded: Micros, now_us: int, gap_us: int) -> tuple[tuple[int, int], ...]:
    edges = np.append(recorded, now_us)
    wide = np.flatnonzero(np.diff(edges) > gap_us)
    return tuple((int(edges[index]), int(edges[index + 1])) for index in wide)
