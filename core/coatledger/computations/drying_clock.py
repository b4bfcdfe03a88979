"""When a coat is ready for what, and how sure: the film's budgets worked off along a climate.

One coat or ten thousand: every answer is a look-up in a course's running sums. Times are integer
microseconds in UTC; `NEVER_US` says that the climate, as it stands, never brings it there.
"""

import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Final

import msgspec
import numpy as np
import numpy.typing as npt

from coatledger.computations.air_saturation import Floats
from coatledger.computations.drying import (
    STAGES,
    Z_90,
    Sheet,
    Spread,
    Stage,
    budget,
    recoat_window_hours,
    stage_hours,
)
from coatledger.computations.drying_climate import (
    HOUR_US,
    NEVER_US,
    Course,
    Micros,
    gaps,
    micros_at,
    segment_at,
    sum_at,
    time_at,
)
from coatledger.computations.ranges import require, require_all

# Bare wood drinks some of the water, and no sheet says how much: common practice, no published
# source.
BARE_WOOD_LOG_SD: Final = 0.15
# Particles touch near 74 % polymer (Kiil 2006), after some eight tenths of the water has gone. From
# half on, a film below its limit is taken for void.
FORMING_FROM: Final = 0.5


class Coats(msgspec.Struct, frozen=True, eq=False):
    """Wet coats, one a row. `below_um` is what is still wet in the coats underneath."""

    applied_us: Micros
    wet_film_um: Floats
    below_um: Floats
    bare_wood: npt.NDArray[np.bool_]
    extender_pct: Floats
    crosslinked: npt.NDArray[np.bool_]


class StageClock(msgspec.Struct, frozen=True, kw_only=True):
    """When one stage is reached; `assumed` when the sheet is silent and common practice speaks."""

    p10_us: int | None
    p50_us: int | None
    p90_us: int | None
    assumed: bool


class RecoatWindow(msgspec.Struct, frozen=True, kw_only=True):
    """When the next coat may follow: likely from, surely from, and unabraded until (or no end)."""

    likely_from_us: int | None
    surely_from_us: int | None
    unabraded_until_us: int | None


class Clock(msgspec.Struct, frozen=True, kw_only=True):
    """All that is known of one coat's drying. A void film is critical: it will not become sound."""

    stages: Mapping[Stage, StageClock]
    void_from_us: int | None
    recoat: RecoatWindow
    gaps: tuple[tuple[int, int], ...]


def one_coat(
    applied_us: int,
    wet_film_um: float,
    *,
    below_um: float = 0.0,
    bare_wood: bool = False,
    extender_pct: float = 0.0,
    crosslinked: bool = False,
) -> Coats:
    """Return a single coat as a row of `Coats`."""
    return Coats(
        np.array([applied_us], dtype=np.int64),
        np.array([wet_film_um]),
        np.array([below_um]),
        np.array([bare_wood]),
        np.array([extender_pct]),
        np.array([crosslinked]),
    )


def ready_times_us(sheet: Sheet, coats: Coats, run: Course, factor: Spread) -> Micros:
    """Return when each coat reaches each stage, shaped coats x stages x (10, 50, 90 %).

    *Reference:* liquid leaves first, the film cures after; both budgets times the factor, worked
    off at the course's rates. *Valid:* wet films of 1 to 2,000 um; equal to walking every reading.
    """
    # In order of time the look-ups walk memory forwards, which is what makes a year quick.
    order = np.argsort(coats.applied_us, kind="stable")
    work = _work(sheet, coats, run, order)
    factors = _factors(factor, coats.bare_wood[order])
    ready = np.empty((order.size, len(STAGES), 3), dtype=np.int64)
    for column in range(3):
        dry = work.start
        for stage in range(len(STAGES)):
            if stage == 0 or not work.leaves_with_last[stage]:
                dry = _dry_at(run, work, stage, factors[:, column])
            ready[order, stage, column] = micros_at(
                run, _cured_at(run, dry, work.curing[stage] * factors[:, column])
            )
    return ready


def void_from_us(sheet: Sheet, coats: Coats, run: Course, factor: Spread) -> Micros:
    """Return when each film first dries below its film-formation limit, `NEVER_US` when not.

    *Reference:* film at the wet bulb while wet, against the sheet's limit (ASTM D2354, ISO 2115),
    from half of its water lost until touch-dry, at the middle of the clock's range. *Valid:*
    water-borne films whose sheet gives the limit; a film already void stays so.
    """
    work = _work(sheet, coats, run, np.arange(coats.applied_us.size))
    middle = np.full(coats.applied_us.size, factor.p50)
    forming = _dry_at(run, work, 0, middle * FORMING_FROM)
    dry = _dry_at(run, work, 0, middle)
    cold = np.maximum(forming, run.cold_from[segment_at(run, forming)])
    return micros_at(run, np.where(cold < dry, cold, np.inf))


def clock(sheet: Sheet, coat: Coats, run: Course, factor: Spread) -> Clock:
    """Return one coat's clock: its stages, whether it is void, its recoat window and the gaps.

    *Reference:* `ready_times_us`, `void_from_us`, `drying_climate.gaps`. *Valid:* one row of coats.
    """
    require("number of coats", coat.applied_us.size, 1, 1, "one coat's clock")
    applied_us = int(coat.applied_us[0])
    ready = ready_times_us(sheet, coat, run, factor)[0]
    assumed = stage_hours(sheet).assumed
    stages = {
        stage: StageClock(
            p10_us=_or_none(ready[index, 0]),
            p50_us=_or_none(ready[index, 1]),
            p90_us=_or_none(ready[index, 2]),
            assumed=assumed[index],
        )
        for index, stage in enumerate(STAGES)
    }
    recoat = stages["sandable"]
    return Clock(
        stages=stages,
        void_from_us=_or_none(void_from_us(sheet, coat, run, factor)[0]),
        recoat=RecoatWindow(
            likely_from_us=recoat.p50_us,
            surely_from_us=recoat.p90_us,
            unabraded_until_us=unabraded_until_us(sheet, coat, run),
        ),
        gaps=gaps(run, applied_us, int(ready[-1, -1])),
    )


def unabraded_until_us(sheet: Sheet, coat: Coats, run: Course) -> int | None:
    """Return when one coat's recoat window closes, none when a coat may always follow.

    *Reference:* the data sheet's longest wait; warmth closes it sooner by Arrhenius, and cold is
    not trusted to keep it open longer. *Valid:* one row of coats.
    """
    hours = recoat_window_hours(sheet, crosslinked=bool(coat.crosslinked[0]))
    if hours is None:
        return None
    require("recoat window (h)", hours, 0.01, 20_000.0, "the data sheet")
    start = (coat.applied_us - run.origin_us).astype(np.float64)
    closes = np.minimum(start + hours * HOUR_US, _cured_at(run, start, np.array(hours * HOUR_US)))
    return int(micros_at(run, closes)[0])


class _Work(msgspec.Struct, frozen=True, eq=False):
    """Reference microseconds each coat has to work off, one array a stage."""

    start: Floats
    done: Floats
    leaving: tuple[Floats, ...]
    curing: tuple[Floats, ...]
    leaves_with_last: tuple[bool, ...]


def _work(sheet: Sheet, coats: Coats, run: Course, order: npt.NDArray[np.intp]) -> _Work:
    wet_um = coats.wet_film_um[order] + coats.below_um[order]
    require_all("wet film (um)", coats.wet_film_um, 1.0, 2000.0, "the drying model")
    require_all("wet film below (um)", coats.below_um, 0.0, 2000.0, "the drying model")
    require_all("extender (%)", coats.extender_pct, 0.0, 50.0, "the drying model")
    require("reference wet film (um)", sheet.reference_wet_film_um, 1.0, 2000.0, "the data sheet")
    film = wet_um / sheet.reference_wet_film_um
    slow = 1.0 + sheet.extender_slowing_per_pct * coats.extender_pct[order]
    cure = np.where(coats.crosslinked[order], sheet.crosslinked_cure_factor, 1.0)
    if sheet.kind == "oil_based":  # oxygen comes from above: a thick oil film takes longer
        cure = cure * film
    parts = budget(sheet)
    first = parts.leaving_first * film * slow * HOUR_US
    squared = film * film * slow * HOUR_US
    start = (coats.applied_us[order] - run.origin_us).astype(np.float64)
    late = parts.leaving_late
    return _Work(
        start=start,
        done=sum_at(run, run.leaving_sum, run.leaving, start),
        leaving=tuple(first + hours * squared for hours in late),
        curing=tuple(hours * HOUR_US * cure for hours in parts.curing),
        leaves_with_last=(False, *(a == b for a, b in pairwise(late))),
    )


def factor_points(factor: Spread, *, bare_wood: bool) -> tuple[float, float, float]:
    """Return a coat's 10, 50 and 90 % factors: wider on bare wood, log variances add."""
    require("10 % factor", factor.p10, 1e-3, factor.p50, "the clock's factor")
    require("90 % factor", factor.p90, factor.p50, 1e3, "the clock's factor")
    if not bare_wood:
        return factor.p10, factor.p50, factor.p90
    bare = Z_90 * BARE_WOOD_LOG_SD
    down = factor.p50 * math.exp(-math.hypot(math.log(factor.p50 / factor.p10), bare))
    up = factor.p50 * math.exp(math.hypot(math.log(factor.p90 / factor.p50), bare))
    return down, factor.p50, up


def _factors(factor: Spread, bare_wood: npt.NDArray[np.bool_]) -> Floats:
    """Return the points of each coat, a row a coat."""
    wide = factor_points(factor, bare_wood=True)
    return np.where(bare_wood[:, None], wide, factor_points(factor, bare_wood=False))


def _dry_at(run: Course, work: _Work, stage: int, factors: Floats) -> Floats:
    dry = time_at(run, run.leaving_sum, run.leaving, work.done + work.leaving[stage] * factors)
    return np.maximum(dry, work.start)


def _cured_at(run: Course, dry: Floats, curing_us: Floats) -> Floats:
    if not np.any(curing_us):
        return dry
    done = sum_at(run, run.curing_sum, run.curing, np.where(np.isfinite(dry), dry, 0.0))
    cured = time_at(run, run.curing_sum, run.curing, done + curing_us)
    return np.where(np.isfinite(dry), np.maximum(cured, dry), np.inf)


def _or_none(moment_us: np.int64) -> int | None:
    return None if moment_us == NEVER_US else int(moment_us)
