"""Pictures of frames as Vega-Lite specifications, with their numbers inside.

*Reference:* the Vega-Lite grammar, the same in 5 and 6. Each fits a width given in pixels, down to
a phone's.
"""

import math
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec import json

from coatledger_api.charts.frame import Frame
from coatledger_api.charts.look import Look, config, inks

SCHEMA = "https://vega.github.io/schema/vega-lite/v5.json"
CHARACTER_PX = 7.4
ROW_PX, LINE_PX, HIGH_PX = 26, 15, 260
ODDS_DRAWN = (0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0)
PERCENT, COUNT = ".0%", ",d"
Spec = dict[str, Any]


def intervals(
    frame: Frame, look: Look, width: int, *, label: str, value: str, low: str, high: str,
    axis: str, ratio: bool = False, stands_out: str | None = None,
) -> Spec:  # fmt: skip
    """A row a line: a point where the value is, a rule where it may as well be.

    With `ratio` the scale is of odds, evenly spaced by factors, with a line at 1.
    """
    ink = inks(look)
    x: dict[str, Any] = {"field": value, "type": "quantitative", "title": axis}
    if ratio:
        ends = {"type": "log", "domain": [ODDS_DRAWN[0], ODDS_DRAWN[-1]], "clamp": True}
        x |= {"scale": ends, "axis": {"format": "~g", "values": list(ODDS_DRAWN)}}
    else:
        most = max((row[high] or 0.0 for row in frame.records()), default=1.0)
        x["scale"] = {"domain": [0, min(1.0, math.ceil(most * 10) / 10 or 0.1)], "nice": False}
        x["axis"] = {"format": PERCENT, "tickCount": _ticks(width)}
    y, step = _rows_of(frame, label, width)
    point: dict[str, Any] = {"x": x, "y": y}
    if stands_out is not None:
        test = {"test": f"datum['{stands_out}']"}
        point |= {
            "shape": {"condition": {**test, "value": "diamond"}, "value": "circle"},
            "size": {"condition": {**test, "value": 150}, "value": 70},
            "color": {"condition": {**test, "value": ink["out"]}, "value": ink["main"]},
        }
    layers: list[Spec] = [
        {"mark": {"type": "rule", "strokeWidth": 2},
         "encoding": {"x": {**x, "field": low}, "x2": {"field": high}, "y": y}},
        {"mark": {"type": "point", "filled": True, "size": 90, "opacity": 1}, "encoding": point},
    ]  # fmt: skip
    if ratio:
        layers.insert(0, _line_at(1.0, "x", ink["quiet"]))
    return whole(frame, look, width, {"layer": layers, "height": {"step": step}})


def bars(
    frame: Frame, look: Look, width: int, *, label: str, value: str, axis: str, form: str = COUNT
) -> Spec:
    """A row a bar, with its number at its end."""
    y, step = _rows_of(frame, label, width)
    most = max((row[value] or 0.0 for row in frame.records()), default=1.0)
    form = ".1%" if form == PERCENT and most < 0.05 else form
    x = {
        "field": value, "type": "quantitative", "title": axis,
        "axis": {"format": form, "tickCount": _ticks(width)},
        # Room at the end for the longest bar's number.
        "scale": {"domain": [0, (most or 1.0) * (1.0 + 70.0 / width)], "nice": False},
    }  # fmt: skip
    layers: list[Spec] = [
        {"mark": {"type": "bar", "height": 15}, "encoding": {"x": x, "y": y}},
        {"mark": {"type": "text", "align": "left", "dx": 4},
         "encoding": {"x": x, "y": y,
                      "text": {"field": value, "type": "quantitative", "format": form}}},
    ]  # fmt: skip
    return whole(frame, look, width, {"layer": layers, "height": {"step": step}})


def against(
    frame: Frame, look: Look, width: int, *, label: str, have: str, low: str, likely: str,
    high: str, axis: str,
) -> Spec:  # fmt: skip
    """A row a bar of what there is; across it what is wanted: a point, and how far it may lie."""
    ink = inks(look)
    y, step = _rows_of(frame, label, width)
    x = {
        "field": have, "type": "quantitative", "title": axis,
        "axis": {"format": "~g", "tickCount": _ticks(width)},
    }  # fmt: skip
    layers: list[Spec] = [
        {"mark": {"type": "bar", "height": 15, "color": ink["wash"], "stroke": ink["quiet"]},
         "encoding": {"x": x, "y": y}},
        {"mark": {"type": "rule", "strokeWidth": 2},
         "encoding": {"x": {**x, "field": low}, "x2": {"field": high}, "y": y}},
        {"mark": {"type": "point", "filled": True, "size": 80, "opacity": 1},
         "encoding": {"x": {**x, "field": likely}, "y": y}},
    ]  # fmt: skip
    return whole(frame, look, width, {"layer": layers, "height": {"step": step}})


def _rows_of(frame: Frame, label: str, width: int) -> tuple[Spec, int]:
    """Write the labels of rows, in lines that leave the picture half its width or more."""
    room = max(14, int(width * 0.44 / CHARACTER_PX))
    names = [str(row[label]) for row in frame.records()]
    lines = {name: textwrap.wrap(_together(name), room) or [""] for name in names}
    most = max((len(found) for found in lines.values()), default=1)
    y = {
        "field": label, "type": "nominal", "title": None, "sort": names,
        "axis": {
            "ticks": False, "domain": False, "labelPadding": 12, "labelLimit": width,
            "labelOverlap": False,
            "labelExpr": f"{json.encode(lines).decode()}[datum.value]",
        },
    }  # fmt: skip
    return y, ROW_PX + LINE_PX * (most - 1)


def _together(name: str) -> str:
    """Keep a number and its unit in one line."""
    return re.sub(r"(?<=\d) (?=(%|°C|µm|h|mm)(\W|$))|(?<=%) (?=RH)", "\N{NO-BREAK SPACE}", name)


def over_time(
    frame: Frame, look: Look, width: int, *, value: str, axis: str, low: str | None = None,
    high: str | None = None, form: str = PERCENT, level: float | None = None,
    band: tuple[str, str] | None = None, out: str | None = None, marks: Sequence[str] = (),
    upright: bool = False,
) -> Spec:  # fmt: skip
    """A line over days, weeks or months, which the frame's first column names, within limits that
    step from one to the next, or stand `upright` at each.

    `band` lays a wash behind the weeks of a change, `marks` ticks below what was new, and weeks
    where `out` is true have another shape.
    """
    ink = inks(look)
    when, order = frame.columns[0].name, [str(row[0]) for row in frame.rows]
    scale = {"domain": order, "paddingInner": 0, "paddingOuter": 0.2}
    x = {**_when(when, order, width), "scale": scale}
    y = {
        "field": value, "type": "quantitative", "title": axis,
        "scale": {"zero": True, "domainMin": 0},
        "axis": {"format": form, **_steps(form, frame, value)},
    }  # fmt: skip
    layers: list[Spec] = []
    if band is not None:
        inside = [week for week in order if band[0] <= week <= band[1]]
        layers.append(
            {"data": {"values": [{when: week} for week in inside]},
             "mark": {"type": "bar", "color": ink["wash"], "width": {"band": 1}},
             "encoding": {"x": x, "y": {"value": 0}, "y2": {"value": HIGH_PX}}}
        )  # fmt: skip
    # Bars of neighbouring weeks keep apart, however many there are.
    stroke = min(5.0, width / max(1, len(order)) / 3.0) if upright else None
    layers += _limits(x, y, ink, low, high, stroke)
    if level is not None:
        layers.append(_line_at(level, "y", ink["quiet"]))
    # Where points are close they are small, and the line between them thin.
    room = width / max(1, len(order))
    size = max(4.0, min(55.0, room * room))
    line = {"type": "line", **({"strokeWidth": 0.7} if room < 4.0 else {})}
    layers.append({"mark": line, "encoding": {"x": x, "y": y}})
    point: dict[str, Any] = {"x": x, "y": y}
    if out is not None:
        test = {"test": f"datum['{out}']"}
        point |= {
            "shape": {"condition": {**test, "value": "diamond"}, "value": "circle"},
            "size": {"condition": {**test, "value": 190}, "value": size},
            "color": {"condition": {**test, "value": ink["out"]}, "value": ink["main"]},
        }
    mark = {"type": "point", "filled": True, "opacity": 1, "size": size}
    layers.append({"mark": mark, "encoding": point})
    if marks:
        layers.append(
            {"data": {"values": [{when: week} for week in sorted(set(marks)) if week in order]},
             "mark": {"type": "point", "shape": "triangle-up", "filled": True, "size": 60,
                      "color": ink["ink"], "yOffset": -5},
             "encoding": {"x": x, "y": {"value": HIGH_PX}}}
        )  # fmt: skip
    return whole(frame, look, width, {"layer": layers, "height": HIGH_PX})


def _limits(
    x: Spec,
    y: Spec,
    ink: Mapping[str, str],
    low: str | None,
    high: str | None,
    stroke: float | None,
) -> list[Spec]:
    """Draw where values may as well be (upright), or between which they should stay (steps)."""
    if stroke is not None:
        return [
            {"mark": {"type": "rule", "strokeWidth": stroke, "opacity": 0.35},
             "encoding": {"x": x, "y": {**y, "field": low}, "y2": {"field": high}}}
        ]  # fmt: skip
    return [
        {"mark": {"type": "line", "interpolate": "step", "strokeDash": [5, 4],
                  "color": ink["quiet"], "strokeWidth": 1.2},
         "encoding": {"x": x, "y": {**y, "field": limit}}}
        for limit in (low, high)
        if limit is not None
    ]  # fmt: skip


def stacked(
    frame: Frame, look: Look, width: int, *, lines: Mapping[str, str], axis: str
) -> Spec:  # fmt: skip
    """Several counts over days, weeks or months, each with a dash and a name of its own."""
    ink = inks(look)
    records = frame.records()
    when, order = frame.columns[0].name, [str(row[0]) for row in frame.rows]
    long = [
        {when: row[when], "stage": label, "pieces": row[name]}
        for row in records
        for name, label in lines.items()
    ]
    names = list(lines.values())
    dashes = [[1, 0], [8, 3], [3, 3], [10, 3, 2, 3]][: len(names)]
    shades = [ink["main"], ink["out"], ink["quiet"], ink["ink"]][: len(names)]
    scale = {"domain": names}
    spec: Spec = {
        "data": {"values": long},
        # A line through one place would be nothing to see.
        "mark": {"type": "line", "interpolate": "monotone", "point": len(order) == 1},
        "encoding": {
            "x": _when(when, order, width),
            "y": {"field": "pieces", "type": "quantitative", "title": axis,
                  "axis": {"format": COUNT, **_steps(COUNT, frame, *lines)}},
            "strokeDash": {"field": "stage", "type": "nominal", "title": None,
                           "scale": {**scale, "range": dashes},
                           "legend": {"columns": 2 if width < 500 else 4, "symbolSize": 400}},
            "color": {"field": "stage", "type": "nominal", "title": None,
                      "scale": {**scale, "range": shades},
                      "legend": {"columns": 2 if width < 500 else 4, "symbolSize": 400}},
        },
        "height": HIGH_PX,
    }  # fmt: skip
    return whole(frame, look, width, spec)


def _when(name: str, order: Sequence[str], width: int) -> Spec:
    """An axis of days, weeks or months with as many labels as have room, the year below the first
    label of each."""
    room = max(2, (width - 90) // 46)
    drawn = list(order[:: max(1, -(-len(order) // room))])
    firsts = list({label[:4]: label for label in reversed(drawn)}.values())
    label = (
        "[substring(datum.label, 5),"
        f" indexof({json.encode(firsts).decode()}, datum.label) >= 0"
        " ? substring(datum.label, 0, 4) : '']"
    )
    return {
        "field": name, "type": "ordinal", "title": "ISO week" if name == "week" else name,
        "sort": list(order),
        "axis": {"labelAngle": 0, "values": drawn, "labelExpr": label},
    }  # fmt: skip


def _ticks(width: int) -> int:
    return 4 if width < 500 else 6


def _steps(form: str, frame: Frame, *names: str) -> Spec:
    """Ticks of an upright axis; between whole pieces there are none."""
    most = max((row[name] or 0 for row in frame.records() for name in names), default=0)
    return {"values": [*range(int(most) + 1)]} if form == COUNT and most < 6 else {"tickCount": 5}


def _line_at(value: float, axis: str, color: str) -> Spec:
    return {
        "data": {"values": [{"at": value}]},
        "mark": {"type": "rule", "color": color, "strokeWidth": 1.2},
        "encoding": {axis: {"field": "at", "type": "quantitative"}},
    }


def whole(frame: Frame, look: Look, width: int, spec: Spec) -> Spec:
    """Put a picture under its title; without numbers it is a line of words."""
    room = max(20, int((width - 24) / CHARACTER_PX))
    title = {
        "text": textwrap.wrap(frame.title, int(room * 0.84)),
        "subtitle": textwrap.wrap(frame.says, room),
    }
    common = {
        "$schema": SCHEMA, "title": title, "description": f"{frame.title}. {frame.says}",
        "config": config(look), "width": width - 20, "autosize": {"type": "fit-x",
        "contains": "padding"},
    }  # fmt: skip
    if not frame.rows:
        return {
            **common, "data": {"values": [{}]}, "mark": {"type": "text", "text": ""},
            "height": 10, "title": title,
        }  # fmt: skip
    data = {} if "data" in spec else {"data": {"values": frame.records()}}
    return {**common, **data, **spec}
