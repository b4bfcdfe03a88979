"""Is it getting worse: weekly shares and rates on charts, rare events by their gaps, a date.

Each chart says how often it cries wolf. Limits are made of the very weeks they judge, so the first
look at a span finds less than a chart kept with limits of a known good time.
"""

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Literal

from msgspec import Struct

from coatledger.answers.quality.cases import Counted, cases
from coatledger.answers.quality.marks import Mark, marks
from coatledger.answers.quality.rare import Gaps, PieceByPiece, gaps, piece_by_piece
from coatledger.computations.change_point import change_in_share
from coatledger.computations.control_charts import (
    Chart,
    Dispersion,
    binomial_dispersion,
    laney_p_chart,
    laney_u_chart,
    p_chart,
    poisson_dispersion,
    u_chart,
)
from coatledger.computations.cusum_ewma import (
    cusum_chart,
    cusum_run_length,
    ewma_chart,
    ewma_run_length,
)
from coatledger.computations.run_rules import WESTERN_ELECTRIC, run_length, signals
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.span import OPEN, Within, span_of

Measure = Literal["reworked", "failed_first", "scrapped", "defects"]
# A common choice of both charts for small changes; their run lengths stand beside them.
EWMA_WEIGHT, EWMA_WIDTH = 0.2, 2.962
CUSUM_ALLOWANCE, CUSUM_BOUND = 0.5, 5.0
WEEKS_LEAST = 6
# Weeks that differ by more than chance at this level get Laney's limits.
DISPERSED = 0.05
# Kass and Raftery 1995: from here on the data speak strongly for a change.
STRONG = 20.0


class TrendPoint(Struct, frozen=True, kw_only=True):
    """One week: `count` of `of`, its limits, and what the charts with a memory hold after it.

    `score` is the distance from the centre in standard deviations; `rules` those met here.
    """

    week: str
    count: int
    of: int
    value: float
    low: float
    high: float
    score: float
    ewma: float
    ewma_low: float
    ewma_high: float
    cusum_high: float
    cusum_low: float
    rules: tuple[str, ...]


class Alarm(Struct, frozen=True, kw_only=True):
    """One way to signal: how often it did, and every how many weeks it would for nothing."""

    chart: str
    says: str
    signals: int
    weeks_to_false_alarm: float


class Change(Struct, frozen=True, kw_only=True):
    """The likeliest first week of one change, the weeks that with 90 % hold it, and how strongly
    the data speak for any change: `strong` from a Bayes factor of 20 on."""

    week: str
    earliest: str
    latest: str
    before: float
    after: float
    bayes_factor: float | None
    strong: bool


class TrendAnswer(Struct, frozen=True, kw_only=True):
    """One measure over some weeks. Fewer than six weeks with pieces have no chart."""

    position: int
    as_of: datetime | None
    zone: str
    first_week: str
    last_week: str
    first_day: date
    last_day: date
    measure: str
    chart: str | None
    center: float | None
    sigma_z: float | None
    more_than_chance: float | None
    points: tuple[TrendPoint, ...]
    alarms: tuple[Alarm, ...]
    change: Change | None
    pieces: PieceByPiece | None
    gaps: Gaps | None
    marks: tuple[Mark, ...]
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "measure": "reworked, failed_first or scrapped pieces of those produced (failed_first: of those"
    " inspected), or kinds of defect found per piece produced, by ISO week",
    "chart": "p or u chart (NIST/SEMATECH e-Handbook 6.3.3); Laney's p' or u' where weeks differ by"
    f" more than chance (chi-square, p below {DISPERSED:g})",
    "rules": "the four zone rules of Western Electric (1956)",
    "change": "one change of a binomial share, each week equally likely beforehand (Smith 1975)",
    "pieces": "Bernoulli CUSUM for a doubling (Reynolds and Stoumbos 1999)",
    "gaps": "g chart of good pieces between bad ones (Benneyan 2001), t chart of hours between"
    " (Nelson 1994); acts of one quarter-hour are one",
}


def trend(
    reader: Reader, asked: Asked, *, measure: Measure = "reworked", within: Within = OPEN
) -> TrendAnswer:  # fmt: skip
    """Chart one measure over the weeks of some days (of a year if none are given)."""
    span = span_of(reader, asked, within)
    rows = cases(reader, asked, span)
    weeks, counts, sizes = by_week(rows, measure)
    chart, name, dispersion = _chart(counts, sizes, measure)
    points = () if chart is None else _points(weeks, counts, sizes, chart, measure)
    change = _change(weeks, counts, sizes) if chart is not None and measure != "defects" else None
    return TrendAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_week=span.first_week,
        last_week=span.last_week,
        first_day=span.first_day,
        last_day=span.last_day,
        measure=measure,
        chart=name,
        center=None if chart is None else chart.center,
        sigma_z=None if chart is None else chart.sigma_z,
        more_than_chance=None if dispersion is None else dispersion.p,
        points=points,
        alarms=_alarms(points),
        change=change,
        pieces=piece_by_piece(rows, measure),
        gaps=gaps(rows, measure),
        marks=marks(
            reader, asked, span, rows, None if change is None else (change.earliest, change.latest)
        ),
        definitions=DEFINITIONS,
    )


def by_week(
    rows: Sequence[Counted], measure: Measure
) -> tuple[tuple[str, ...], tuple[int, ...], tuple[int, ...]]:
    """Return weeks with pieces, how many were bad, and of how many."""
    bad: dict[str, int] = {}
    size: dict[str, int] = {}
    for row in rows:
        many, of = counted(row, measure)
        bad[row.when] = bad.get(row.when, 0) + many
        size[row.when] = size.get(row.when, 0) + of
    weeks = tuple(week for week in sorted(size) if size[week])
    return weeks, tuple(bad[week] for week in weeks), tuple(size[week] for week in weeks)


def counted(row: Counted, measure: Measure) -> tuple[int, int]:
    """Return how many of a row's pieces (or defects) are bad, and of how many."""
    outcome, many = row.case.outcome, row.many
    if measure == "defects":
        return len(row.case.kinds) * many, many
    if measure == "failed_first":
        return many * ("f" in outcome and "p" not in outcome), many * ("f" in outcome)
    return many * (("r" if measure == "reworked" else "s") in outcome), many


def _chart(
    counts: Sequence[int], sizes: Sequence[int], measure: Measure
) -> tuple[Chart | None, str | None, Dispersion | None]:
    if len(counts) < WEEKS_LEAST or sum(counts) == 0:
        return None, None, None
    if measure == "defects":
        dispersion = poisson_dispersion(counts, sizes)
        if _more_than_chance(dispersion):
            return laney_u_chart(counts, sizes), "u'", dispersion
        return u_chart(counts, sizes), "u", dispersion
    if sum(counts) == sum(sizes):
        return None, None, None
    dispersion = binomial_dispersion(counts, sizes)
    if _more_than_chance(dispersion):
        return laney_p_chart(counts, sizes), "p'", dispersion
    return p_chart(counts, sizes), "p", dispersion


def _more_than_chance(dispersion: Dispersion) -> bool:
    return dispersion.p < DISPERSED and dispersion.ratio > 1.0


def _points(
    weeks: Sequence[str], counts: Sequence[int], sizes: Sequence[int], chart: Chart,
    measure: Measure,
) -> tuple[TrendPoint, ...]:  # fmt: skip
    center = chart.center
    spread = center if measure == "defects" else center * (1.0 - center)
    scores = [
        (point.value - center) / (math.sqrt(spread / size) * (chart.sigma_z or 1.0))
        for point, size in zip(chart.points, sizes, strict=True)
    ]
    ewma = ewma_chart(scores, 0.0, 1.0, EWMA_WEIGHT, EWMA_WIDTH)
    cusum = cusum_chart(scores, 0.0, CUSUM_ALLOWANCE, CUSUM_BOUND)
    met = signals(scores, tuple(WESTERN_ELECTRIC.values()))
    return tuple(
        TrendPoint(
            week=week,
            count=counts[i],
            of=sizes[i],
            value=chart.points[i].value,
            low=chart.points[i].low,
            high=chart.points[i].high,
            score=scores[i],
            ewma=ewma[i].average,
            ewma_low=ewma[i].low,
            ewma_high=ewma[i].high,
            cusum_high=cusum[i].high_sum,
            cusum_low=cusum[i].low_sum,
            rules=tuple(one.rule for one in met if one.at == i),
        )
        for i, week in enumerate(weeks)
    )


def _alarms(points: Sequence[TrendPoint]) -> tuple[Alarm, ...]:
    """Say of each chart how often it signalled, and how often it would for nothing."""
    if not points:
        return ()
    signalled = {
        "limits": sum(not p.low <= p.value <= p.high for p in points),
        "rules": sum(bool(p.rules) for p in points),
        "ewma": sum(not p.ewma_low <= p.ewma <= p.ewma_high for p in points),
        "cusum": sum(max(p.cusum_high, p.cusum_low) > CUSUM_BOUND for p in points),
    }
    return tuple(
        Alarm(chart=chart, says=says, signals=signalled[chart], weeks_to_false_alarm=length)
        for chart, says, length in _false_alarms()
    )


@lru_cache(maxsize=1)
def _false_alarms() -> tuple[tuple[str, str, float], ...]:
    """Every how many weeks each chart cries wolf, exactly, were the scores normal."""
    rules = tuple(WESTERN_ELECTRIC.values())
    ewma = f"EWMA, weight {EWMA_WEIGHT:g}, {EWMA_WIDTH:g} sigmas"
    cusum = f"CUSUM, allowance {CUSUM_ALLOWANCE:g}, bound {CUSUM_BOUND:g} sigmas"
    lengths = (
        ("limits", "a week beyond three sigmas", run_length(rules[:1])),
        ("rules", "any of the four zone rules", run_length(rules)),
        ("ewma", ewma, ewma_run_length(EWMA_WEIGHT, EWMA_WIDTH)),
        ("cusum", cusum, cusum_run_length(CUSUM_ALLOWANCE, CUSUM_BOUND)),
    )
    return tuple((chart, says, round(length, 1)) for chart, says, length in lengths)


def _change(weeks: Sequence[str], counts: Sequence[int], sizes: Sequence[int]) -> Change:
    found = change_in_share(counts, sizes)
    factor = found.favours_change
    return Change(
        week=weeks[found.first_after],
        earliest=weeks[found.earliest],
        latest=weeks[found.latest],
        before=found.share_before,
        after=found.share_after,
        bayes_factor=factor if math.isfinite(factor) else None,
        strong=factor >= STRONG,
    )
