"""Whether a piece had reached a stage by a moment, by the sheet's own hours: quick when it had.

The slowest air of the whole wait gives a bound on the wait without any integration. Only a film
that is not ready by that bound is run over its readings.
"""

import functools
from uuid import UUID

from msgspec import Struct

from coatledger.clocks.films import Film, done_us, films_of, stacks_of
from coatledger.clocks.rooms import LOOK_BACK_US, Rooms, path_of, readings_of
from coatledger.clocks.runs import runs_of
from coatledger.computations.air import wet_bulb_depression_c
from coatledger.computations.drying import STAGES, Sheet, Stage, cure_rate, leaving_rate
from coatledger.computations.drying_climate import HOUR_US, NEVER_US
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

SANDABLE = STAGES.index("sandable")


class Wait(Struct, frozen=True, kw_only=True):
    """A film that was not there yet: when it would have been (None: never), and how much of the
    wait had passed."""

    film: Film
    faces: tuple[str, ...]
    stage: Stage
    ready_us: int | None
    share: float
    assumed: bool


class Reach:
    """Answers for one place of the history; it remembers what it has read and worked out.

    `rooms` are readings somebody holds already, for many places of one piece's life.
    """

    def __init__(self, view: View, rooms: Rooms | None = None) -> None:
        self._view = view
        self._rooms = rooms
        self._own = rooms is None
        self._slowest: dict[tuple[str, int, int], tuple[float, float] | None] = {}
        self._past: dict[tuple[UUID, float, int, int, int], bool] = {}
        self._films: dict[str, tuple[Film, ...]] = {}
        self._dry: set[tuple[object, Stage, int]] = set()

    def films(self, piece: Piece) -> tuple[Film, ...]:
        """List a piece's films, once."""
        if piece.piece not in self._films:
            self._films[piece.piece] = films_of(self._view, piece)
        return self._films[piece.piece]

    def wait(
        self, piece: Piece, stage: Stage, at_us: int, faces: tuple[str, ...] = ("all",)
    ) -> Wait | None:
        """Return the film on these faces that was furthest from a stage, None when all were there.

        *Reference:* the sheet's hours at the recorded climate, at the middle of the clock's range.
        """
        alike = (_dries_alike(piece), stage, at_us)
        if alike in self._dry:
            return None
        films = self.films(piece)
        if not films:
            return None
        asked = tuple(f for f in films if "all" in faces or any(f.on(face) for face in faces))
        if not asked:
            return None
        if self._own and self._all_past(piece, films, stage, at_us):
            if alike[0] is not None:
                self._dry.add(alike)
            return None
        rooms = self._air(films[0].applied_us, at_us)
        worst: Wait | None = None
        index = STAGES.index(stage)
        for run in runs_of(piece, films, at_us, rooms):
            film = run.films[-1]
            apart = "all" not in faces and not set(run.stack.faces) & set(faces)
            if apart or film.applied_us <= at_us - LOOK_BACK_US:
                continue
            likely_us = run.likely_us(index)
            if likely_us > rooms.last_us and at_us > rooms.last_us and rooms.read_on():
                return self.wait(piece, stage, at_us, faces)
            if likely_us <= at_us:
                continue
            ready_us = None if likely_us >= NEVER_US // 64 else likely_us
            whole_us = 0 if ready_us is None else max(ready_us - film.applied_us, 1)
            share = (at_us - film.applied_us) / whole_us if whole_us else 0.0
            if worst is None or share < worst.share:
                worst = Wait(
                    film=film, faces=run.stack.faces, stage=stage, ready_us=ready_us, share=share,
                    assumed=film.read.assumed_stages[index],
                )  # fmt: skip
        return worst

    def _air(self, first_us: int, at_us: int) -> Rooms:
        """Return readings from the first film on; pieces of one act share them."""
        rooms = self._rooms
        if rooms is None or (self._own and not rooms.covers(first_us, at_us)):
            rooms = self._rooms = Rooms(self._view, at_us, first_us)
        return rooms

    def _all_past(self, piece: Piece, films: tuple[Film, ...], stage: Stage, at_us: int) -> bool:
        """Say whether every film had surely dried: to sanding before the next, to the stage now."""
        path = path_of(piece, films, at_us)
        if len(path) != 1:
            return False
        room = path[0][1]
        for stack in stacks_of(films):
            for film, above in zip(stack.films, stack.films[1:], strict=False):
                if not self._past_by(film, room, SANDABLE, above.applied_us):
                    return False
            if not self._past_by(stack.films[-1], room, STAGES.index(stage), at_us):
                return False
        return True

    def _past_by(self, film: Film, room: str | None, stage: int, at_us: int) -> bool:
        if at_us - film.applied_us > LOOK_BACK_US:
            return True
        key = (film.event, film.wet_film_um, film.applied_us, stage, at_us)
        if key not in self._past:
            self._past[key] = self._bound_us(film, room, stage, at_us) <= at_us - film.applied_us
        return self._past[key]

    def _bound_us(self, film: Film, room: str | None, stage: int, at_us: int) -> float:
        """Return a time within which the film is there even in the slowest air of its wait."""
        sheet, parts = film.read.sheet, film.read.budget
        thick = film.wet_film_um / sheet.reference_wet_film_um
        slow = 1.0 + sheet.extender_slowing_per_pct * film.extender_pct
        leaving_h = (parts.leaving_first + parts.leaving_late[stage] * thick) * thick * slow
        curing_h = parts.curing[stage] * (thick if sheet.kind == "oil_based" else 1.0)
        if film.crosslinked:
            curing_h *= sheet.crosslinked_cure_factor
        # Pieces of one act share what was read; air of an hour more can only be slower.
        slowest = self._slowest_air(room, film.applied_us - film.applied_us % HOUR_US, at_us)
        leaving, curing = (1.0, 1.0) if slowest is None else slowest_rates(sheet, *slowest)
        if (leaving_h and leaving <= 0.0) or (curing_h and curing <= 0.0):
            return float("inf")
        hours = (leaving_h / leaving if leaving_h else 0.0) + (
            curing_h / curing if curing_h else 0.0
        )
        return hours * HOUR_US

    def _slowest_air(
        self, room: str | None, first_us: int, at_us: int
    ) -> tuple[float, float] | None:
        """Return the coldest and the dampest reading of a wait together: no air was slower."""
        if room is None:
            return None
        key = (room, first_us, at_us)
        if key not in self._slowest:
            rows = readings_of(self._view, room, first_us, at_us)
            kept = [row for row in rows if -20.0 <= row.air_c <= 60.0]
            self._slowest[key] = (
                (min([row.air_c for row in kept]), max([row.rh_pct for row in kept]))
                if kept
                else None
            )
        return self._slowest[key]


def _dries_alike(piece: Piece) -> object:
    """Return what decides how a piece dries, so that pieces of one act are looked at once; None
    where a film has to be worked out from the areas of its act."""
    if any(coat.wet_film_um is None for coat in piece.coats):
        return None
    return tuple((coat.event, done_us(coat)) for coat in piece.coats), piece.layers, piece.moves


def slowest_rates(sheet: Sheet, air_c: float, rh_pct: float) -> tuple[float, float]:
    """Return the drying and curing rates of one state of air; a reference state gives exactly 1.

    *Reference:* as `leaving_rate` and `cure_rate`: rates rise with warmth and fall with dampness.
    """
    if (air_c, rh_pct) == (sheet.reference_air_c, sheet.reference_rh_pct):
        return 1.0, 1.0
    if sheet.kind == "water_borne":
        reference_c = _depression_c(sheet.reference_air_c, sheet.reference_rh_pct)
        return _depression_c(air_c, rh_pct) / reference_c, cure_rate(sheet, air_c)
    return leaving_rate(sheet, air_c, rh_pct), cure_rate(sheet, air_c)


@functools.lru_cache(maxsize=4096)
def _depression_c(air_c: float, rh_pct: float) -> float:
    return wet_bulb_depression_c(air_c, rh_pct)
