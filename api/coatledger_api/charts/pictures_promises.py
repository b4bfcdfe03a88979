"""What is drawn of kept promises: what was said against what came true."""

from coatledger.answers.promises.score import PromiseScore
from coatledger.subjects.proportion import Proportion

from coatledger_api.charts.frame import Cell, Column, Frame
from coatledger_api.charts.pictures import Picture
from coatledger_api.charts.specs_stated import stated_and_kept

_COLUMNS = (
    Column("of", "of"), Column("name", "what"), Column("promises", "promises", "count"),
    Column("stated", "said", "share"), Column("count", "kept", "count"),
    Column("kept", "share kept", "share"), Column("low", "low", "share"),
    Column("high", "high", "share"), Column("lead_days", "lead told, days", "number"),
    Column("pinball_days", "pinball loss, days", "number"),
    Column("conformal_days", "would be added, days", "number"),
)  # fmt: skip
DRAWN = ("level", "stated")


def of_score(answer: PromiseScore) -> Picture:
    """Draw the share kept against the chance said, by level and by tenths of chances."""
    frame = Frame(
        title="What was said, and what came true",
        says=_says(answer),
        columns=_COLUMNS,
        rows=tuple(_rows(answer)),
        notes=tuple(f"{name}: {words}" for name, words in answer.definitions.items()),
    )
    drawn = Frame(
        title=frame.title, says=frame.says, columns=_COLUMNS,
        rows=tuple(row for row in frame.rows if row[0] in DRAWN and row[5] is not None),
    )  # fmt: skip
    return Picture(frame, lambda look, width: stated_and_kept(drawn, look, width))


def _rows(answer: PromiseScore) -> list[tuple[Cell, ...]]:
    rows = [_row("all", "all promises", answer.kept, _share(answer.stated_pct), answer.lead_days)]
    rows += [
        _row("level", f"{one.level_pct:g} % day", one.covered, one.level_pct / 100.0,
             one.lead_days, one.pinball_days, one.conformal_days)
        for one in answer.levels
    ]  # fmt: skip
    rows += [
        _row("stated", f"said {one.from_pct:g} to {one.to_pct:g} %", one.kept,
             one.stated_pct / 100.0)
        for one in answer.stated
    ]  # fmt: skip
    for of, groups in (("month", answer.months), ("offering", answer.offerings)):
        rows += [
            _row(of, one.name, one.kept, None, one.lead_days, one.pinball_days) for one in groups
        ]
    return rows


def _row(
    of: str, name: str, kept: Proportion, stated: float | None, lead: float | None = None,
    pinball: float | None = None, conformal: float | None = None,
) -> tuple[Cell, ...]:  # fmt: skip
    return (
        of, name, kept.of, stated, kept.count, kept.value, kept.low, kept.high, lead, pinball,
        conformal,
    )  # fmt: skip


def _share(pct: float | None) -> float | None:
    return None if pct is None else pct / 100.0


def _says(answer: PromiseScore) -> str:
    kept = answer.kept
    if not kept.of:
        return "No promise's first day is over yet: there is nothing to judge."
    by = answer.correction
    learned = f"what came of {by.promises} of them" if by.promises else "a prior belief alone"
    alone = f" {answer.levels_say}" if answer.levels_say else ""
    few = " So few prove little; the lines say how little." if kept.few else ""
    return (
        f"{kept.count} of {kept.of} promises kept by the first day told, {answer.overdue} overdue;"
        f" circles: by the chance said of the day, diamonds: by the level. For {by.level_pct:g} %"
        f" the next quote takes what is simulated at {by.simulated_pct:g} %, by {learned}."
        f"{few}{alone}"
    )
