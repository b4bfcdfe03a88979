"""The air a piece dried in: readings of the rooms it stood in, joined, with every silence named.

A path is the list of (from when, which room). Pieces that never moved share a path and so a course.
"""

from collections.abc import Iterable
from typing import Final, TypeAlias
from uuid import UUID

import numpy as np

from coatledger.clocks.films import Film
from coatledger.clocks.sheets import SheetRead
from coatledger.computations.drying_climate import (
    GAP_H,
    HOUR_US,
    Climate,
    Course,
    climate,
    course,
    spliced,
)
from coatledger.computations.drying_one import Coat, Drying, Line, line_of
from coatledger.ledger.store import ClimateRow
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

Path: TypeAlias = tuple[tuple[int, str | None], ...]
ALWAYS_US: Final = -(1 << 60)
# No film dries for longer; what is older is not read again. Common practice, no published source.
LOOK_BACK_US: Final = 120 * 24 * HOUR_US


class Rooms:
    """Readings of a shop's rooms up to now, read once each, and courses made of them.

    `last_us` is a time by which films are likely done: later readings are left unread until a film
    is found to need them, see `read_on`.
    """

    def __init__(self, view: View, now_us: int, first_us: int, last_us: int | None = None) -> None:
        self.now_us = now_us
        self.first_us = max(first_us, now_us - LOOK_BACK_US)
        self.last_us = now_us if last_us is None else min(last_us, now_us)
        self._view = view
        self._ways: list[Path] = []
        self._forget()

    def follow(self, way: Path) -> None:
        """Remember a piece's whole way: its earlier, shorter ways are read from this one, and of
        each room only what is read while the piece is in it."""
        self._ways.append(way)
        self._forget()

    def covers(self, first_us: int, now_us: int) -> bool:
        """Say whether these are readings up to a moment, from a film's time on."""
        return now_us == self.now_us and self.first_us <= max(first_us, now_us - LOOK_BACK_US)

    def read_on(self) -> bool:
        """Read everything up to now after all; say whether there was anything left to read."""
        if self.last_us == self.now_us:
            return False
        self.last_us = self.now_us
        self._forget()
        return True

    def course(self, read: SheetRead, path: Path) -> Course:
        """Return a product's rates along a path."""
        key = (read.key, path)
        if key not in self._courses:
            self._courses[key] = course(read.sheet, self.along(path), self.last_us)
        return self._courses[key]

    def line(self, read: SheetRead, path: Path, at_us: int) -> tuple[Line, int]:
        """Return a product's rates along a path as plain lists, and how many readings there were
        by a moment. Before the first of them the sheet's own climate is taken."""
        whole = self._whole(path) or path
        key = (read.key, whole)
        if key not in self._lines:
            self._lines[key] = line_of(self.course(read, whole))
        along = self._lines[key]
        if len(whole) > len(path):  # it may move on at this very moment, and had not yet
            at_us = min(at_us, whole[len(path)][0] - 1)
        upto = along.readings_by(at_us)
        return (along, upto) if upto else (line_of(course(read.sheet, _nothing(), at_us)), 1)

    def drying(self, film: Film, path: Path, at_us: int, below_um: float) -> tuple[Drying, int]:
        """Return a film on its way along a path, and how many readings there were by a moment."""
        along, upto = self.line(film.read, path, at_us)
        # What is kept holds its line, so no other line is told by the same number meanwhile.
        key = (id(along), film.event, film.coat(below_um))
        if key not in self._dryings:
            sheet, parts = film.read.sheet, film.read.budget
            self._dryings[key] = Drying(sheet, parts, film.coat(below_um), along)
        return self._dryings[key], upto

    def along(self, path: Path) -> Climate:
        """Return the readings along a path, empty when there were none."""
        if path not in self._paths:
            if self._ways and self._whole(path) is None:
                self._ways.clear()  # a way nobody foresaw may need a room at any time
                self._forget()
            parts = [(start, self._room(room)) for start, room in path]
            self._paths[path] = spliced(parts) if parts else _nothing()
            if not self._paths[path].times_us.size and self.read_on():
                return self.along(path)
        return self._paths[path]

    def stale(self, path: Path) -> tuple[tuple[int, int], ...]:
        """Return the times after a move at which the new room's last reading was old already."""
        found = []
        for (start, room), end in zip(path[1:], [*_starts(path)[2:], self.now_us], strict=False):
            times = self._room(room).times_us
            after = int(np.searchsorted(times, start, side="right"))
            old = after > 0 and start - int(times[after - 1]) > GAP_H * HOUR_US
            if old or room is None or not times.size:
                read_us = int(times[after]) if after < times.size else end
                found.append((start, min(read_us, end)))
        return tuple(found)

    def says(self, path: Path) -> tuple[str, ...]:
        """Say what the climate of a path rests on where it is not a reading."""
        last = path[-1][1] if path else None
        if last is None:
            place = "no room is known for the piece"
        else:
            place = f"nobody read the air of room {last}"
        if not self.along(path).times_us.size:
            return (f"{place}: the sheet's reference climate is taken",)
        room, air_c, rh_pct = self._held(path)
        held = f"from now on the last reading is held: {air_c:g} C, {rh_pct:g} %"
        odd = sum(self._left_out.get(name, 0) for name in {room or "" for _, room in path})
        skipped = (f"{odd} reading(s) outside -20 to 60 C were left out",) if odd else ()
        missing = (place,) if last is None or room != last else ()
        return (*missing, held, *skipped)

    def _held(self, path: Path) -> tuple[str | None, float, float]:
        """Return the last reading along a path, and of which room it is."""
        ends = [*(start - 1 for start in _starts(path)[1:]), self.now_us]
        if self.last_us < self.now_us:
            for (_, room), end in zip(reversed(path), reversed(ends), strict=True):
                row = self._before(room, end)
                if row is not None and _is_known(row):
                    return room, row.air_c, row.rh_pct
                if row is not None:
                    break
            self.read_on()
        readings = self.along(path)
        rooms = [room for _, room in path if self._room(room).times_us.size]
        room = rooms[-1] if rooms else None
        return room, float(readings.air_c[-1]), float(readings.rh_pct[-1])

    def _before(self, room: str | None, at_us: int) -> ClimateRow | None:
        return self._view.reader.climate_before(room, at_us, self._view.known) if room else None

    def _whole(self, path: Path) -> Path | None:
        return next((way for way in self._ways if way[: len(path)] == path), None)

    def _room(self, room: str | None) -> Climate:
        if room is None:
            return _nothing()
        if room not in self._rooms:
            rows = readings_of(self._view, room, self.first_us, self._needed_us(room))
            kept = [row for row in rows if _is_known(row)]
            self._left_out[room] = len(rows) - len(kept)
            self._rooms[room] = climate(
                [row.at_us for row in kept],
                [row.air_c for row in kept],
                [row.rh_pct for row in kept],
            )
        return self._rooms[room]

    def _needed_us(self, room: str) -> int:
        """Return until when a room's readings matter: while a piece on a way is in it."""
        ends = [
            end
            for way in self._ways
            for (_, name), end in zip(way, [*_starts(way)[1:], self.last_us], strict=True)
            if name == room
        ]
        return min(max(ends), self.last_us) if ends else self.last_us

    def _forget(self) -> None:
        self._rooms: dict[str, Climate] = {}
        self._left_out: dict[str, int] = {}
        self._paths: dict[Path, Climate] = {}
        self._courses: dict[tuple[str, Path], Course] = {}
        self._lines: dict[tuple[str, Path], Line] = {}
        self._dryings: dict[tuple[int, UUID, Coat], Drying] = {}


def rooms_of(view: View, films: Iterable[tuple[Film, ...]], now_us: int) -> Rooms:
    """Return the rooms' readings from the first of all these films on."""
    return Rooms(view, now_us, min((own[0].applied_us for own in films if own), default=now_us))


def readings_of(view: View, room: str, first_us: int, now_us: int) -> tuple[ClimateRow, ...]:
    """Return a room's readings from the one that held at `first_us` up to now."""
    before = view.reader.climate_before(room, first_us - 1, view.known)
    inside = view.climate(room, first_us, now_us)
    return inside if before is None else (before, *inside)


def _is_known(row: ClimateRow) -> bool:
    """Say whether the drying model was checked for a reading."""
    return -20.0 <= row.air_c <= 60.0


def _starts(path: Path) -> list[int]:
    return [start for start, _ in path]


def path_of(piece: Piece, films: tuple[Film, ...], now_us: int) -> Path:
    """Return the rooms a piece stood in since its first film; where it stood then comes first."""
    if not films:
        return ()
    first_us = films[0].applied_us
    room = films[0].room or piece.room_at(first_us)
    path: list[tuple[int, str | None]] = [(ALWAYS_US, room)]
    for move in piece.moves:
        if first_us < move.at_us <= now_us and move.room and move.room != path[-1][1]:
            path.append((move.at_us, move.room))
    if path[0][1] is None and len(path) > 1:
        # Nobody said where it stood before: the first room named is the likeliest.
        path = [(ALWAYS_US, path[1][1]), *path[2:]]
    return tuple(path)


def _nothing() -> Climate:
    return climate([], [], [])
