"""The day plan as one flat table: a row a line of work, in the shop's own time."""

from datetime import datetime

from coatledger.answers.day_plan.answer import DayPlan, Finish, Line, Waiting

from coatledger_api.charts.frame import Cell, Column, Frame

COLUMNS = (
    Column("day", "day"),
    Column("begins", "from", "number"),
    Column("ends", "until", "number"),
    Column("act", "act"),
    Column("says", "what"),
    Column("pieces", "pieces"),
    Column("count", "how many", "count"),
    Column("order", "order"),
    Column("due", "due"),
    Column("promised_by", "promised"),
    Column("by", "hands", "count"),
    Column("gun", "gun"),
    Column("can", "can"),
    Column("needed_l", "litres", "number"),
    Column("on_hand_l", "litres here", "number"),
    Column("room", "room"),
    Column("recoat_from", "may be coated from", "number"),
    Column("notes", "to mind"),
    Column("cautions", "careful"),
)


def frame_of(plan: DayPlan) -> Frame:
    """Lay a day plan out."""
    rows = tuple(_row(line) for day in plan.days for line in day.lines)
    return Frame(
        title="The day plan",
        says=_says(plan, len(rows)),
        columns=COLUMNS,
        rows=rows,
        notes=(
            plan.rule,
            *(_waits(one) for one in plan.waiting),
            *(f"{one.code.replace('_', ' ')}: {one.text} ({one.source})" for one in plan.cautions),
            *(f"Taken for granted: {text}." for text in plan.assumed),
        ),
    )


def _says(plan: DayPlan, lines: int) -> str:
    if plan.missing:
        return f"There is no plan without {', '.join(plan.missing)}."
    begins = f"{plan.as_of:%a %Y-%m-%d %H:%M}"
    return f"{lines} lines of work from {begins} on." if lines else f"Nothing to do at {begins}."


def _row(line: Line) -> tuple[Cell, ...]:
    finish = line.finish or Finish(product=None)
    recoat = next((film.likely for film in line.ready if film.purpose == "recoat"), None)
    return (
        f"{line.begins:%Y-%m-%d}", f"{line.begins:%H:%M}", _clock(line.ends, line.begins),
        line.act, line.says, " ".join(line.pieces) or None,
        len(line.pieces) + line.unnamed or None, line.order, str(line.due) if line.due else None,
        str(line.promise.ships_by) if line.promise else None, line.by, line.gun, finish.can,
        round(finish.needed_l.likely, 3) if finish.needed_l else None, finish.on_hand_l, line.room,
        _clock(recoat, line.begins) if recoat else None, "; ".join(notes(line)) or None,
        " ".join(line.cautions) or None,
    )  # fmt: skip


def notes(line: Line) -> list[str]:
    """Say what to mind at a line, in the order in which it is done."""
    finish = line.finish or Finish(product=None)
    found = [*line.notes]
    if line.try_first:
        found.append("try the film first: likely ready, not surely")
    if line.awaited:
        found.append("once the joinery has brought them")
    if line.act == "set_up" or line.gun is None:
        found += prepared(finish)
    return found


def prepared(finish: Finish) -> list[str]:
    """Say what is done to a can before it is used."""
    found = []
    if finish.mix:
        parts = ", ".join(
            f"{part.litres:.2f} L {part.product}{f' ({part.can})' if part.can else ''}"
            for part in finish.mix
        )
        until = f", to be used by {finish.use_until:%H:%M}" if finish.use_until else ""
        more = f", for {finish.mix_for_lines} more" if finish.mix_for_lines else ""
        found.append(f"mix {parts}{more}{until}")
    if finish.open_first:
        found.append(f"open {finish.can}")
    if finish.stir_first:
        found.append(f"stir {finish.can}")
    if finish.strain_um is not None:
        found.append(f"strain it through {finish.strain_um:g} µm")
    if finish.also:
        found.append(f"then {' and '.join(finish.also)}")
    return found


def _waits(one: Waiting) -> str:
    pieces = " ".join(one.pieces) or f"{one.unnamed} of order {one.order}"
    when = f" until {one.until:%a %H:%M}" if one.until else ", no end in sight"
    return f"{pieces} waits{when}: {one.says}. Needs {one.needs}."


def _clock(at: datetime, near: datetime) -> str:
    return f"{at:%H:%M}" if at.date() == near.date() else f"{at:%a %H:%M}"
