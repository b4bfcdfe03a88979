"""How a proof pack's page looks, and how it writes fields, measures and times."""

import base64
from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from html import escape

from coatledger_api.pages import STYLE

SHEET = (
    STYLE
    + """
main { max-width: none; } .over { letter-spacing: .08em; text-transform: uppercase;
  font-size: .78rem; color: var(--quiet); } .lead { font-size: 1.12rem; margin: .2rem 0 1rem; }
.holds { border-left: 4px solid #5d7f45; background: var(--wash); padding: .6rem .9rem; }
.open { border-left: 4px solid var(--oak); background: var(--wash); padding: .6rem .9rem; }
.two { display: grid; grid-template-columns: 1fr 1fr; gap: 0 2.2rem; }
.two h3 { margin-top: .6rem; } .two li { margin: .3rem 0; } ul { padding-left: 1.1rem; }
td:nth-child(2) { white-space: nowrap; }
.hash { font-family: ui-monospace, "DejaVu Sans Mono", Menlo, Consolas, monospace;
  font-size: .74em; overflow-wrap: anywhere; }
del { color: var(--quiet); } ins { text-decoration: none; font-weight: bold; }
.late { color: var(--oak); } tr.gone td { color: var(--quiet); text-decoration: line-through; }
tr.gone td.as { text-decoration: none; }
.life { width: 100%; height: auto; margin: .6rem 0; font: 11px Georgia, "Times New Roman", serif; }
.life text { fill: var(--ink); } .life .tick, .life .scale, .life .unit { fill: var(--quiet); }
.life .tick { text-anchor: middle; font-size: 10px; } .life .scale { text-anchor: end; }
.life .unit { text-anchor: start; font-style: italic; transform: translateX(-48px); }
.life .says { font-size: 10.5px; paint-order: stroke; stroke: var(--paper); stroke-width: 2.5px; }
.life .grid { stroke: var(--line); stroke-width: .6; } .life .wood { stroke: var(--oak);
  stroke-width: 3; } .life .layer { stroke: var(--paper); stroke-width: .8; fill: var(--oak); }
.life .l0 { fill-opacity: .30; } .life .l1 { fill-opacity: .42; } .life .l2 { fill-opacity: .54; }
.life .frame { fill: none; stroke: var(--line); stroke-width: .6; }
.life .mark { fill: var(--oak); } .life polyline { fill: none; stroke-width: 1.4; }
.life .warm { stroke: #b5532b; } .life .damp { stroke: #3f7486; } .life .dot { fill: currentColor; }
@media print { @page { size: A4; margin: 15mm; } :root { --ink: #000; --paper: #fff;
  --line: #bbb; --quiet: #444; --wash: #f4f1ea; --oak: #8a5a24; }
  body { padding: 0; font-size: 9.5pt; } h2 { margin-top: 1.4rem; break-after: avoid; }
  tr, svg, .holds, .open { break-inside: avoid; } a { color: inherit; } }
@media screen and (max-width: 40rem) { .two { grid-template-columns: 1fr; }
  .slid { overflow-x: auto; } .slid .life { min-width: 50rem; }
  table { font-size: .82rem; } th, td { padding-right: .4rem; overflow-wrap: anywhere; }
  td:nth-child(2) { white-space: normal; min-width: 3.6rem; } }
"""
)
_HASH = base64.b64encode(sha256(SHEET.encode()).digest()).decode()
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": f"default-src 'none'; style-src 'sha256-{_HASH}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}
UNITS: Mapping[str, str] = {
    "um": "µm", "c": "°C", "pct": "%", "l": "L", "m2": "m²", "mm": "mm", "kpa": "kPa", "h": "h",
    "min": "min", "s": "s", "gu": "GU", "deg": "°",
}  # fmt: skip


def field(name: str, value: object) -> str:
    """Write one field of a fact with its unit; what says nothing is left out."""
    if value is None or value is False or value == ():
        return ""
    stem, _, suffix = name.rpartition("_")
    unit = UNITS.get(suffix, "") if stem else ""
    label = plain(stem if unit else name)
    if value is True:
        return label
    if isinstance(value, (list, tuple)):
        value = ", ".join(str(item) for item in value)
    if suffix == "sha256" or name == "sha256":
        return f'photograph <span class="hash">{escape(str(value))}</span>'
    shown_value = f"{value:g}" if isinstance(value, float) else str(value)
    return escape(f"{label}: {shown_value.replace('_', ' ')} {unit}".rstrip())


def plain(word: str) -> str:
    """Write one of our words for people."""
    return escape(word.replace("_", " "))


def measured(number: float | None, unit: str) -> str:
    """Write a measure, or a dash."""
    return "-" if number is None else f"{number:g} {unit}"


def event(position: int | None) -> str:
    """Name an event by its position."""
    return "not told" if position is None else f"event {position}"


def when(text: str) -> str:
    """Write a time of the ledger, in UTC."""
    return f"{datetime.fromisoformat(text):%d %b %Y %H:%M}"


def span(seconds: int) -> str:
    """Write how long something took."""
    if seconds >= 2 * 86_400:
        return f"{seconds / 86_400:.0f} days"
    if seconds >= 5_400:
        return f"{seconds / 3600:.1f} h"
    return f"{seconds // 60} min"
