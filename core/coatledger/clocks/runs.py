"""The films of one stack run over their air, lowest first: how wet each lies on the one below it,
when each reaches each stage, and whether it became void."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from coatledger.clocks.films import Film, Stack, stacks_of
from coatledger.clocks.learned import Seen, conditioned, intervals_of, widened
from coatledger.clocks.rooms import LOOK_BACK_US, Path, Rooms, path_of
from coatledger.computations.drying import STAGES, Spread, spread
from coatledger.computations.drying_clock import BARE_WOOD_LOG_SD, factor_points
from coatledger.computations.drying_one import Drying
from coatledger.subjects.piece import Check, Piece

WET_MOST_UM: Final = 2000.0  # what the drying model was checked for
NO_FACTORS: Final[Mapping[str, Spread]] = MappingProxyType({})
_SHEET: Final = spread()
_LIKELY, _SURE = 1, 2
Points = tuple[float, float, float]


class Run:
    """One stack of films on its way through the air of its rooms, as it was at a moment.

    The moment may lie before the rooms' own: readings after it do not count.
    """

    __slots__ = (
        "_dryings", "_points", "_upto", "below_um", "checks", "factors",
        "films", "path", "stack",
    )  # fmt: skip

    def __init__(
        self, stack: Stack, path: Path, checks: tuple[Check, ...], now_us: int, rooms: Rooms,
        factors: Mapping[str, Spread] = NO_FACTORS,
    ) -> None:  # fmt: skip
        self.stack = stack
        self.path = path
        recent = tuple(f for f in stack.films if f.applied_us > now_us - LOOK_BACK_US)
        # A film older than any film dries is settled; only the newest is kept, to be spoken of.
        self.films = recent or stack.films[-1:]
        top_us = self.films[-1].applied_us
        self.factors = tuple(_factor(film, factors) for film in self.films)
        self.checks = tuple(c for c in checks if c.face in stack.faces and c.at_us > top_us)
        self.below_um: list[float] = []
        self._dryings: list[Drying] = []
        self._points: list[Points] = []
        below_um = 0.0
        for level, film in enumerate(self.films):
            drying, self._upto = rooms.drying(film, path, now_us, below_um)
            factor = self.factors[level]
            self.below_um.append(below_um)
            self._dryings.append(drying)
            self._points.append(factor_points(factor, bare_wood=level == 0))
            if film is not self.films[-1]:
                next_us = self.films[level + 1].applied_us
                below_um = min(drying.undried_um(next_us, factor.p50), WET_MOST_UM)
        if self.checks:
            self._points[-1] = self._told_by_hand(self.factors[-1])

    def stage_us(self, stage: int) -> tuple[int, int, int]:
        """Return when a stage is reached (10, 50, 90 %): when every film of the stack is there."""
        early, likely, late = (self._reached_us(stage, point) for point in range(3))
        return early, likely, late

    def likely_us(self, stage: int) -> int:
        """Return only the middle of `stage_us`."""
        return self._reached_us(stage, _LIKELY)

    @property
    def times_us(self) -> tuple[tuple[int, int, int], ...]:
        """Every stage's times."""
        return tuple(self.stage_us(stage) for stage in range(len(STAGES)))

    @property
    def last_us(self) -> int:
        """When the last stage is surely reached."""
        return self._reached_us(len(STAGES) - 1, _SURE)

    @property
    def void_us(self) -> tuple[int, ...]:
        """When each film first dried too cold to form, `NEVER_US` when it did not."""
        each = zip(self._dryings, self.factors, strict=True)
        return tuple(drying.void_from_us(factor.p50, self._upto) for drying, factor in each)

    def top_reached(self, check: Check) -> float:
        """Return the factor at which the top film would have been ready just at a check."""
        return self._dryings[-1].factor_reached(STAGES.index(check.stage), check.at_us)

    def _reached_us(self, stage: int, point: int) -> int:
        ready = zip(self._dryings, self._points, strict=True)
        return max(drying.ready_us(stage, points[point], self._upto) for drying, points in ready)

    def _told_by_hand(self, belief: Spread) -> Points:
        """A finger on the film beats the model: checks of the top coat narrow its own factor."""
        seen = tuple(Seen(self.top_reached(check), check.ready) for check in self.checks)
        # Doubt about bare wood goes into the belief before the checks, not on top of them again.
        if len(self.films) == 1:
            belief = widened(belief, BARE_WOOD_LOG_SD)
        factor = conditioned(belief, *intervals_of(seen))
        return factor_points(factor, bare_wood=False)


def runs_of(
    piece: Piece, films: tuple[Film, ...], now_us: int, rooms: Rooms,
    factors: Mapping[str, Spread] = NO_FACTORS,
) -> tuple[Run, ...]:  # fmt: skip
    """Return a piece's stacks as they were at a moment: what came after it is not there yet."""
    on_time = tuple(film for film in films if film.applied_us <= now_us)
    path = path_of(piece, on_time, now_us)
    checks = tuple(check for check in piece.checks if check.at_us <= now_us)
    return tuple(Run(stack, path, checks, now_us, rooms, factors) for stack in stacks_of(on_time))


def _factor(film: Film, factors: Mapping[str, Spread]) -> Spread:
    return factors.get(film.read.product or "", _SHEET)
