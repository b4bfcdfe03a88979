"""The look's colours: text 7:1 and what is tapped 3:1, in light, dark, print and high contrast."""

import re
from collections.abc import Mapping

import pytest
from coatledger_api.shop_pages.files import static_file

# Words and what they stand on; then edges one must see and what they stand on.
TEXT = (
    ("ink", "sheet"), ("ink", "board"), ("faded", "board"), ("faded", "sheet"),
    ("tape-ink", "tape"), ("fresh-ink", "fresh"), ("ember-ink", "ember"), ("ember-edge", "board"),
)  # fmt: skip
EDGES = (
    ("line", "sheet"), ("line", "board"), ("tape-edge", "sheet"), ("fresh-edge", "sheet"),
    ("ember-edge", "sheet"), ("film", "board"),
)  # fmt: skip


def themes() -> Mapping[str, Mapping[str, str]]:
    """The tokens of each theme, each laid over those it builds on."""
    file = static_file("look.css")
    assert file is not None
    text = file.body.decode()
    blocks = re.findall(r"((?:@media [^{]+\{\s*)?):root \{([^}]*)\}", text)
    found: dict[str, dict[str, str]] = {}
    for media, inside in blocks:
        tokens = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]+)", inside))
        name = " ".join(re.findall(r"dark|more|print", media)) or "light"
        base = found.get("dark" if "dark" in name else "light", {})
        found[name] = {**base, **found.get(name, {}), **tokens}
    return found


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * one for one in colour[1:])
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast of two colours (WCAG 2.2)."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#fff") == pytest.approx(4.54, abs=0.01)  # WCAG's own example


@pytest.mark.parametrize("theme", themes())
def test_every_pair_of_a_theme_can_be_told_apart(theme: str) -> None:
    tokens = themes()[theme]
    weak = [
        (a, b, round(contrast(tokens[a], tokens[b]), 2))
        for pairs, least in ((TEXT, 7.0), (EDGES, 3.0))
        for a, b in pairs
        if contrast(tokens[a], tokens[b]) < least
    ]
    assert weak == []
