"""A sheet of labels: the paper, and where on it each label stands, in millimetres.

Nothing is rounded here: what a maker of label sheets prints on the box can be given as it stands.
"""

from collections.abc import Mapping
from typing import NamedTuple

LABEL_LEAST_MM = 10.0
# Sheets are cut and sizes told in tenths; a sum that is over by less than that still fits.
SLACK_MM = 0.05


class Paper(NamedTuple):
    """A size of paper, upright."""

    width_mm: float
    height_mm: float


# ISO 216; ANSI/ASME Y14.1 (8.5 by 11 inches).
PAPERS: Mapping[str, Paper] = {
    "a4": Paper(210.0, 297.0), "letter": Paper(215.9, 279.4), "a5": Paper(148.0, 210.0),
    "a6": Paper(105.0, 148.0),
}  # fmt: skip


class Sheet(NamedTuple):
    """How labels lie on a paper."""

    paper: Paper
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    gap_x_mm: float
    gap_y_mm: float
    label_width_mm: float
    label_height_mm: float

    @property
    def holds(self) -> int:
        """How many labels a sheet holds."""
        return self.columns * self.rows

    def place(self, number: int) -> tuple[float, float]:
        """Return the top left corner of a label, counted from 0, row by row."""
        row, column = divmod(number, self.columns)
        return (
            self.left_mm + column * (self.label_width_mm + self.gap_x_mm),
            self.top_mm + row * (self.label_height_mm + self.gap_y_mm),
        )


class SheetError(Exception):
    """Labels do not lie on the paper that way; `faults` are parameters, each with what is wrong."""

    def __init__(self, faults: tuple[tuple[str, str], ...]) -> None:
        self.faults = faults
        super().__init__("; ".join(f"{name}: {says}" for name, says in faults))


def sheet_of(
    paper: Paper, columns: int, rows: int, *, left_mm: float, top_mm: float, gap_x_mm: float = 0.0,
    gap_y_mm: float = 0.0, label_width_mm: float | None = None,
    label_height_mm: float | None = None,
) -> Sheet:  # fmt: skip
    """Lay labels on a paper. Without a size they fill what margins and gaps leave, the margins at
    right and below being those at left and above."""
    width_mm, one = _fitted("width", paper.width_mm, columns, left_mm, gap_x_mm, label_width_mm)
    height_mm, other = _fitted("height", paper.height_mm, rows, top_mm, gap_y_mm, label_height_mm)
    faults = tuple(fault for fault in (one, other) if fault is not None)
    if faults:
        raise SheetError(faults)
    return Sheet(paper, columns, rows, left_mm, top_mm, gap_x_mm, gap_y_mm, width_mm, height_mm)


def _fitted(
    side: str, paper_mm: float, count: int, margin_mm: float, gap_mm: float, asked_mm: float | None
) -> tuple[float, tuple[str, str] | None]:
    gaps_mm = (count - 1) * gap_mm
    if asked_mm is None:
        size_mm = (paper_mm - 2 * margin_mm - gaps_mm) / count
        if size_mm < LABEL_LEAST_MM:
            says = (
                f"{count} labels leave {max(size_mm, 0):.1f} mm each; {LABEL_LEAST_MM:g} is least"
            )
            return size_mm, ("columns" if side == "width" else "rows", says)
        return size_mm, None
    needed_mm = margin_mm + count * asked_mm + gaps_mm
    if needed_mm > paper_mm + SLACK_MM:
        says = f"{needed_mm:.1f} mm are needed and the paper has {paper_mm:g}"
        return asked_mm, (f"label_{side}_mm", says)
    return asked_mm, None
