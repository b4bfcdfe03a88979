"""Codes as SVG and in a terminal: both are read again, on light ground and on dark."""

from io import BytesIO
from typing import Any

import pytest
import vl_convert
from coatledger_adapters.qr import QUIET_MODULES, lines, modules, svg
from PIL import Image
from printer import read

LINK = "http://192.168.1.20:8700/pair#7KQ2-M9ZA-41XN"


def test_an_svg_code_is_read_and_named() -> None:
    drawn = svg(LINK, "Pairs <phone>")
    assert "<title>Pairs &lt;phone&gt;</title>" in drawn
    png = vl_convert.svg_to_png(drawn.replace("<svg ", '<svg width="300" height="300" ', 1))
    assert read(Image.open(BytesIO(png)).convert("L")) == LINK


def on_terminal(shown: tuple[str, ...], ink: int, ground: int) -> Any:
    """Paint half blocks as a terminal does: two squares a character, one above the other."""
    upper, lower = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}, 2 * len(shown)
    picture = Image.new("L", (len(shown[0]), lower), ground)
    for row, line in enumerate(shown):
        for column, letter in enumerate(line):
            for half, drawn in enumerate(upper[letter]):
                picture.putpixel((column, 2 * row + half), ink if drawn else ground)
    return picture.resize((picture.width * 6, picture.height * 6), Image.Resampling.NEAREST)


@pytest.mark.parametrize("text", ["http://b/pair#1", LINK, LINK * 3])
def test_a_code_in_a_terminal_is_read(text: str) -> None:
    shown = lines(text)
    assert len({len(line) for line in shown}) == 1
    assert len(shown[0]) == len(modules(text, "M")) + 2 * QUIET_MODULES
    assert read(on_terminal(shown, ink=255, ground=0)) == text


def test_a_code_has_a_quiet_zone_all_around() -> None:
    shown = lines(LINK)
    for line in (*shown[: QUIET_MODULES // 2], *shown[-QUIET_MODULES // 2 :]):
        assert set(line) == {"█"}
    assert all(line.startswith("█" * QUIET_MODULES) for line in shown)
    assert all(line.endswith("█" * QUIET_MODULES) for line in shown)
