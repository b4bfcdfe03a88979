"""What a page is made of before it is PDF or SVG: words, squares of a code, frames; in millimetres
from the page's top left."""

from typing import NamedTuple, TypeAlias


class Words(NamedTuple):
    """A line of text that begins at x on a base line at y. `width_mm` is what it was measured to
    take, so that another font is squeezed into the same place."""

    x_mm: float
    y_mm: float
    text: str
    size_mm: float
    width_mm: float
    bold: bool = False


class Squares(NamedTuple):
    """The dark modules of a code, its first one at x, y."""

    x_mm: float
    y_mm: float
    module_mm: float
    rows: tuple[tuple[bool, ...], ...]

    def runs(self) -> tuple[tuple[int, int, int], ...]:
        """Return the dark stretches as (row, first column, how many)."""
        found = []
        for number, row in enumerate(self.rows):
            start = None
            for column, dark in enumerate((*row, False)):
                if dark and start is None:
                    start = column
                elif not dark and start is not None:
                    found.append((number, start, column - start))
                    start = None
        return tuple(found)


class Frame(NamedTuple):
    """A thin outline."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


Mark: TypeAlias = Words | Squares | Frame


class Page(NamedTuple):
    """One page with what stands on it."""

    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
