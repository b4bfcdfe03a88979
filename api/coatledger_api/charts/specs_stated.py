"""The picture of chances that were said against the share that came true, on one square scale.

*Reference:* the reliability diagram (Murphy and Winkler, Applied Statistics 26 (1977)): on the
diagonal so many came true as was said; above it more.
"""

from typing import Any

from coatledger_api.charts.frame import Frame
from coatledger_api.charts.look import Look, inks
from coatledger_api.charts.specs import HIGH_PX, PERCENT, Spec, whole


def stated_and_kept(frame: Frame, look: Look, width: int) -> Spec:
    """A point where a chance came true so often, a rule where it may as well be; the diagonal."""
    ink = inks(look)
    scale = {"domain": [0, 1], "nice": False}
    axis = {"format": PERCENT, "values": [0, 0.2, 0.4, 0.6, 0.8, 1.0]}
    x: dict[str, Any] = {
        "field": "stated", "type": "quantitative", "title": "chance said", "scale": scale,
        "axis": axis,
    }  # fmt: skip
    y = {**x, "field": "kept", "title": "share kept"}
    level = {"test": "datum.of === 'level'"}
    layers: list[Spec] = [
        {"data": {"values": [{"stated": 0, "kept": 0}, {"stated": 1, "kept": 1}]},
         "mark": {"type": "line", "strokeDash": [5, 4], "strokeWidth": 1.2, "color": ink["quiet"]},
         "encoding": {"x": x, "y": y}},
        {"mark": {"type": "rule", "strokeWidth": 2},
         "encoding": {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}}},
        {"mark": {"type": "point", "filled": True, "size": 110, "opacity": 1},
         "encoding": {
             "x": x, "y": y,
             "shape": {"condition": {**level, "value": "diamond"}, "value": "circle"},
             "color": {"condition": {**level, "value": ink["out"]}, "value": ink["main"]},
         }},
    ]  # fmt: skip
    return whole(frame, look, width, {"layer": layers, "height": HIGH_PX})
