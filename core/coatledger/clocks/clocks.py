"""The clock of each face of a piece: when it is ready for what, how sure, and because of what.

Every coat, stain and filler is run over the air of the rooms the piece stood in; from now on the
last reading is held as the forecast, and said so. What nobody measured is named.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Final, cast, get_args

from coatledger.clocks.answer import (
    Because,
    FaceClock,
    PieceClock,
    Purpose,
    Readiness,
    ReadyFor,
    Recoat,
    Silence,
    StageTime,
    Void,
)
from coatledger.clocks.films import films_of
from coatledger.clocks.learned import Taught, in_words
from coatledger.clocks.rooms import LOOK_BACK_US, Path, Rooms, rooms_of
from coatledger.clocks.runs import NO_FACTORS, Run, runs_of
from coatledger.computations import air
from coatledger.computations.drying import STAGES, Spread, Stage
from coatledger.computations.drying_climate import NEVER_US, gaps
from coatledger.computations.drying_one import unabraded_until_us
from coatledger.ledger.record import moment
from coatledger.subjects.piece import Piece
from coatledger.subjects.view import View

# What a piece may be used for at each stage.
PURPOSES: Final[Mapping[Purpose, Stage]] = MappingProxyType(
    {
        "touch": "touch_dry",
        "recoat": "sandable",
        "stack": "stackable",
        "pack": "wrap_safe",
        "use": "cured",
    }
)
Times = tuple[tuple[int, int, int], ...]
LEVELS: Final[tuple[str, ...]] = get_args(Readiness)


def piece_clock(
    view: View, piece: Piece, now_us: int, factors: Mapping[str, Spread] = NO_FACTORS,
    rooms: Rooms | None = None,
) -> PieceClock:  # fmt: skip
    """Return one piece's clock as of a moment.

    `factors` are what this shop has learned of its products; without one the sheet stands. `rooms`
    are readings at hand, from this moment.
    """
    films = films_of(view, piece)
    air = rooms or rooms_of(view, (films,), now_us)
    runs = runs_of(piece, films, now_us, air, factors)
    if any(run.last_us > air.last_us for run in runs) and air.read_on():
        runs = runs_of(piece, films, now_us, air, factors)
    return _piece(piece, runs, air)


def shop_clocks(
    view: View, pieces: Iterable[Piece], now_us: int, factors: Mapping[str, Spread] = NO_FACTORS
) -> tuple[PieceClock, ...]:
    """Return the clocks of many pieces, the one that is ready for something soonest first.

    Pieces with nothing ahead of them, or nothing on them, come last, by name.
    """
    found = [(piece, films_of(view, piece)) for piece in pieces]
    rooms = rooms_of(view, [films for _, films in found], now_us)
    clocks = [
        _piece(piece, runs_of(piece, films, now_us, rooms, factors), rooms)
        for piece, films in found
    ]
    far = moment(NEVER_US // 64)
    return tuple(sorted(clocks, key=lambda clock: (clock.next_ready or far, clock.piece)))


def _piece(piece: Piece, runs: tuple[Run, ...], rooms: Rooms) -> PieceClock:
    now = moment(rooms.now_us)
    faces = tuple(_face(piece, run, rooms) for run in runs)
    ready = tuple(_ready_for(purpose, faces, now) for purpose in PURPOSES) if faces else ()
    ahead = [one.sure for one in ready if one.sure is not None and one.sure > now]
    least = min((LEVELS.index(face.readiness) for face in faces), default=None)
    return PieceClock(
        piece=piece.piece,
        as_of=now,
        readiness="bare" if least is None else cast("Readiness", LEVELS[least]),
        faces=faces,
        ready=ready,
        next_ready=min(ahead, default=None),
        room=piece.room_at(rooms.now_us),
    )


def _face(piece: Piece, run: Run, rooms: Rooms) -> FaceClock:
    top = run.films[-1]
    settled = top.applied_us <= rooms.now_us - LOOK_BACK_US
    times = run.times_us
    stages = _settled_stages(run) if settled else _stages(run, times)
    along, _ = rooms.line(top.read, run.path, rooms.now_us)
    window_us = unabraded_until_us(top.read.sheet, top.coat(0.0), along)
    sandable = stages[STAGES.index("sandable")]
    silent = (
        *gaps(rooms.course(top.read, run.path), top.applied_us, times[-1][-1]),
        *(
            (start, min(end, times[-1][-1]))
            for start, end in rooms.stale(run.path)
            if end > top.applied_us and start < times[-1][-1]
        ),
    )
    return FaceClock(
        faces=run.stack.faces,
        readiness="cured" if settled else _readiness(stages, moment(rooms.now_us)),
        coat_number=piece.coats_on(run.stack.faces[0]),
        coat=top.event,
        applied_at=moment(top.applied_us),
        wet_film_um=round(top.wet_film_um, 1),
        product=top.read.product,
        lot=top.lot,
        stages=stages,
        recoat=Recoat(
            likely_from=sandable.likely,
            surely_from=sandable.sure,
            abrade_after=None if window_us is None else _moment(window_us),
        ),
        learned=_learned(run.factors[-1]),
        void=void_of(run, rooms, rooms.now_us),
        silences=tuple(Silence(start=moment(a), end=moment(b)) for a, b in sorted(set(silent))),
        reasons=_reasons(run),
        assumed=_assumed(run, rooms, settled=settled),
    )


def _stages(run: Run, times: Times) -> tuple[StageTime, ...]:
    assumed = run.films[-1].read.assumed_stages
    return tuple(
        StageTime(
            stage=stage, earliest=_moment(early), likely=_moment(likely), sure=_moment(late),
            assumed=silent,
        )
        for stage, (early, likely, late), silent in zip(STAGES, times, assumed, strict=True)
    )  # fmt: skip


def _settled_stages(run: Run) -> tuple[StageTime, ...]:
    """Return the stages of a film too old to run again: reached, nobody asks when."""
    by = moment(run.films[-1].applied_us + LOOK_BACK_US)
    return tuple(
        StageTime(stage=stage, earliest=None, likely=by, sure=by, assumed=True) for stage in STAGES
    )


def _readiness(stages: tuple[StageTime, ...], now: datetime) -> Readiness:
    reached = 0
    for index, time in enumerate(stages):
        if time.sure is None or time.sure > now:
            break
        reached = index + 1
    return cast("Readiness", LEVELS[reached])


def _ready_for(purpose: Purpose, faces: tuple[FaceClock, ...], now: datetime) -> ReadyFor:
    """Return the slowest face's times; a void film will do for nothing but touching."""
    stage = PURPOSES[purpose]
    spoilt = next((face for face in faces if face.void is not None), None)
    if spoilt is not None and purpose != "touch":
        return ReadyFor(purpose=purpose, ready=False, likely=None, sure=None, face=spoilt.faces[0])
    far = moment(NEVER_US // 64)
    slowest = max(faces, key=lambda face: face.at(stage).sure or far)
    time = slowest.at(stage)
    return ReadyFor(
        purpose=purpose,
        ready=time.sure is not None and time.sure <= now,
        likely=time.likely,
        sure=time.sure,
        face=slowest.faces[0],
    )


def void_of(run: Run, rooms: Rooms, now_us: int) -> Void | None:
    """Return since when, and in what air, a film of a stack was too cold to form; None if sound."""
    for film, void_us in zip(run.films, run.void_us, strict=True):
        if void_us == NEVER_US or void_us > now_us:
            continue
        says = "the film was below its film-formation temperature while it dried"
        reading = _reading_at(rooms, run.path, void_us)
        if reading is not None:
            air_c, rh_pct = reading
            says = (
                f"at {air_c:g} C and {rh_pct:g} % the wet film was at "
                f"{air.wet_bulb_c(air_c, rh_pct):.1f} C; it needs {film.read.sheet.mfft_c:g} C"
            )
        return Void(since=moment(void_us), event=film.event, says=says)
    return None


def _reading_at(rooms: Rooms, path: Path, at_us: int) -> tuple[float, float] | None:
    readings = rooms.along(path)
    if not readings.times_us.size:
        return None
    held = max(int(readings.times_us.searchsorted(at_us, side="right")) - 1, 0)
    return float(readings.air_c[held]), float(readings.rh_pct[held])


def _reasons(run: Run) -> tuple[Because, ...]:
    films = [
        Because(
            event=film.event,
            says=f"{film.what}{f' from {film.lot}' if film.lot else ''}, {film.wet_film_um:.0f} um "
            f"wet{f' over {below:.0f} um not yet dry' if below >= 1.0 else ''}",
        )
        for film, below in zip(run.films, run.below_um, strict=True)
    ]
    checks = [
        Because(event=c.event, says=f"found {'' if c.ready else 'not '}{c.stage} by hand")
        for c in run.checks
    ]
    return (*films, *checks)


def _assumed(run: Run, rooms: Rooms, *, settled: bool) -> tuple[str, ...]:
    if settled:
        return ("older than 120 days: taken for cured",)
    says: dict[str, None] = {}
    for film in run.films:
        says.update(dict.fromkeys((*film.read.assumed, *film.assumed)))
    for film, factor in zip(run.films, run.factors, strict=True):
        if words := in_words(film.read.product, factor):
            says[words] = None
    says.update(dict.fromkeys(rooms.says(run.path)))
    return tuple(says)


def _learned(factor: Spread) -> Spread | None:
    taught = isinstance(factor, Taught)
    return Spread(factor.p10, factor.p50, factor.p90) if taught else None


def _moment(us: int) -> datetime | None:
    return None if us >= NEVER_US // 64 else moment(us)
