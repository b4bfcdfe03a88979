"""The day plan as one flat table: a row a line of work, in the shop's own time."""

from coatledger.answers.day_plan.answer import DayPlan, Finish, Line

from coatledger_api.charts.frame import Cell, Column, Frame
from coatledger_api.paper.day_plan_words import clock, notes_of

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
    Column("by", "person", "count"),
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
        notes=(plan.rule,),
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
        f"{line.begins:%Y-%m-%d}", f"{line.begins:%H:%M}", clock(line.ends, line.begins),
        line.act, line.says, " ".join(line.pieces) or None,
        len(line.pieces) + line.unnamed or None, line.order, str(line.due) if line.due else None,
        str(line.promise.ships_by) if line.promise else None, line.by, line.gun, finish.can,
        round(finish.needed_l.likely, 3) if finish.needed_l else None, finish.on_hand_l, line.room,
        clock(recoat, line.begins) if recoat else None, "; ".join(notes_of(line)) or None,
        " ".join(line.cautions) or None,
    )  # fmt: skip
