"""The day plan as a page to read and to print: a table a day, then what waits and what dries."""

from collections.abc import Iterable
from datetime import datetime
from html import escape

from coatledger.answers.day_plan.answer import DayPlan, Drying, Film, Line, PlannedDay, Waiting
from coatledger.clocks.answer import Purpose

from coatledger_api.pages import page, table
from coatledger_api.paper.day_plan_words import clock, notes_of

TITLE = "The day plan"
_PURPOSES: tuple[Purpose, ...] = ("touch", "recoat", "stack", "pack")


def page_of(plan: DayPlan) -> bytes:
    """Write the page; its times are in the shop's zone already."""
    parts = [f"<h1>{TITLE}</h1>", _begins(plan)]
    parts += [_day(day) for day in plan.days]
    parts += [_section("What waits", _HEAD_OF_WAITS, (_waiting(one, plan) for one in plan.waiting))]
    parts += [_section("What dries", _HEAD_OF_FILMS, (_film(one, plan) for one in plan.drying))]
    if plan.cautions:
        told = "".join(
            f"<dt>{escape(one.code.replace('_', ' '))}</dt><dd>{escape(one.text)}"
            f' <span class="quiet">{escape(one.source)}</span></dd>'
            for one in plan.cautions
        )
        parts.append(f"<h2>To be careful of</h2><dl>{told}</dl>")
    assumed = "".join(f"<p>Taken for granted: {escape(text)}.</p>" for text in plan.assumed)
    parts.append(f'<div class="quiet"><p>{escape(plan.rule)}</p>{assumed}</div>')
    return page(f"coatledger: {TITLE}", "".join(parts))


_HEAD_OF_WAITS = ("pieces", "for", "due", "until, likely", "surely", "because", "needs")
_HEAD_OF_FILMS = ("pieces", "film", *_PURPOSES)


def _begins(plan: DayPlan) -> str:
    if plan.missing:
        lacks = ", ".join(plan.missing)
        return f"<p>There is no plan without {escape(lacks)}.</p>"
    until = f", valid until {clock(plan.valid_until, plan.as_of)}" if plan.valid_until else ""
    return f'<p class="quiet">From {plan.as_of:%A %Y-%m-%d %H:%M} on{until}.</p>'


def _day(day: PlannedDay) -> str:
    spans = ", ".join(f"{span.begins:%H:%M} to {span.ends:%H:%M}" for span in day.open)
    pick_up = f"; pick-up at {day.pick_up_at:%H:%M}" if day.pick_up_at else ""
    head = f"<h2>{day.day:%A %Y-%m-%d}</h2><p>{spans or 'Closed'}{pick_up}.</p>"
    if not day.lines:
        return head + ("<p>Nothing to do.</p>" if day.open else "")
    heads = ("from", "until", "person", "what", "pieces", "with", "for")
    return f'{head}<div class="wide">{table(heads, map(_line, day.lines))}</div>'


def _line(line: Line) -> tuple[str, ...]:
    notes = "".join(f'<br><span class="quiet">{escape(text)}</span>' for text in notes_of(line))
    return (
        f"{line.begins:%H:%M}", clock(line.ends, line.begins), str(line.by or ""),
        f"{escape(line.says)}{notes}", _pieces(line.pieces, line.unnamed), escape(_with(line)),
        escape(_for(line)),
    )  # fmt: skip


def _pieces(pieces: tuple[str, ...], unnamed: int) -> str:
    """Name all pieces, each on one line by itself however narrow the paper."""
    if not pieces:
        return f"{unnamed} not named yet" if unnamed else ""
    return " ".join(f'<span class="piece">{escape(word)}</span>' for word in pieces)


def _with(line: Line) -> str:
    parts = [line.gun or ""]
    if line.finish is not None and line.act != "set_up":
        litres = line.finish.needed_l
        can = line.finish.can or ("the mix" if line.finish.product else "")
        parts.append(f"{litres.likely:.2f} L of {can}" if litres and can else can)
    return ", ".join(part for part in parts if part)


def _for(line: Line) -> str:
    if line.order is None:
        return "stock" if line.pieces else ""
    promised = ", promised" if line.promise else ""
    return f"{line.order}, {line.due:%a %d %b}{promised}" if line.due else line.order


def _section(title: str, heads: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    found = table(heads, rows)
    return f'<h2>{title}</h2><div class="wide">{found}</div>' if found else ""


def _waiting(one: Waiting, plan: DayPlan) -> tuple[str, ...]:
    pieces = _pieces(one.pieces, one.unnamed)
    until = one.until or one.likely
    return (
        pieces, escape((one.act or "").replace("_", " ")), f"{one.due:%a %d %b}" if one.due else "",
        clock(until, plan.as_of) if until else "no end in sight",
        clock(one.sure, plan.as_of) if one.sure else "", escape(one.says), escape(one.needs),
    )  # fmt: skip


def _film(one: Drying, plan: DayPlan) -> tuple[str, ...]:
    times = {film.purpose: film for film in one.ready}
    told = (_ready(times.get(purpose), plan.as_of) for purpose in _PURPOSES)
    return (_pieces(one.pieces, 0), escape(one.readiness.replace("_", " ")), *told)


def _ready(film: Film | None, now: datetime) -> str:
    """Say when a film allows something: likely, and surely."""
    if film is None:
        return "now"
    if film.likely is None or film.sure is None:
        return "not in this air"
    likely = "now" if film.likely <= now else clock(film.likely, now)
    return f"{likely}, surely {clock(film.sure, now)}"
