"""One label: a QR code as large as its place allows, and beside it the same for the human eye.

The code's modules are whole dots of a 203 dpi label printer, three at least, at error level H or Q:
small enough for a 20 mm label, and still read when fine dust covers a tenth of it and it is seen
from too far away (held by a test). A word is never cut, only shrunk and wrapped; what stands beside
it may be.
"""

from typing import NamedTuple

from coatledger_adapters import qr
from coatledger_adapters.printed.lettering import (
    MM_PER_PT,
    Letters,
    cut,
    largest_mm,
    wrapped,
)
from coatledger_adapters.printed.marks import Frame, Mark, Page, Squares, Words
from coatledger_adapters.printed.paper import Sheet

DOT_MM = 25.4 / 203
MODULE_DOTS_LEAST = 3
# The best level that fits; below Q (25 %) a tenth of dust with what a camera loses is too much.
LEVELS: tuple[qr.ErrorLevel, ...] = ("H", "Q")
PAD_MM = 1.2
TEXT_LEAST_MM = 14.0
HEAD_MM = (6.5 * MM_PER_PT, 15 * MM_PER_PT)
LINE_MM = (5.5 * MM_PER_PT, 9 * MM_PER_PT)
LEADING = 1.22
HEAD_LINES_MAX = 4


class Label(NamedTuple):
    """What stands on a label: the address in its code, the subject's word, and lines about it."""

    link: str
    word: str
    lines: tuple[str, ...]


class LabelError(Exception):
    """A label is too small for what must stand on it; `parameter` says which side."""

    def __init__(self, parameter: str, says: str) -> None:
        self.parameter = parameter
        super().__init__(says)


class _Place(NamedTuple):
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


def pages(
    labels: tuple[Label, ...], sheet: Sheet, written: Letters, *, skip: int = 0,
    outline: bool = False,
) -> tuple[Page, ...]:  # fmt: skip
    """Lay labels on as many sheets as they need; `skip` leaves the first places of the first free,
    for a sheet that was used before. No labels are one empty sheet."""
    count = max(1, -(-(skip + len(labels)) // sheet.holds))
    marks: list[list[Mark]] = [[] for _ in range(count)]
    for number, label in enumerate(labels, skip):
        page, place = divmod(number, sheet.holds)
        marks[page] += drawn(label, sheet, sheet.place(place), written)
    if outline:
        frames = [
            Frame(*sheet.place(place), sheet.label_width_mm, sheet.label_height_mm)
            for place in range(sheet.holds)
        ]
        marks = [[*frames, *page] for page in marks]
    return tuple(Page(*sheet.paper, tuple(page)) for page in marks)


def drawn(
    label: Label, sheet: Sheet, at_mm: tuple[float, float], written: Letters
) -> tuple[Mark, ...]:
    """Draw one label with its top left corner at a place."""
    width_mm, height_mm = sheet.label_width_mm, sheet.label_height_mm
    wide = width_mm >= height_mm + TEXT_LEAST_MM / 2
    if wide:
        side_mm = min(height_mm - 2 * PAD_MM, width_mm - 3 * PAD_MM - TEXT_LEAST_MM)
    else:
        side_mm = min(width_mm - 2 * PAD_MM, height_mm * 0.64)
    rows, module_mm = _code(label.link, side_mm, "height" if wide else "width")
    code_mm = module_mm * (len(rows) + 2 * qr.QUIET_MODULES)
    x_mm, y_mm = at_mm
    code_x = x_mm + (PAD_MM if wide else (width_mm - code_mm) / 2)
    code_y = y_mm + ((height_mm - code_mm) / 2 if wide else PAD_MM)
    quiet_mm = qr.QUIET_MODULES * module_mm
    code = Squares(_on_dots(code_x + quiet_mm), _on_dots(code_y + quiet_mm), module_mm, rows)
    if wide:
        left = PAD_MM + code_mm + PAD_MM / 2
        text = _Place(x_mm + left, y_mm + PAD_MM, width_mm - left - PAD_MM, height_mm - 2 * PAD_MM)
    else:
        above = PAD_MM + code_mm
        text = _Place(
            x_mm + PAD_MM, y_mm + above, width_mm - 2 * PAD_MM, height_mm - above - PAD_MM
        )
    return (code, *_text(label, text, written))


def least_side_mm(link: str) -> float:
    """Return the least side of the square a link's code needs, quiet zone included."""
    count = len(qr.modules(link, LEVELS[-1])) + 2 * qr.QUIET_MODULES
    return count * MODULE_DOTS_LEAST * DOT_MM


def _code(link: str, side_mm: float, side: str) -> tuple[tuple[tuple[bool, ...], ...], float]:
    for level in LEVELS:
        rows = qr.modules(link, level)
        dots = int(side_mm / (len(rows) + 2 * qr.QUIET_MODULES) / DOT_MM + 1e-9)
        if dots >= MODULE_DOTS_LEAST:
            return rows, dots * DOT_MM
    raise LabelError(
        f"label_{side}_mm",
        f"the code of {link} needs {least_side_mm(link):.1f} mm of the label's {side}, and "
        f"{max(side_mm, 0):.1f} are left for it; a shorter address makes a smaller code",
    )


def _text(label: Label, place: _Place, written: Letters) -> tuple[Mark, ...]:
    """Write the word as large as it fits, then the lines below it, in the middle of the height."""
    word = written.written(label.word)
    head_mm = largest_mm(written, word, place.width_mm, HEAD_MM[0], HEAD_MM[1], bold=True)
    heads: tuple[str, ...] = (word,)
    if head_mm is None:
        head_mm = HEAD_MM[0]
        heads = wrapped(written, word, place.width_mm, head_mm, bold=True)
    head_mm = min(head_mm, place.height_mm / len(heads) / LEADING)
    if len(heads) > HEAD_LINES_MAX or head_mm < LINE_MM[0]:
        raise LabelError("label_width_mm", f"the word {label.word} does not fit beside its code")
    left_mm = place.height_mm - len(heads) * head_mm * LEADING
    lines = _lines(label.lines, place.width_mm, left_mm, written)
    free_mm = left_mm - sum(size_mm for _, size_mm in lines) * LEADING
    y_mm = place.y_mm + free_mm / 2
    marks: list[Mark] = []
    sized = [(text, head_mm, True) for text in heads] + [(*line, False) for line in lines]
    for text, size_mm, bold in sized:
        wide_mm = written.width_mm(text, size_mm, bold=bold)
        marks.append(Words(place.x_mm, y_mm + size_mm, text, size_mm, wide_mm, bold))
        y_mm += size_mm * LEADING
    return tuple(marks)


def _lines(
    lines: tuple[str, ...], width_mm: float, height_mm: float, written: Letters
) -> list[tuple[str, float]]:
    """Return the lines that fit below each other, the first being the most important, each with its
    size: as large as the others, or shrunk to its width, and only then cut."""
    shown = [written.written(line) for line in lines if line]
    room = min(len(shown), int(height_mm / (LINE_MM[0] * LEADING) + 1e-9))
    if room == 0:
        return []
    most_mm = min(LINE_MM[1], height_mm / room / LEADING)
    found = []
    for line in shown[:room]:
        least_mm = min(LINE_MM[0], most_mm)
        size_mm = largest_mm(written, line, width_mm, least_mm, most_mm) or least_mm
        found.append((cut(written, line, width_mm, size_mm), size_mm))
    return found


def _on_dots(place_mm: float) -> float:
    return round(place_mm / DOT_MM) * DOT_MM
