"""The history of a film, drawn: what was built when, in what air, and what was done to it.

One inline SVG without scripts. Colours come from the page's style, so that it prints and darkens
with the page.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from html import escape
from itertools import pairwise
from typing import NamedTuple

from coatledger.ledger.record import micros, moment
from coatledger.subjects.dossier import Told
from coatledger.subjects.dossier_film import AirRead, ToldCoat

HOUR_US = 3_600_000_000
WIDTH, LEFT, RIGHT = 960, 64, 18
FILM_TOP, FILM_HIGH = 34, 150
MARKS_TOP, MARK_HIGH, MARK_ROWS = 206, 17, 4
AIR_TOP, AIR_HIGH, AIR_GAP = 300, 62, 36
STEPS_H = (1, 2, 3, 6, 12, 24, 48, 168, 336, 720, 2160, 8760, 17_520, 43_800)
TICKS_MAX = 10
TALL_UM = 60.0  # the least film the scale is made for
READINGS_DRAWN = 1_500
MARKED: Mapping[str, str] = {
    "sanded": "sanded", "grain_filled": "filled", "stained": "stained", "moved": "moved",
    "inspected": "inspected", "packed": "packed", "shipped": "shipped", "returned": "returned",
    "rubbed_out": "rubbed out", "polished": "polished", "defect_found": "defect",
    "rework_started": "rework", "rework_finished": "rework over", "dryness_checked": "tried",
    "photo_taken": "photograph", "damage_reported": "damage", "unpacked": "unpacked",
}  # fmt: skip


class Span(NamedTuple):
    """The time drawn, and where a moment stands in it."""

    first_us: int
    last_us: int

    def x(self, at_us: int) -> float:
        """Return the place of a moment, in units of the drawing."""
        share = (at_us - self.first_us) / (self.last_us - self.first_us)
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)

    def holds(self, at_us: int) -> bool:
        """Whether a moment is drawn."""
        return self.first_us <= at_us <= self.last_us


class Band(NamedTuple):
    """A row of the drawing with a scale of its own."""

    top: float
    high: float
    least: float
    most: float

    def y(self, value: float) -> float:
        """Return the height of a value."""
        return round(
            self.top + self.high * (1 - (value - self.least) / (self.most - self.least)), 1
        )


def drawing(told: Told, air: Sequence[tuple[str, Sequence[AirRead]]]) -> str:
    """Draw a piece's film; nothing when no film was put on."""
    films = [coat for coat in told.coats if _us(coat.at) is not None]
    if not films:
        return ""
    span = _span(told, air)
    reads = [read for _, room in air for read in room if span.holds(read.at_us)]
    tall = AIR_TOP + (2 * (AIR_HIGH + AIR_GAP) if reads else 0)
    opening = f'<svg viewBox="0 0 {WIDTH} {tall + 26}" role="img" class="life">'
    parts = [
        f"{opening}<title>{escape(_title(told))}</title>",
        *_ticks(span, tall),
        *_films(span, films),
        *_marks(span, told),
        *(_air(span, air) if reads else ()),
        "</svg>",
    ]
    return "\n".join(parts)


def _title(told: Told) -> str:
    return f"The film on piece {told.piece}: {len(told.coats)} layers over time, and the air"


def _span(told: Told, air: Sequence[tuple[str, Sequence[AirRead]]]) -> Span:
    """Draw from a little before the first film to where the last one was left to itself."""
    times = [_us(coat.at) for coat in told.coats]
    first, last = min(times), max(times)
    ends = [read.at_us for _, room in air for read in room if first <= read.at_us]
    ends += [
        _us(fact.occurred_at)
        for fact in told.facts
        if fact.standing in ("stands", "amended") and fact.type in ("packed", "shipped")
        and _us(fact.occurred_at) >= last
    ][:1]  # fmt: skip
    end = max([last + 6 * HOUR_US, *ends])
    return Span(first - max(HOUR_US, (end - first) // 25), end + (end - first) // 60)


def _ticks(span: Span, tall: float) -> Iterable[str]:
    hours = (span.last_us - span.first_us) / HOUR_US
    step = next((s for s in STEPS_H if hours / s <= TICKS_MAX), STEPS_H[-1]) * HOUR_US
    at_us = -(-span.first_us // step) * step
    while at_us <= span.last_us:
        x = span.x(at_us)
        yield f'<line x1="{x}" y1="{FILM_TOP}" x2="{x}" y2="{tall}" class="grid"/>'
        clock = moment(at_us)
        day = f"{clock:%d %b}" if step >= 24 * HOUR_US or clock.hour == 0 else ""
        label = day if step >= 24 * HOUR_US else f"{clock:%H:%M}"
        yield f'<text x="{x}" y="{tall + 12}" class="tick">{label}</text>'
        if day and label != day:
            yield f'<text x="{x}" y="{tall + 24}" class="tick day">{day}</text>'
        at_us += step


def _films(span: Span, films: Sequence[ToldCoat]) -> Iterable[str]:
    """Draw the dry film as layers, each from when it was put on; unknown ones as a thin line."""
    total = sum(coat.dry_film_um or 0.0 for coat in films)
    scale = Band(FILM_TOP, FILM_HIGH, 0.0, max(TALL_UM, total * 1.15))
    yield _words(LEFT - 8, FILM_TOP - 16, "dry film, µm", "unit")
    for um in _marks_of(scale.most):
        yield _words(LEFT - 8, scale.y(um) + 4, f"{um:g}", "scale")
    below, end = 0.0, span.x(span.last_us)
    labels = []
    free = scale.y(0) + 13.0
    for number, coat in enumerate(films):
        x, thick = span.x(_us(coat.at)), coat.dry_film_um or 0.0
        top, bottom = scale.y(below + thick), scale.y(below)
        high = max(1.5, bottom - top)
        yield (
            f'<rect x="{x}" y="{bottom - high:.1f}" width="{end - x:.1f}" height="{high:.1f}" '
            f'class="layer l{number % 3}"/>'
        )
        if coat.what == "coat_applied":
            side = "end" if x > WIDTH * 0.72 else "start"
            at = x - 6 if side == "end" else x + 6
            # Thin layers lie closer than lines of words: each line keeps above the one before.
            free = min(top - 4, free - 12)
            labels.append(
                f'<text x="{at:.1f}" y="{free:.1f}" text-anchor="{side}" class="says">'
                f"{escape(_says(coat, number + 1))}</text>"
            )
        below += thick
    yield from labels
    yield f'<line x1="{LEFT}" y1="{scale.y(0)}" x2="{end}" y2="{scale.y(0)}" class="wood"/>'


def _says(coat: ToldCoat, number: int) -> str:
    wet = f"{coat.wet_film_um:g} µm wet" if coat.wet_film_um else "film not measured"
    dry = f", {coat.dry_film_um:g} dry" if coat.dry_film_um else ""
    return f"{number}. {coat.role} from {coat.lot}: {wet}{dry}"


def _marks_of(most: float) -> Iterable[float]:
    step = next(s for s in (10, 20, 25, 50, 100, 200, 500, 1000, 5000) if most / s <= 7)
    return [step * number for number in range(int(most // step) + 1)]


def _marks(span: Span, told: Told) -> Iterable[str]:
    """Draw what else was done, each word in the first row that has room for it; where none has,
    the point stands alone."""
    yield _words(LEFT - 8, MARKS_TOP + 10, "done", "unit")
    free = [0.0] * MARK_ROWS
    facts = [f for f in told.facts if f.type in MARKED and f.standing in ("stands", "amended")]
    for fact in sorted(facts, key=lambda one: one.occurred_at):
        at_us = _us(fact.occurred_at)
        if not span.holds(at_us):
            continue
        x, word = span.x(at_us), MARKED[fact.type]
        row = next((r for r in range(MARK_ROWS) if free[r] <= x), None)
        y = MARKS_TOP + (MARK_ROWS if row is None else row) * MARK_HIGH - 3 * (row is None)
        if row is None:
            yield f'<circle cx="{x}" cy="{y + 7}" r="2.6" class="mark"/>'
            continue
        free[row] = x + 7.2 * len(word) + 14
        side, at = ("end", x - 5) if x > WIDTH - 110 else ("start", x + 5)
        yield f'<circle cx="{x}" cy="{y + 7}" r="2.6" class="mark"/>'
        yield f'<text x="{at}" y="{y + 11}" text-anchor="{side}" class="says">{word}</text>'


def _air(span: Span, air: Sequence[tuple[str, Sequence[AirRead]]]) -> Iterable[str]:
    reads = [read for _, room in air for read in room if span.holds(read.at_us)]
    warm = _room_for(AIR_TOP, [read.air_c for read in reads], 4.0)
    damp = _room_for(AIR_TOP + AIR_HIGH + AIR_GAP, [read.rh_pct for read in reads], 10.0)
    for band, unit, kind in ((warm, "air, °C", "warm"), (damp, "humidity, %", "damp")):
        yield _words(LEFT - 8, band.top - 10, unit, "unit")
        for value in (band.least, band.most):
            yield _words(LEFT - 8, band.y(value) + 4, f"{value:g}", "scale")
        yield (
            f'<rect x="{LEFT}" y="{band.top}" width="{WIDTH - LEFT - RIGHT}" '
            f'height="{band.high}" class="frame"/>'
        )
        for line, (room, found) in enumerate(air):
            drawn = [read for read in _thinned(found) if span.holds(read.at_us)]
            values = [(r.at_us, r.air_c if kind == "warm" else r.rh_pct) for r in drawn]
            yield from _line(span, band, values, kind)
            if drawn and kind == "warm" and len(air) > 1:
                x = span.x(drawn[0].at_us)
                y = band.top + 11 + 12 * line
                yield f'<text x="{x + 4}" y="{y}" class="says">{escape(room)}</text>'


def _line(span: Span, band: Band, values: Sequence[tuple[int, float]], kind: str) -> Iterable[str]:
    """Join readings that follow each other; a silence of hours stays a gap."""
    run: list[str] = []
    for (at_us, value), following in pairwise([*values, (1 << 62, 0.0)]):
        run.append(f"{span.x(at_us)},{band.y(value)}")
        if following[0] - at_us > 3 * HOUR_US:
            if len(run) == 1:
                x, y = run[0].split(",")
                yield f'<circle cx="{x}" cy="{y}" r="2" class="{kind} dot"/>'
            else:
                yield f'<polyline points="{" ".join(run)}" class="{kind}"/>'
            run = []


def _thinned(reads: Sequence[AirRead]) -> Sequence[AirRead]:
    return reads[:: max(1, len(reads) // READINGS_DRAWN)]


def _room_for(top: float, values: Sequence[float], step: float) -> Band:
    least = step * (min(values) // step)
    most = step * (max(values) // step + 1)
    return Band(top, AIR_HIGH, least, most)


def _words(x: float, y: float, says: str, kind: str) -> str:
    return f'<text x="{x}" y="{y:.1f}" class="{kind}">{escape(says)}</text>'


def _us(text: str) -> int:
    return micros(datetime.fromisoformat(text))
