"""How many pieces come back, told apart by what one likes: weeks, woods, cans, guns, people, air.

*Reference:* ISO 22400-2 for first pass yield GP/IP, rework ratio RQ/PQ and scrap ratio SQ/PQ. A
piece counts once under each value that is true of it, in the week of its first final inspection.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Literal, get_args

from msgspec import Struct

from coatledger.answers.quality.cases import (
    Air,
    Counted,
    Nozzles,
    air_band,
    cases,
    coat_us,
    products,
)
from coatledger.computations.kpis import rolled_throughput_yield
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.counts import counts, shares
from coatledger.subjects.proportion import DEFINITION, FEW, Proportion, proportion
from coatledger.subjects.span import OPEN, Span, Within, span_of
from coatledger.subjects.tallies_quality import POINTS, Case, CaseCoat

Dimension = Literal[
    "week", "wood", "defect", "product", "lot", "gun", "nozzle", "room", "person", "coat",
    "climate", "day", "month",
]  # fmt: skip
DIMENSIONS: tuple[str, ...] = get_args(Dimension)
Naming = Callable[[Case], Iterable[str | None]]


class QualityRow(Struct, frozen=True, kw_only=True):
    """The pieces under one value; `value` None: nobody said. `of_all` is their share of all."""

    value: str | None
    produced: int
    inspected: int
    of_all: Proportion
    first_pass_yield: Proportion
    rework_ratio: Proportion
    scrap_ratio: Proportion


class Step(Struct, frozen=True, kw_only=True):
    """One point of inspection: how many passed their first look there."""

    point: str
    passed: Proportion


class ReworkCost(Struct, frozen=True, kw_only=True):
    """What reworks begun in the span took; an act's minutes and litres are shared out evenly.

    `away_days` are days from start to end, of the `ended` ones; `unsaid` acts told no minutes or no
    amount. Where only a film was told, the litres are those in the film.
    """

    where: str
    because: str | None
    reworks: int
    ended: int
    hands_on_h: float
    finish_l: float
    away_days: float
    unsaid: int


class QualityAnswer(Struct, frozen=True, kw_only=True):
    """Quality of the pieces of some days by one dimension. `few` says that so few prove little;
    `with_more_coats` counts pieces whose many coats are not all known by name here."""

    position: int
    as_of: datetime | None
    zone: str
    first_week: str
    last_week: str
    first_day: date
    last_day: date
    by: Dimension
    defect: str | None
    total: QualityRow
    rows: tuple[QualityRow, ...]
    steps: tuple[Step, ...]
    rolled_throughput_yield: float | None
    cost: tuple[ReworkCost, ...]
    few: bool
    with_more_coats: int
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "first_pass_yield": "passed their first final inspection with no rework before it / inspected"
    " (ISO 22400-2: GP / IP)",
    "rework_ratio": "reworked in the shop / produced (ISO 22400-2: RQ / PQ)",
    "scrap_ratio": "scrapped / produced (ISO 22400-2: SQ / PQ)",
    "rolled_throughput_yield": "product of the shares that passed their first look at each point of"
    " inspection; points nobody looked at are not in it (common practice, not in ISO 22400-2)",
    "interval": DEFINITION,
    "few": f"fewer than {FEW} pieces",
    "under several values": "a piece counts once under each value that is true of it, so rows may"
    " add up to more than all",
}


def quality(
    reader: Reader, asked: Asked, *, by: Dimension = "week", defect: str = "",
    within: Within = OPEN,
) -> QualityAnswer:  # fmt: skip
    """Count the pieces of some days (a year if none are given).

    With `defect` reworked counts only pieces that had this kind of defect.
    """
    span = span_of(reader, asked, within)
    period = period_of(by)
    rows = cases(reader, asked, span, period or "week")
    naming = _naming(reader, asked, by, rows)
    under: dict[str | None, list[int]] = {}
    total = [0] * 5
    for row in rows:
        added = _counted(row, defect)
        for value in (row.when,) if period else set(naming(row.case)):
            n = under.setdefault(value, [0] * 5)
            n[:] = map(int.__add__, n, added)
        total = list(map(int.__add__, total, added))
    steps = _steps(rows)
    return QualityAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_week=span.first_week,
        last_week=span.last_week,
        first_day=span.first_day,
        last_day=span.last_day,
        by=by,
        defect=defect or None,
        total=_row(None, total, total[0]),
        rows=tuple(_row(value, under[value], total[0]) for value in sorted(under, key=_order(by))),
        steps=steps,
        rolled_throughput_yield=_rolled(steps),
        cost=rework_cost(reader, asked, span),
        few=total[0] < FEW,
        with_more_coats=sum(row.many for row in rows if not row.case.whole),
        definitions=DEFINITIONS,
    )


def period_of(by: Dimension) -> Bucket | None:
    """Return the stretch of time a dimension is, if it is one."""
    return by if by == "day" or by == "week" or by == "month" else None


def _counted(row: Counted, defect: str) -> tuple[int, ...]:
    """Return how many are produced, inspected, passed at first, reworked, scrapped."""
    outcome, many = row.case.outcome, row.many
    of_kind = many if not defect or defect in row.case.kinds else 0
    return (
        many,
        many if "f" in outcome else 0,
        many if "p" in outcome else 0,
        of_kind if "r" in outcome else 0,
        of_kind if "s" in outcome else 0,
    )


def _row(value: str | None, n: list[int], all_: int) -> QualityRow:
    produced, inspected, passed, reworked, scrapped = n
    return QualityRow(
        value=value,
        produced=produced,
        inspected=inspected,
        of_all=proportion(produced, all_),
        first_pass_yield=proportion(passed, inspected),
        rework_ratio=proportion(reworked, produced),
        scrap_ratio=proportion(scrapped, produced),
    )


def _order(by: str) -> Callable[[str | None], tuple[bool, int, str]]:
    """What nobody said comes last; numbers come by their size."""

    def key(value: str | None) -> tuple[bool, int, str]:
        text = value or ""
        return value is None, int(text) if by == "coat" and text else 0, text

    return key


def _naming(reader: Reader, asked: Asked, by: str, rows: tuple[Counted, ...]) -> Naming:
    """Return what names the values of a case."""
    if by == "wood":
        return lambda case: (case.wood,)
    if by == "defect":
        return lambda case: case.kinds
    if by == "coat":
        return lambda case: (str(n) for n, _ in enumerate(case.coats, start=1))
    of_coat = _of_coat(reader, asked, by, rows)
    return lambda case: (of_coat(case, coat) for coat in case.coats)


def _of_coat(
    reader: Reader, asked: Asked, by: str, rows: tuple[Counted, ...]
) -> Callable[[Case, CaseCoat], str | None]:
    if by == "product":
        made = products(reader, asked, (coat.lot for row in rows for coat in row.case.coats))
        return lambda case, coat: made[coat.lot]
    if by == "climate":
        times = [coat_us(row.case, coat) for row in rows for coat in row.case.coats]
        air = Air(reader, asked, min(times, default=0), max(times, default=0))
        return lambda case, coat: air_band(air.at(coat.room, coat_us(case, coat)))
    if by == "nozzle":
        nozzles = Nozzles(reader, asked, asked.now_us)
        return lambda case, coat: nozzles.at(coat.gun, coat_us(case, coat))
    return lambda case, coat: getattr(coat, by, None)


def _steps(rows: tuple[Counted, ...]) -> tuple[Step, ...]:
    steps = []
    looks: Counter[str] = Counter()
    for row in rows:
        looks[row.case.looks] += row.many
    for point, letter in POINTS.items():
        passed = sum(many for seen, many in looks.items() if letter.upper() in seen)
        looked = passed + sum(many for seen, many in looks.items() if letter in seen)
        if looked:
            steps.append(Step(point=point, passed=proportion(passed, looked)))
    return tuple(steps)


def _rolled(steps: tuple[Step, ...]) -> float | None:
    return rolled_throughput_yield([s.passed.value or 0.0 for s in steps]) if steps else None


def rework_cost(reader: Reader, asked: Asked, span: Span) -> tuple[ReworkCost, ...]:
    """Add up what reworks begun in a span took, by where and why, the costliest first."""
    found: dict[tuple[str, str], dict[str, float]] = {}
    for (_, key), value in counts(reader, asked, ("rework_cost",), span.first, span.last).items():
        where, because, measure = shares(key)
        row = found.setdefault((where, because), {})
        row[measure] = row.get(measure, 0) + value
    rows = (
        ReworkCost(
            where=where,
            because=None if because == "unknown" else because,
            reworks=int(n.get("count", 0)),
            ended=int(n.get("ended", 0)),
            hands_on_h=round(n.get("hands_on_s", 0) / 3600, 3),
            finish_l=round(n.get("finish_ml", 0) / 1000, 3),
            away_days=round(n.get("away_s", 0) / 86_400, 3),
            unsaid=int(n.get("unsaid", 0)),
        )
        for (where, because), n in found.items()
    )
    return tuple(sorted(rows, key=lambda r: (-r.hands_on_h, -r.reworks, r.where, r.because or "~")))
