"""QR codes of short texts, as SVG, as lines for a terminal, and as the squares themselves.

*Reference:* ISO/IEC 18004; segno draws them. A quiet zone of four modules is part of every drawing,
as the standard asks, so that nothing beside it can be taken for the code.
"""

from collections.abc import Mapping
from typing import Literal

import segno

QUIET_MODULES = 4
# What part of the code may be lost: about 7, 15, 25 and 30 % of its codewords.
ErrorLevel = Literal["L", "M", "Q", "H"]


def modules(text: str, error: ErrorLevel) -> tuple[tuple[bool, ...], ...]:
    """Return the rows of a code, dark as true, without its quiet zone."""
    code = segno.make(text, error=error, micro=False, boost_error=True)
    return tuple(tuple(bool(dark) for dark in row) for row in code.matrix)


def svg(text: str, title: str, error: ErrorLevel = "M") -> str:
    """Draw a code as one SVG element, as large as the place it is put in."""
    code = segno.make(text, error=error, micro=False, boost_error=True)
    drawn: str = code.svg_inline(
        border=QUIET_MODULES,
        omitsize=True,
        title=title,
        light="#fff",
        svgclass=None,
        lineclass=None,
    )
    return drawn.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" role="img" ', 1)


def lines(text: str, error: ErrorLevel = "M") -> tuple[str, ...]:
    """Draw a code in half blocks, two rows of modules a line, light on whatever the terminal is.

    Light modules are drawn and dark ones left out, because most terminals are dark; the quiet zone
    is drawn as well, so that the code stands out on either.
    """
    rows = modules(text, error)
    width = len(rows) + 2 * QUIET_MODULES
    light = (False,) * width
    side = (False,) * QUIET_MODULES
    framed = [light] * QUIET_MODULES + [(*side, *row, *side) for row in rows]
    framed += [light] * (QUIET_MODULES + width % 2)
    pairs = zip(framed[::2], framed[1::2], strict=True)
    return tuple(
        "".join(_HALVES[top, low] for top, low in zip(*pair, strict=True)) for pair in pairs
    )


_HALVES: Mapping[tuple[bool, bool], str] = {
    (False, False): "█",
    (False, True): "▀",
    (True, False): "▄",
    (True, True): " ",
}
