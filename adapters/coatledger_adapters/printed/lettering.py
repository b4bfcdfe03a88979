"""The letters of printed things: which font, how wide a text is, how to make it fit.

Fira Sans (SIL Open Font License, embedded in the file) has the Latin, Greek and Cyrillic letters of
Europe. A shop of another script names a TrueType font of its own, embedded as well; a letter the
font has not is written without its accent, or else as `?`, never left out. Scripts
that join or reorder their letters are not shaped here: ask for HTML or SVG, where the reader's own
program writes them.
"""

import functools
import unicodedata
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

MM_PER_PT = 25.4 / 72
# A word is broken after these first; when none is near, anywhere.
_BREAKS = "-._/ "


class FontError(Exception):
    """A font cannot be used."""


class Letters(NamedTuple):
    """An upright and a bold font, by the names they are registered under."""

    plain: str
    bold: str
    known: frozenset[int]

    def width_mm(self, text: str, size_mm: float, *, bold: bool = False) -> float:
        """Measure a text."""
        name = self.bold if bold else self.plain
        wide: float = pdfmetrics.stringWidth(text, name, size_mm)
        return wide

    def written(self, text: str) -> str:
        """Return the text in letters the font has."""
        return "".join(self._letter(letter) for letter in text)

    def _letter(self, letter: str) -> str:
        if ord(letter) in self.known:
            return letter
        bare = "".join(
            part
            for part in unicodedata.normalize("NFKD", letter)
            if not unicodedata.combining(part)
        )
        known = bool(bare) and all(ord(part) in self.known for part in bare)
        return bare if known else "?"


@functools.lru_cache(maxsize=8)
def letters(font: str | None = None) -> Letters:
    """Load the letters of a TrueType file, or those that come along; both ways once."""
    ours = Path(str(files("fontpkg_fira_sans"))) / "files"
    plain = ours / "FiraSans-Regular.ttf" if font is None else Path(font)
    bold = ours / "FiraSans-Bold.ttf" if font is None else plain
    names = ("coatledger", "coatledger-bold") if font is None else (f"own-{font}", f"own-{font}")
    faces: list[Any] = []
    for name, path in zip(names, (plain, bold), strict=True):
        try:
            face = TTFont(name, str(path))
        except (TTFError, OSError) as error:
            raise FontError(f"{path} is no TrueType font that can be used: {error}") from None
        pdfmetrics.registerFont(face)
        faces.append(face)
    known = frozenset.intersection(*(frozenset(face.face.charToGlyph) for face in faces))
    return Letters(*names, known)


def largest_mm(
    written: Letters, text: str, width_mm: float, least_mm: float, most_mm: float, *,
    bold: bool = False,
) -> float | None:  # fmt: skip
    """Return the largest size at which a text fits on one line; None when the least does not."""
    wide_mm = written.width_mm(text, 1.0, bold=bold)
    size_mm = min(most_mm, width_mm / wide_mm) if wide_mm else most_mm
    return size_mm if size_mm >= least_mm else None


def wrapped(
    written: Letters, text: str, width_mm: float, size_mm: float, *, bold: bool = False
) -> tuple[str, ...]:
    """Break a text into lines, after a dash, dot or space where one is near, else anywhere."""
    lines: list[str] = []
    rest = text
    while rest:
        count = len(rest)
        while count > 1 and written.width_mm(rest[:count], size_mm, bold=bold) > width_mm:
            count -= 1
        if count < len(rest):
            near = max(rest.rfind(mark, count // 2, count) for mark in _BREAKS)
            count = near + 1 if near >= 0 else count
        lines.append(rest[:count].strip())
        rest = rest[count:].lstrip()
    return tuple(lines)


def cut(written: Letters, text: str, width_mm: float, size_mm: float) -> str:
    """Return the text, cut with an ellipsis where it is too long for its line."""
    if written.width_mm(text, size_mm) <= width_mm:
        return text
    while text and written.width_mm(f"{text}…", size_mm) > width_mm:
        text = text[:-1]
    return f"{text.rstrip()}…"
