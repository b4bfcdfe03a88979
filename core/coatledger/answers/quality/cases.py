"""The pieces of some weeks as quality counts them, and what their coats name, looked up."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from coatledger.events.room_gun import GunSetUp
from coatledger.findings.place import HOUR_US, READING_HOLDS_H
from coatledger.ledger.correct import last
from coatledger.ledger.record import micros
from coatledger.ledger.store import ClimateRow, Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.buckets import Bucket, begins_of, name_of
from coatledger.subjects.counts import counts
from coatledger.subjects.span import Span
from coatledger.subjects.tallies_quality import QUARTER_US, Case, CaseCoat, case_of

# A gun is set up a few times a day: years of it. What lies before is not told.
SET_UPS_MAX = 2_000
AIR_EDGES_C = (16.0, 20.0, 24.0)
RH_EDGES_PCT = (35.0, 50.0, 65.0)


class Counted(NamedTuple):
    """Pieces of one fate, how many, and the day, ISO week or month they count in."""

    case: Case
    many: int
    when: str


def cases(reader: Reader, asked: Asked, span: Span, bucket: Bucket = "week") -> tuple[Counted, ...]:
    """Return the pieces of a span, in order of time."""
    found = counts(reader, asked, ("case",), span.first, span.last)
    begins = begins_of((key for _, key in found), bucket, ZoneInfo(span.zone))
    names = {begin: name_of(begin, bucket) for begin in begins.values()}
    rows = (
        Counted(case_of(key), int(value), names[begins[key[:16]]])
        for (_, key), value in found.items()
    )
    return tuple(sorted(rows, key=lambda row: row.case.at))


def coat_us(case: Case, coat: CaseCoat) -> int:
    """Return the end of the quarter-hour in which a coat was put on."""
    at_us = micros(datetime.fromisoformat(case.at + "+00:00"))
    return at_us - (coat.quarters_before - 1) * QUARTER_US - 1


class Air:
    """Readings of rooms over a span, one read a room."""

    def __init__(self, reader: Reader, asked: Asked, first_us: int, last_us: int) -> None:
        self._reader = reader
        self._known = asked.known
        self._span = (first_us - round(READING_HOLDS_H * HOUR_US), last_us)
        self._rooms: dict[str, tuple[Sequence[ClimateRow], Sequence[int]]] = {}

    def at(self, room: str | None, at_us: int) -> ClimateRow | None:
        """Return the last reading before a moment, if it still says something of it."""
        if room is None:
            return None
        rows, times = self._room(room)
        place = bisect_right(times, at_us)
        fresh = place > 0 and at_us - times[place - 1] <= READING_HOLDS_H * HOUR_US
        return rows[place - 1] if fresh else None

    def within(self, room: str | None, first_us: int, last_us: int) -> Sequence[ClimateRow]:
        """Return the readings between two moments."""
        if room is None:
            return ()
        rows, times = self._room(room)
        return rows[bisect_right(times, first_us) : bisect_right(times, last_us)]

    def _room(self, room: str) -> tuple[Sequence[ClimateRow], Sequence[int]]:
        if room not in self._rooms:
            rows = self._reader.climate(room, *self._span, self._known)
            self._rooms[room] = rows, [row.at_us for row in rows]
        return self._rooms[room]


def air_band(row: ClimateRow | None) -> str | None:
    """Name the air's temperature and humidity, each in one of four bands (common practice)."""
    if row is None:
        return None
    air, rh = band(row.air_c, AIR_EDGES_C, "°C"), band(row.rh_pct, RH_EDGES_PCT, "% RH")
    return f"{air}, {rh}"


def band(value: float, edges: Sequence[float], unit: str) -> str:
    """Name the band between two edges in which a value lies; an edge belongs to the band above."""
    place = bisect_right(edges, value)
    if place == 0:
        return f"below {edges[0]:g} {unit}"
    if place == len(edges):
        return f"{edges[-1]:g} {unit} or more"
    return f"{edges[place - 1]:g} to {edges[place]:g} {unit}"


def products(reader: Reader, asked: Asked, lots: Iterable[str]) -> Mapping[str, str | None]:
    """Name what is in each can."""
    view = asked.view(reader)
    return {lot: view.lot(lot).product for lot in sorted(set(lots))}


class Nozzles:
    """Which nozzle each gun had when."""

    def __init__(self, reader: Reader, asked: Asked, last_us: int) -> None:
        self._reader = reader
        self._known = asked.known
        self._last_us = last_us
        self._guns: dict[str, tuple[list[int], list[str]]] = {}

    def at(self, gun: str | None, at_us: int) -> str | None:
        """Name the nozzle of the last set-up before a moment that told one."""
        if gun is None:
            return None
        times, sizes = self.of(gun)
        place = bisect_right(times, at_us)
        return sizes[place - 1] if place else None

    def of(self, gun: str) -> tuple[list[int], list[str]]:
        """Return the times of set-ups that told a nozzle, and the nozzles."""
        if gun not in self._guns:
            told = last(
                self._reader, f"gun:{gun}", ("gun_set_up",), self._last_us,
                known=self._known, count=SET_UPS_MAX,
            )  # fmt: skip
            pairs = [
                (one.at_us, f"{one.fact.nozzle_mm:g} mm")
                for one in told
                if isinstance(one.fact, GunSetUp) and one.fact.nozzle_mm is not None
            ]
            self._guns[gun] = [at for at, _ in pairs], [size for _, size in pairs]
        return self._guns[gun]
