"""The films of many pieces run over their air at once: one array per product and path of rooms.

First each film finds what is still wet below it, from the lowest up; then every film's times are
one look-up. One piece or a whole shop: the same code.
"""

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np

from coatledger.clocks.films import Film, Stack
from coatledger.clocks.learned import Seen, conditioned, intervals_of, widened
from coatledger.clocks.rooms import LOOK_BACK_US, Path, Rooms
from coatledger.computations.drying import Spread, spread
from coatledger.computations.drying_climate import NEVER_US, Micros
from coatledger.computations.drying_clock import (
    BARE_WOOD_LOG_SD,
    Coats,
    factor_reached,
    ready_times_us,
    undried_um,
    void_from_us,
)
from coatledger.subjects.piece import Check

WET_MOST_UM: Final = 2000.0  # what the drying model was checked for


class Run:
    """One stack of films on its way through the air of its rooms; filled in by `run_all`."""

    __slots__ = ("below_um", "checks", "films", "path", "ready", "stack", "void_us")

    def __init__(self, stack: Stack, path: Path, checks: tuple[Check, ...], now_us: int) -> None:
        self.stack = stack
        self.path = path
        recent = tuple(f for f in stack.films if f.applied_us > now_us - LOOK_BACK_US)
        # A film older than any film dries is settled; only the newest is kept, to be spoken of.
        self.films = recent or stack.films[-1:]
        self.below_um = [0.0]
        self.ready: list[Micros] = []
        self.void_us: list[int] = []
        top_us = self.films[-1].applied_us
        self.checks = tuple(c for c in checks if c.face in stack.faces and c.at_us > top_us)

    @property
    def times_us(self) -> Micros:
        """Stages x (10, 50, 90 %): a stage is reached when every film of the stack is there."""
        together: Micros = np.maximum.reduce(self.ready)
        return together


def run_all(runs: Iterable[Run], rooms: Rooms, factors: Mapping[str, Spread]) -> None:
    """Fill in when each film of each stack reaches each stage and whether it became void."""
    every = tuple(runs)
    sink_wet(every, rooms, factors)
    rows: dict[tuple[str, Path], list[tuple[Run, int]]] = {}
    for run in every:
        run.ready = [_NONE] * len(run.films)
        run.void_us = [NEVER_US] * len(run.films)
        for level, film in enumerate(run.films):
            rows.setdefault((film.read.key, run.path), []).append((run, level))
    for (_, path), group in rows.items():
        read = group[0][0].films[group[0][1]].read
        course = rooms.course(read, path)
        factor = _factor(read.product, factors)
        coats = coats_of([(r.films[level], r.below_um[level], level) for r, level in group])
        ready = ready_times_us(read.sheet, coats, course, factor)
        void = void_from_us(read.sheet, coats, course, factor)
        for (run, level), times, void_us in zip(group, ready, void, strict=True):
            run.ready[level] = times
            run.void_us[level] = int(void_us)
    for run in every:
        if run.checks:
            _told_by_hand(run, rooms, factors)


def sink_wet(runs: tuple[Run, ...], rooms: Rooms, factors: Mapping[str, Spread]) -> None:
    """Find what is still wet below each film when it goes on, level by level."""
    level = 0
    waiting = [run for run in runs if len(run.films) > 1]
    while waiting:
        groups: dict[tuple[str, Path], list[Run]] = {}
        for run in waiting:
            groups.setdefault((run.films[level].read.key, run.path), []).append(run)
        for (_, path), group in groups.items():
            read = group[0].films[level].read
            coats = coats_of([(r.films[level], r.below_um[level], level) for r in group])
            at = np.array([r.films[level + 1].applied_us for r in group], dtype=np.int64)
            factor = _factor(read.product, factors)
            left = undried_um(read.sheet, coats, rooms.course(read, path), factor, at)
            for run, um in zip(group, left, strict=True):
                run.below_um.append(min(float(um), WET_MOST_UM))
        level += 1
        waiting = [run for run in waiting if len(run.films) > level + 1]


def _told_by_hand(run: Run, rooms: Rooms, factors: Mapping[str, Spread]) -> None:
    """A finger on the film beats the model: the checks of the top coat narrow its own factor."""
    top = len(run.films) - 1
    film = run.films[top]
    course = rooms.course(film.read, run.path)
    # The doubt about bare wood goes into the belief before the checks, not on top of them again.
    one = coats_of([(film, run.below_um[top], 1)])
    seen = tuple(
        Seen(
            reached=float(
                factor_reached(
                    film.read.sheet, one, course, check.stage,
                    np.array([check.at_us], dtype=np.int64),
                )[0]
            ),
            ready=check.ready,
        )
        for check in run.checks
    )  # fmt: skip
    belief = _factor(film.read.product, factors)
    if top == 0:
        belief = widened(belief, BARE_WOOD_LOG_SD)
    factor = conditioned(belief, *intervals_of(seen))
    run.ready[top] = ready_times_us(film.read.sheet, one, course, factor)[0]


def coats_of(rows: list[tuple[Film, float, int]]) -> Coats:
    """Write films as rows of the drying model: the film, what is wet below, its level."""
    return Coats(
        np.array([film.applied_us for film, _, _ in rows], dtype=np.int64),
        np.array([film.wet_film_um for film, _, _ in rows]),
        np.array([below for _, below, _ in rows]),
        np.array([level == 0 for _, _, level in rows]),
        np.array([film.extender_pct for film, _, _ in rows]),
        np.array([film.crosslinked for film, _, _ in rows]),
    )


def _factor(product: str | None, factors: Mapping[str, Spread]) -> Spread:
    return factors.get(product or "", spread())


_NONE: Final = np.zeros((0, 3), dtype=np.int64)
_NONE.setflags(write=False)
