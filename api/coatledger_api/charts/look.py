"""How pictures look: four variants, each told apart by lightness, shape and dash as well as hue.

Blue and burnt orange keep apart for every kind of colour blindness; nothing is said by hue alone.
"""

from collections.abc import Mapping
from typing import Any, Literal

Look = Literal["light", "dark", "contrast", "print"]
FONT = "DejaVu Sans, Verdana, sans-serif"
# ink, quiet lines, what is plotted, what stands out, what lies behind, paper
_INKS: Mapping[str, Mapping[str, str]] = {
    "light": {
        "ink": "#23201c", "quiet": "#6d6459", "grid": "#e4dccd", "main": "#1f5a86",
        "out": "#b4501a", "wash": "#f1e3cf", "paper": "#fbf8f2",
    },
    "dark": {
        "ink": "#f4eee0", "quiet": "#c6bdab", "grid": "#453f35", "main": "#8cc0e3",
        "out": "#f39d74", "wash": "#4a3a26", "paper": "#24211c",
    },
    "contrast": {
        "ink": "#000000", "quiet": "#000000", "grid": "#b0b0b0", "main": "#00308f",
        "out": "#a01800", "wash": "#ffe27a", "paper": "#ffffff",
    },
    "print": {
        "ink": "#000000", "quiet": "#333333", "grid": "#d0d0d0", "main": "#000000",
        "out": "#000000", "wash": "#e3e3e3", "paper": "#ffffff",
    },
}  # fmt: skip


def inks(look: Look) -> Mapping[str, str]:
    """Return the colours of a variant by what they are for."""
    return _INKS[look]


def config(look: Look) -> dict[str, Any]:
    """Return what a Vega-Lite specification says of fonts, lines and colours."""
    ink = _INKS[look]
    strong = 2.5 if look == "contrast" else 1.8
    text = {"font": FONT, "fontSize": 13, "fill": ink["ink"]}
    axis = {
        "labelFont": FONT, "titleFont": FONT, "labelFontSize": 13, "titleFontSize": 13,
        "titleFontWeight": "normal", "labelColor": ink["ink"], "titleColor": ink["quiet"],
        "gridColor": ink["grid"], "domainColor": ink["quiet"], "tickColor": ink["quiet"],
        "labelLimit": 260, "labelOverlap": "greedy", "labelSeparation": 6,
    }  # fmt: skip
    return {
        "background": ink["paper"],
        "padding": 10,
        "font": FONT,
        "view": {"stroke": None},
        "axis": axis,
        "axisX": {"titleAnchor": "end"},  # under narrow plots a long name then has room to its left
        "legend": {
            "labelFont": FONT, "titleFont": FONT, "labelFontSize": 13, "titleFontSize": 13,
            "labelColor": ink["ink"], "titleColor": ink["quiet"], "orient": "top",
            "titleFontWeight": "normal", "symbolSize": 120, "labelLimit": 260,
        },
        "title": {
            "font": FONT, "fontSize": 15, "color": ink["ink"], "anchor": "start", "offset": 12,
            "fontWeight": "bold", "subtitleFont": FONT, "subtitleFontSize": 13,
            "subtitleColor": ink["quiet"], "subtitlePadding": 5,
        },
        "line": {"strokeWidth": strong, "color": ink["main"]},
        "rule": {"strokeWidth": strong, "color": ink["main"]},
        "point": {"filled": True, "size": 70, "color": ink["main"]},
        "bar": {"color": ink["main"]},
        "text": text,
    }  # fmt: skip
