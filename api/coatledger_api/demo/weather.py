"""The air of the invented shop's two rooms: sea air, a heater in working hours, a damp week.

One reading every twenty minutes. Outside decides the dew point, the heater the temperature, and
both together the humidity.
"""

import random
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from coatledger.computations import air
from coatledger.computations.drying_climate import Climate, climate
from coatledger.events.room_gun import Reading
from coatledger.ledger.record import micros

from coatledger_api.demo.workdays import HOURS, ZONE, Workdays

STEP_MIN: Final = 20
ROOMS: Final = ("spray", "rack")
# The working days (counted from the first) of the damp week, and of the morning without heat.
DAMP_DAYS: Final = range(15, 20)
COLD_DAY: Final = 11


class Weather(NamedTuple):
    """Readings of each room, oldest first, from before the first day to well past now."""

    readings: Mapping[str, tuple[Reading, ...]]
    climates: Mapping[str, Climate]

    def around(self, room: str, at: datetime) -> Reading:
        """Return the last reading at or before a time."""
        every = self.readings[room]
        first = every[0].at
        assert first is not None
        index = int((at - first) / timedelta(minutes=STEP_MIN))
        return every[min(max(index, 0), len(every) - 1)]

    def drier_from(self, room: str, at: datetime, rh_pct: float) -> datetime:
        """Return when the air of a room is drier than this for the first time from a time on."""
        found = (r.at for r in self.readings[room] if r.at and r.at >= at and r.rh_pct < rh_pct)
        return next(found, self.readings[room][-1].at or at)


def weather(rng: random.Random, days: Workdays) -> Weather:
    """Make the air of six weeks up to now, and of the days ahead that nobody has read yet."""
    first = days.at(0, "00:00") - timedelta(hours=12)
    last = days.now + timedelta(days=14)
    count = int((last - first) / timedelta(minutes=STEP_MIN))
    heated_c, dew_drift = 16.5, 0.0
    readings: dict[str, list[Reading]] = {room: [] for room in ROOMS}
    for tick in range(count):
        at = first + timedelta(minutes=STEP_MIN * tick)
        heated_c += 0.10 * (_wanted_c(at, days) - heated_c) + rng.gauss(0.0, 0.06)
        dew_drift += -0.006 * dew_drift + rng.gauss(0.0, 0.13)
        dew_c = _dew_c(at, days) + dew_drift
        for room in ROOMS:
            readings[room].append(_reading(room, at, heated_c, dew_c, rng))
    return Weather(
        readings={room: tuple(every) for room, every in readings.items()},
        climates={room: _climate(every) for room, every in readings.items()},
    )


def _wanted_c(at: datetime, days: Workdays) -> float:
    local = at.astimezone(ZONE)
    index = days.index_of(at)
    if index == COLD_DAY and local.hour < 11:
        return 7.5
    working = local.weekday() in HOURS and 6 <= local.hour < 17
    if index in DAMP_DAYS:
        return 17.6 if working else 15.5
    return 21.0 if working else 17.0


def _dew_c(at: datetime, days: Workdays) -> float:
    index = days.index_of(at)
    if index in DAMP_DAYS:
        return 14.2
    if index == COLD_DAY:
        return 2.5
    return 9.4


def _reading(
    room: str, at: datetime, heated_c: float, dew_c: float, rng: random.Random
) -> Reading:  # fmt: skip
    air_c = heated_c + (0.9 if room == "rack" else 0.0) + rng.gauss(0.0, 0.08)
    air_c = max(air_c, 4.0)
    dew_c = min(dew_c - (0.4 if room == "rack" else 0.0), air_c - 0.8)
    rh_pct = air.rh_from_dew_point_pct(air_c, dew_c) + rng.gauss(0.0, 0.4)
    return Reading(
        air_c=round(air_c, 1), rh_pct=round(min(max(rh_pct, 20.0), 97.0), 1), at=at
    )  # fmt: skip


def _climate(readings: list[Reading]) -> Climate:
    times = [micros(r.at) for r in readings if r.at is not None]
    return climate(times, [r.air_c for r in readings], [r.rh_pct for r in readings])
