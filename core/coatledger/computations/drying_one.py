"""One coat in plain numbers: the look-ups of `drying_clock` for the few films on one piece.

An array of one costs as much as an array of a thousand, so a piece's films are looked up one by
one. The operations and their order are those of `drying_clock`: both give the same microsecond.
A line can also be read as it was at an earlier moment, with its readings up to then.
"""

import math
from bisect import bisect_left, bisect_right
from typing import Final, NamedTuple

from coatledger.computations.drying import STAGES, Budget, Sheet, recoat_window_hours
from coatledger.computations.drying_climate import HOUR_US, NEVER_US, Course
from coatledger.computations.drying_clock import FORMING_FROM
from coatledger.computations.ranges import require

SANDABLE: Final = STAGES.index("sandable")
FACTOR_LEAST, FACTOR_MOST = 1e-3, 1e3
_MODEL: Final = "the drying model"
_FAR: Final = NEVER_US / 4


class Line(NamedTuple):
    """A course as plain lists. Times count from `origin_us`, sums as in `Course`."""

    origin_us: int
    times: list[float]
    leaving: list[float]
    curing: list[float]
    leaving_sum: list[float]
    curing_sum: list[float]
    cold_from: list[float]

    def readings_by(self, at_us: int) -> int:
        """Return how many readings there were at a moment."""
        return bisect_right(self.times, float(at_us - self.origin_us))


class Coat(NamedTuple):
    """One wet coat; `below_um` is what is still wet in the coats underneath."""

    applied_us: int
    wet_film_um: float
    below_um: float = 0.0
    extender_pct: float = 0.0
    crosslinked: bool = False


def line_of(run: Course) -> Line:
    """Return a course as plain lists."""
    return Line(
        run.origin_us,
        run.times.tolist(),
        run.leaving.tolist(),
        run.curing.tolist(),
        run.leaving_sum.tolist(),
        run.curing_sum.tolist(),
        run.cold_from.tolist(),
    )


def unabraded_until_us(sheet: Sheet, coat: Coat, along: Line) -> int | None:
    """Return when a coat's recoat window closes, None when a coat may always follow.

    *Reference:* as `drying_clock.unabraded_until_us`.
    """
    hours = recoat_window_hours(sheet, crosslinked=coat.crosslinked)
    if hours is None:
        return None
    require("recoat window (h)", hours, 0.01, 20_000.0, "the data sheet")
    start = float(coat.applied_us - along.origin_us)
    closes = _cured_at(along, len(along.times), start, hours * HOUR_US)
    return _micros(along, min(start + hours * HOUR_US, closes))


class Drying:
    """One coat on its way along a line: when it is ready, void or how wet it still is.

    `upto` is how many readings of the line count; the last of them holds from there. *Reference:*
    as the functions of the same names in `drying_clock`. *Valid:* wet films of 1 to 2,000 um, one
    reading or more.
    """

    __slots__ = (
        "_curing", "_done", "_film_um", "_leaving", "_line", "_reached", "_start", "applied_us",
    )  # fmt: skip

    def __init__(self, sheet: Sheet, parts: Budget, coat: Coat, along: Line) -> None:
        require("wet film (um)", coat.wet_film_um, 1.0, 2000.0, _MODEL)
        require("wet film below (um)", coat.below_um, 0.0, 2000.0, _MODEL)
        require("extender (%)", coat.extender_pct, 0.0, 50.0, _MODEL)
        self._film_um = coat.wet_film_um + coat.below_um
        film = self._film_um / sheet.reference_wet_film_um
        slow = 1.0 + sheet.extender_slowing_per_pct * coat.extender_pct
        cure = sheet.crosslinked_cure_factor if coat.crosslinked else 1.0
        if sheet.kind == "oil_based":  # oxygen comes from above: a thick oil film takes longer
            cure *= film
        first = parts.leaving_first * film * slow * HOUR_US
        squared = film * film * slow * HOUR_US
        self.applied_us = coat.applied_us
        self._line = along
        self._start = float(coat.applied_us - along.origin_us)
        self._leaving = [first + hours * squared for hours in parts.leaving_late]
        self._curing = [hours * HOUR_US * cure for hours in parts.curing]
        upto = len(along.times)
        self._done = _sum_at(along, along.leaving_sum, along.leaving, upto, self._start)
        self._reached: dict[tuple[int, int], float] = {}

    def ready_us(self, stage: int, factor: float, upto: int) -> int:
        """Return when the coat reaches a stage at a factor on the sheet's hours."""
        dry = self._dry_at(stage, factor, upto)
        return _micros(self._line, _cured_at(self._line, upto, dry, self._curing[stage] * factor))

    def void_from_us(self, middle: float, upto: int) -> int:
        """Return when the film first dries below its film-formation limit, `NEVER_US` if never."""
        line = self._line
        forming = self._dry_at(0, middle * FORMING_FROM, upto)
        next_cold = line.cold_from[_held(line, upto, forming)]
        if next_cold > line.times[upto - 1]:
            return NEVER_US
        cold = max(forming, next_cold)
        return _micros(line, cold) if cold < self._dry_at(0, middle, upto) else NEVER_US

    def undried_um(self, at_us: int, middle: float) -> float:
        """Return how much wet film, own and below, has not dried to sanding by a moment."""
        line = self._line
        at = max(float(at_us - line.origin_us), self._start)
        gone = _sum_at(line, line.leaving_sum, line.leaving, len(line.times), at) - self._done
        left = 1.0 - gone / (self._leaving[SANDABLE] * middle)
        return self._film_um * min(max(left, 0.0), 1.0)

    def factor_reached(self, stage: int, at_us: int) -> float:
        """Return the factor at which the coat would reach the stage just at this time.

        A coat found ready has a factor of at most this, one found not ready a greater one: so a
        dryness check is an observation. *Reference:* `ready_us` inverted: between two readings all
        rates stand still and the factor is a ratio of sums. *Valid:* checks after the coat; factors
        of 0.001 to 1,000.
        """
        if (stage, at_us) not in self._reached:
            require("time of a check (us)", float(at_us), self.applied_us + 1, math.inf, "the coat")
            self._reached[stage, at_us] = _within(self._factor(stage, at_us))
        return self._reached[stage, at_us]

    def _factor(self, stage: int, at_us: int) -> float:
        line, leaving, curing = self._line, self._leaving[stage], self._curing[stage]
        upto = len(line.times)
        at = float(at_us - line.origin_us)
        cured = _sum_at(line, line.curing_sum, line.curing, upto, at)

        def gone(time: float) -> float:
            return _sum_at(line, line.leaving_sum, line.leaving, upto, time) - self._done

        def to_cure(time: float) -> float:
            return cured - _sum_at(line, line.curing_sum, line.curing, upto, time)

        if not curing:
            return gone(at) / leaving
        if not leaving:
            return to_cure(self._start) / curing
        # The film was dry at the moment where what had left and what is to cure ask for the same
        # factor; it lies between two readings, found by halving, and there all is linear.
        low, high = self._start, at
        first, last = bisect_right(line.times, low), bisect_left(line.times, high)
        while first < last:
            middle = (first + last) // 2
            if gone(line.times[middle]) * curing < to_cure(line.times[middle]) * leaving:
                low, first = line.times[middle], middle + 1
            else:
                high, last = line.times[middle], middle
        held = _held(line, upto, low)
        over = to_cure(low) * leaving - gone(low) * curing
        rate = line.leaving[held] * curing + line.curing[held] * leaving
        dry = low + over / rate if rate > 0.0 else high
        return gone(min(dry, high)) / leaving

    def _dry_at(self, stage: int, factor: float, upto: int) -> float:
        line = self._line
        target = self._done + self._leaving[stage] * factor
        return max(_time_at(line, line.leaving_sum, line.leaving, upto, target), self._start)


def _cured_at(line: Line, upto: int, dry: float, curing_us: float) -> float:
    if not curing_us or math.isinf(dry):
        return dry
    done = _sum_at(line, line.curing_sum, line.curing, upto, dry)
    return max(_time_at(line, line.curing_sum, line.curing, upto, done + curing_us), dry)


def _held(line: Line, upto: int, time: float) -> int:
    return max(bisect_right(line.times, time, 0, upto) - 1, 0)


def _sum_at(line: Line, sums: list[float], rates: list[float], upto: int, time: float) -> float:
    held = max(bisect_right(line.times, time, 0, upto) - 1, 0)
    return sums[held] + (time - line.times[held]) * rates[held]


def _time_at(line: Line, sums: list[float], rates: list[float], upto: int, target: float) -> float:
    held = max(bisect_left(sums, target, 0, upto) - 1, 0)
    rate, missing = rates[held], target - sums[held]
    if rate > 0.0:
        return line.times[held] + missing / rate
    return math.inf if missing > 0.0 else line.times[held]


def _micros(line: Line, time: float) -> int:
    return round(time) + line.origin_us if time < _FAR else NEVER_US


def _within(factor: float) -> float:
    return min(max(factor, FACTOR_LEAST), FACTOR_MOST)
