"""The month in the finishing room as a page: what left, what came back and why, what to try next.

One file without scripts and with its pictures inside. Where no renderer is installed the tables
stand alone; they hold the same numbers.
"""

import base64
import hashlib
from collections.abc import Iterable, Mapping
from datetime import date
from html import escape

from coatledger.answers.flow.answer import FlowAnswer
from coatledger.answers.month import MonthAnswer
from coatledger.answers.quality.table import QualityAnswer
from coatledger.answers.quality.trend import TrendAnswer
from coatledger.answers.quality.why import Candidate, WhyAnswer
from coatledger.answers.throughput import ThroughputAnswer
from coatledger.subjects.proportion import Proportion
from msgspec import Struct

from coatledger_api.charts.draw import Painter
from coatledger_api.charts.pictures import Picture, of_quality, of_throughput, of_trend
from coatledger_api.charts.pictures_flow import busiest, of_flow
from coatledger_api.pages import STYLE, page_of, table
from coatledger_api.problems import ProblemError

SHEET = (
    STYLE
    + """
body { max-width: 52rem; } .lead { font-size: 1.15rem; margin: .2rem 0 1rem; }
.plate { margin: 1rem 0; break-inside: avoid; } .plate svg { width: 100%; height: auto; }
.plate .narrow { display: none; } .try { border-left: 4px solid var(--oak); padding: .1rem 1rem;
  background: var(--wash); break-inside: avoid; }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums; }
@media (max-width: 34rem) { .plate .wide { display: none; } .plate .narrow { display: block; } }
@media print { @page { size: A4; margin: 16mm; } :root { --ink: #000; --paper: #fff;
  --oak: #000; --quiet: #333; --line: #999; --wash: #f2f2f2; }
  body { padding: 0; font-size: 10.5pt; max-width: none; } h2 { margin-top: 1.6rem; }
  h2, dt { break-after: avoid; } table, dd { break-inside: avoid; }
  .plate .wide { display: block; max-width: 15cm; } .plate .narrow { display: none; } }
"""
)
_HASH = base64.b64encode(hashlib.sha256(SHEET.encode()).digest()).decode()
MONTH_HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": f"default-src 'none'; style-src 'sha256-{_HASH}'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
}
WIDE, NARROW = 720, 340
LATE_SHOWN = 12


class Told(Struct, frozen=True, kw_only=True):
    """Everything the page is made of, read on one state of the ledger."""

    month: MonthAnswer
    quality: QualityAnswer
    defects: QualityAnswer
    trend: TrendAnswer
    why: WhyAnswer
    shipped: ThroughputAnswer
    flow: FlowAnswer


def month_page(told: Told, painter: Painter) -> bytes:
    """Write the page."""
    month = told.month
    name = f"{date.fromisoformat(f'{month.month}-01'):%B %Y}"
    known = "" if month.as_of is None else f", as of {month.as_of:%d %B %Y, %H:%M}"
    head = (
        f'<p class="quiet">Weeks {month.first_week} to {month.last_week}, {escape(month.zone)}'
        f"{known}; ledger at event {month.position}.</p>"
    )
    body = "".join(
        (
            f"<h1>The month in the finishing room</h1><p class='lead'>{name}</p>",
            head,
            _left(told, painter),
            _back(told, painter),
            _promises(month),
            _finish(month),
            _next(told, painter),
            _words(told),
        )
    )
    return page_of(f"{name} in the finishing room", body, SHEET)


def _left(told: Told, painter: Painter) -> str:
    month = told.month
    many = sum(row.pieces for row in month.left)
    lead = "Nothing left this month." if not many else f"{_n(many, 'piece')} left."
    if month.scrapped:
        lead += f" {_n(month.scrapped, 'piece')} had to be given up."
    rows = ((escape(r.kind), escape(r.wood.replace("_", " ")), str(r.pieces)) for r in month.left)
    days = {one.percent: one.days for one in told.flow.lead_time}
    if days:
        lead += f" Half of them took {days[50.0]:.1f} days or less, nine of ten {days[90.0]:.1f}."
    return (
        f"<h2>What left</h2><p>{lead}</p>{table(('kind', 'wood', 'pieces'), rows)}"
        f"{_plate(of_throughput(told.shipped), painter)}"
    )


def _back(told: Told, painter: Painter) -> str:
    total, month = told.quality.total, told.month
    if not total.produced:
        return "<h2>What came back, and why</h2><p>No piece was finally inspected.</p>"
    lead = (
        f"{total.rework_ratio.count} of {_n(total.produced, 'piece')} were reworked"
        f" ({_share(total.rework_ratio)}); {_share(total.first_pass_yield)} passed at first."
        f" {_n(month.came_back, 'piece')} came back from a customer."
    )
    if told.quality.few:
        lead += " So few pieces prove little."
    costs = told.quality.cost
    hours, litres = sum(c.hands_on_h for c in costs), sum(c.finish_l for c in costs)
    days = sum(c.away_days for c in costs)
    if costs:
        lead += (
            f" Rework took {hours:.1f} hours of hands, {litres:.2f} litres, and"
            f" {days:.1f} days of pieces waiting."
        )
    rows = (
        (escape((row.value or "not said").replace("_", " ")), str(row.produced),
         _share(row.of_all))
        for row in sorted(told.defects.rows, key=lambda row: -row.produced)
    )  # fmt: skip
    trend = told.trend
    moved = "No change over the last year is strongly spoken for."
    if trend.change is not None and trend.change.strong:
        moved = (
            f"Over the last year it changed between {trend.change.earliest} and"
            f" {trend.change.latest}: {_pct(trend.change.before)} before,"
            f" {_pct(trend.change.after)} after."
        )
    plate = _plate(of_trend(trend), painter) if trend.points else ""
    if not plate:
        plate = _plate(of_quality(told.quality), painter)
    return (
        f"<h2>What came back, and why</h2><p>{lead}</p>"
        f"{table(('defect', 'pieces', 'of all pieces'), rows)}<p>{moved}</p>{plate}"
    )


def _promises(month: MonthAnswer) -> str:
    kept, due = month.promises_kept, month.promises_due
    if not kept.of and not due.of:
        return "<h2>Promises</h2><p>No piece that left had a promised date.</p>"
    lead = ""
    if due.of:
        lead = (
            f"{due.count} of {_n(due.of, 'promise')} kept by the first day told ({_share(due)}). "
        )
    if kept.of:
        lead += f"{kept.count} of {_n(kept.of, 'piece')} left in time ({_share(kept)})."
    rows = (
        (escape(one.piece), escape(one.order), f"{one.promised:%d %b}", f"{one.left:%d %b}")
        for one in month.late[:LATE_SHOWN]
    )
    more = len(month.late) - LATE_SHOWN
    tail = f'<p class="quiet">And {more} more.</p>' if more > 0 else ""
    return (
        f"<h2>Promises</h2><p>{lead}</p>"
        f"{table(('late piece', 'order', 'first promised', 'left'), rows)}{tail}"
    )


def _finish(month: MonthAnswer) -> str:
    if not month.finish:
        return "<h2>Finish used</h2><p>None was put on.</p>"
    rows = (
        (escape(r.product), str(r.coats), f"{r.litres:.2f}", f"{r.rework_litres:.2f}",
         str(r.unsaid) if r.unsaid else "")
        for r in month.finish
    )  # fmt: skip
    heads = ("product", "coats on pieces", "litres told", "of it in rework", "coats without amount")
    return f"<h2>Finish used</h2>{table(heads, rows)}"


def _next(told: Told, painter: Painter) -> str:
    """Say what the numbers of the last year would try next; never what the cause is."""
    candidates = [(kind.kind, one) for kind in told.why.kinds for one in kind.candidates]
    named = [one for _, one in candidates if one.named]
    parts: list[str] = []
    if named:
        parts = [_try(one) for one in sorted(named, key=lambda one: one.rate)[:3]]
    elif candidates:
        best = min((one for _, one in candidates), key=lambda one: one.p)
        parts = [
            "<p>Of the last year's defects nothing stands out from chance. The nearest:</p>",
            _try(best),
        ]
    else:
        parts = ["<p>Too few defects in the last year to compare anything.</p>"]
    if told.flow.busy:
        parts.append(f"<p>{escape(busiest(told.flow.busy[0]))}</p>")
    plate = _plate(of_flow(told.flow, "waiting"), painter) if told.flow.left else ""
    return f"<h2>What to try next</h2>{''.join(parts)}{plate}"


def _try(one: Candidate) -> str:
    could = (
        f" So few acts would have shown odds of about {one.could_show:.0f} times."
        if one.could_show is not None and not one.named
        else ""
    )
    return (
        f'<div class="try"><p>{escape(one.says)}{escape(could)}</p>'
        f'<p class="quiet">{escape(one.trial)}</p></div>'
    )


def _words(told: Told) -> str:
    notes = {**told.month.definitions, **told.quality.definitions}
    items = "".join(
        f"<dt>{escape(name.replace('_', ' '))}</dt><dd>{escape(words)}</dd>"
        for name, words in notes.items()
    )
    return f'<h2>What the words mean</h2><dl class="quiet">{items}</dl>'


def _plate(picture: Picture, painter: Painter) -> str:
    """Draw a picture for wide and for narrow screens; without a renderer there is none."""
    try:
        drawn = [
            (name, painter.draw(picture.spec("print", width), "svg").decode())
            for name, width in (("wide", WIDE), ("narrow", NARROW))
        ]
    except ProblemError:
        return ""
    return _figure(drawn)


def _figure(drawn: Iterable[tuple[str, str]]) -> str:
    inner = "".join(f'<div class="{name}">{svg}</div>' for name, svg in drawn)
    return f'<figure class="plate">{inner}</figure>'


def _share(share: Proportion) -> str:
    if share.value is None:
        return "nothing to count"
    return f"{_pct(share.value)}, 95 % interval {_pct(share.low)} to {_pct(share.high)}"


def _pct(value: float | None) -> str:
    return "–" if value is None else f"{100 * value:.0f} %"


def _n(many: int, word: str) -> str:
    return f"{many} {word}" if many == 1 else f"{many} {word}s"
