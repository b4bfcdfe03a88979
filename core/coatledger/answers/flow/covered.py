"""Stretches of time as sorted rows, and how much of a gap they cover."""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

Rows = npt.NDArray[np.int64]


class Covered:
    """Disjoint stretches in microseconds, ascending."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self._before = np.concatenate(([0], np.cumsum(rows[:, 1] - rows[:, 0])))

    def within(self, start_us: int, end_us: int) -> int:
        """Return how many microseconds of a gap are covered."""
        if end_us <= start_us or not len(self.rows):
            return 0
        return self._up_to(end_us) - self._up_to(start_us)

    @property
    def total_us(self) -> int:
        """Return how much is covered in all."""
        return int(self._before[-1])

    def _up_to(self, at_us: int) -> int:
        row = int(np.searchsorted(self.rows[:, 0], at_us, side="right")) - 1
        if row < 0:
            return 0
        inside = min(at_us, int(self.rows[row, 1])) - int(self.rows[row, 0])
        return int(self._before[row]) + inside


def at_least(spans: Iterable[tuple[int, int]], level: int = 1) -> Covered:
    """Return where at least so many of some spans lie over one another."""
    steps: dict[int, int] = {}
    for start, end in spans:
        if end > start:
            steps[start] = steps.get(start, 0) + 1
            steps[end] = steps.get(end, 0) - 1
    rows: list[tuple[int, int]] = []
    depth, since = 0, 0
    for at_us in sorted(steps):
        after = depth + steps[at_us]
        if depth < level <= after:
            since = at_us
        elif after < level <= depth:
            rows.append((since, at_us))
        depth = after
    return Covered(_array(rows))


def both(one: Covered, other: Covered) -> Covered:
    """Return where both cover."""
    return at_least((*_pairs(one), *_pairs(other)), 2)


def without(one: Covered, other: Covered) -> Covered:
    """Return where the first covers and the other does not."""
    rows: list[tuple[int, int]] = []
    holes = list(_pairs(both(one, other)))
    place = 0
    for start, end in _pairs(one):
        while place < len(holes) and holes[place][0] < end:
            if holes[place][0] > start:
                rows.append((start, holes[place][0]))
            start = holes[place][1]
            place += 1
        if start < end:
            rows.append((start, end))
    return Covered(_array(rows))


def _pairs(covered: Covered) -> Iterable[tuple[int, int]]:
    return ((int(start), int(end)) for start, end in covered.rows)


def _array(rows: list[tuple[int, int]]) -> Rows:
    return np.array(rows, dtype=np.int64).reshape(-1, 2)
