"""`coatledger day-plan`: today's work and tomorrow's, to read at the bench."""

import click
from coatledger.answers.day_plan.answer import DayPlan, Drying, Line, PlannedDay, Waiting

from coatledger_api.commands.ask import Question, asking
from coatledger_api.commands.shown import NOTHING, Manner, count, say, table, words
from coatledger_api.paper.day_plan_words import notes_of

# The two that are said after every line for which they hold are said once, below.
_ONCE = "try the film first: likely ready, not surely"
_MARK = "*"
PIECES_SHOWN = 4


@click.command("day-plan")
@click.option("--days", type=click.IntRange(1, 7), help="So many working days. Default: 2.")
@asking
def command(question: Question, days: int | None) -> None:
    """Say what to do today and tomorrow, in order, with what, and what waits for what.

    Times are the likely ones, and the order is the one that promises are reckoned with. A line
    marked * works on a film that is likely ready by then, but not surely: try it first.
    """
    question.put("/v1/day-plan", DayPlan, show, days=days)


def show(plan: DayPlan, manner: Manner) -> None:
    """Tell the plan, day by day, then what waits, what dries and what to be careful of."""
    if plan.missing:
        say(f"There is no plan without {', '.join(plan.missing)}.")
    for day in plan.days:
        _day(day, manner)
    if any(day.lines for day in plan.days):
        say(f"person: which of those at work, counted from 1. {_MARK}: {_ONCE}.")
        say()
    _waits(plan, manner)
    _dries(plan, manner)
    for caution in plan.cautions:
        say(f"Careful, {words(caution.code)}: {caution.text}")
    for text in plan.assumed:
        say(f"Assumed: {text}.")


def _day(day: PlannedDay, manner: Manner) -> None:
    spans = ", ".join(
        f"{manner.clock(span.begins)} to {manner.clock(span.ends)}" for span in day.open
    )
    pick_up = f"; pick-up at {manner.clock(day.pick_up_at)}" if day.pick_up_at else ""
    say(f"{day.day:%a %Y-%m-%d}, {spans or 'closed'}{pick_up}")
    if not day.open:
        return
    if not day.lines:
        say("  Nothing to do.")
        return
    table(
        ("from", "until", "person", "what", "pieces", "with", "for"),
        [_row(line, manner) for line in day.lines],
    )
    for line in day.lines:
        told = [note for note in notes_of(line, manner.zone) if note != _ONCE]
        if told:
            say(f"  {manner.clock(line.begins)} {words(line.act)}: {'; '.join(told)}.")
    say()


def _row(line: Line, manner: Manner) -> tuple[str, ...]:
    mark = f" {_MARK}" if line.try_first else ""
    ends = manner.clock(line.ends)
    if line.ends.astimezone(manner.zone).date() != line.begins.astimezone(manner.zone).date():
        ends = manner.soon(line.ends, line.begins)
    return (
        manner.clock(line.begins), ends, words(line.by), f"{line.says}{mark}", _pieces(line),
        _with(line, manner), _for(line),
    )  # fmt: skip


def _pieces(line: Line) -> str:
    if not line.pieces:
        return f"{line.unnamed} not named yet" if line.unnamed else NOTHING
    return pieces_in_short(line.pieces)


def pieces_in_short(pieces: tuple[str, ...]) -> str:
    """Name a few pieces, and count many."""
    if len(pieces) <= PIECES_SHOWN:
        return " ".join(pieces)
    return f"{pieces[0]} .. {pieces[-1]} ({len(pieces)})"


def _with(line: Line, manner: Manner) -> str:
    parts = [line.gun or ""]
    if line.finish is not None and line.act != "set_up":
        litres = line.finish.needed_l
        can = line.finish.can or ("the mix" if line.finish.product else "")
        parts.append(f"{manner.quantity(litres.likely, 'l')} of {can}" if litres and can else can)
    return ", ".join(part for part in parts if part) or NOTHING


def _for(line: Line) -> str:
    if line.order is None:
        return "stock" if line.pieces else NOTHING
    due = f", {line.due:%a %d %b}" if line.due else ""
    return f"{line.order}{due}"


def _waits(plan: DayPlan, manner: Manner) -> None:
    """Tell what does not get its turn today, and today's only where it is not for hands."""
    told = [one for one in plan.waiting if not one.today or one.because not in ("people", "gun")]
    if not told:
        return
    say("What waits:")
    table(
        ("pieces", "for", "until, likely", "surely", "because", "needs"),
        [_waiting(one, plan, manner) for one in told],
    )
    say()


def _waiting(one: Waiting, plan: DayPlan, manner: Manner) -> tuple[str, ...]:
    pieces = pieces_in_short(one.pieces) if one.pieces else f"{one.unnamed} of {one.order}"
    until = one.until or one.likely
    sure = manner.soon(one.sure, plan.as_of)
    return (
        pieces, words(one.act), manner.soon(until, plan.as_of) if until else "no end in sight",
        sure, one.says, one.needs,
    )  # fmt: skip


def _dries(plan: DayPlan, manner: Manner) -> None:
    if not plan.drying:
        return
    number = sum(len(one.pieces) for one in plan.drying)
    say(f"What dries, {count(number, 'piece')}: likely, and surely in brackets.")
    table(
        ("pieces", "film", "touch", "recoat", "stack", "pack"),
        [_film(one, plan, manner) for one in plan.drying],
    )
    say()


def _film(one: Drying, plan: DayPlan, manner: Manner) -> tuple[str, ...]:
    times = {film.purpose: film for film in one.ready}
    told = []
    for purpose in ("touch", "recoat", "stack", "pack"):
        film = times.get(purpose)
        if film is None:
            told.append("now")
        elif film.sure is None or film.likely is None:
            told.append("not in this air")
        else:
            likely = "now" if film.likely <= plan.as_of else manner.soon(film.likely, plan.as_of)
            told.append(f"{likely} ({manner.soon(film.sure, plan.as_of)})")
    return (pieces_in_short(one.pieces), words(one.readiness), *told)
