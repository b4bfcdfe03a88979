"""What is drawn of each answer: its frame, and the picture of it."""

from collections.abc import Callable
from typing import Any

from coatledger.answers.quality.table import QualityAnswer, period_of
from coatledger.answers.quality.trend import TrendAnswer
from coatledger.answers.quality.why import WhyAnswer
from coatledger.answers.rework import ReworkAnswer
from coatledger.answers.throughput import ThroughputAnswer
from msgspec import Struct

from coatledger_api.charts.frame import Cell, Column, Frame
from coatledger_api.charts.look import Look
from coatledger_api.charts.specs import ODDS_DRAWN, Spec, intervals, over_time

Draws = Callable[[Look, int], Spec]


class Picture(Struct, frozen=True):
    """A frame, and what draws it for a look and a width."""

    frame: Frame
    spec: Draws


DRAWN_A_KIND = 3
FEW = "So few pieces prove little; the intervals say how little."
_SHARES = tuple(
    Column(f"{name}{end}", f"{label}{words}", "share")
    for name, label in (
        ("rework_ratio", "reworked"), ("first_pass_yield", "passed at first"),
        ("scrap_ratio", "scrapped"),
    )
    for end, words in (
        ("", ""), ("_low", ", low"), ("_high", ", high"), ("_exact_low", ", exact low"),
        ("_exact_high", ", exact high"),
    )
)  # fmt: skip


def of_quality(answer: QualityAnswer) -> Picture:
    """Draw the rework ratio of each value with its interval."""
    total = answer.total
    period = period_of(answer.by)
    says = (
        f"{total.rework_ratio.count} of {pieces(total.produced)} reworked,"
        f" {_days(answer)}; lines are 95 % Wilson intervals." + (f" {FEW}" if answer.few else "")
    )
    frame = Frame(
        title=f"Reworked, by {answer.by}" + (f", for {answer.defect}" if answer.defect else ""),
        says=says if answer.rows and total.produced else _nothing(answer),
        columns=(
            Column(period or "value", answer.by),
            Column("produced", "pieces", "count"),
            Column("inspected", "inspected", "count"),
            *_SHARES,
            Column("few", "few", "flag"),
        ),
        rows=tuple(
            (row.value, row.produced, row.inspected, *_shares(row), row.rework_ratio.few)
            for row in answer.rows
        ),
        notes=tuple(f"{name}: {words}" for name, words in answer.definitions.items()),
    )
    if period:
        return Picture(
            frame,
            lambda look, width: over_time(
                frame, look, width, value="rework_ratio", low="rework_ratio_low",
                high="rework_ratio_high", axis="share of pieces reworked", upright=True,
            ),
        )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: intervals(
            _named(frame), look, width, label="value", value="rework_ratio",
            low="rework_ratio_low", high="rework_ratio_high", axis="share of pieces reworked",
        ),
    )  # fmt: skip


def _shares(row: Any) -> tuple[float | None, ...]:
    return tuple(
        one
        for share in (row.rework_ratio, row.first_pass_yield, row.scrap_ratio)
        for one in (share.value, share.low, share.high, share.exact_low, share.exact_high)
    )


def _named(frame: Frame) -> Frame:
    """Put words where nobody said: a picture has no empty label."""
    rows = tuple((_label(row[0]), *row[1:]) for row in frame.rows)
    return Frame(title=frame.title, says=frame.says, columns=frame.columns, rows=rows)


def _label(value: object) -> str:
    return "not said" if value is None else str(value).replace("_", " ")


def of_why(answer: WhyAnswer) -> Picture:
    """Draw the odds of each candidate with its interval, the named ones by another shape."""
    rows = tuple(
        (
            f"{_label(kind.kind)}: {one.fact}: {one.value}", kind.kind, one.fact, one.value,
            one.odds_ratio, one.low, one.high, one.with_bad, one.with_all, one.without_bad,
            one.without_all, one.p, one.rate, one.could_show, one.named, one.says, one.trial,
        )
        for kind in answer.kinds
        for one in kind.candidates
    )  # fmt: skip
    named = sum(kind.named for kind in answer.kinds)
    stand_out = f"diamonds: {named} that chance hardly gives" if named else "none beats chance"
    says = (
        f"{answer.coats:,} coats in {answer.acts:,} acts, {answer.tests:,} comparisons;"
        f" {stand_out}. Goes with is not cause: try it."
    )
    if not rows:
        says = "Too few defects to compare anything."
    frame = Frame(
        title="What goes with defects",
        says=says,
        columns=(
            Column("label", "what"), Column("kind", "defect"), Column("fact", "fact"),
            Column("value", "value"), Column("odds_ratio", "odds, times", "number"),
            Column("low", "low", "number"), Column("high", "high", "number"),
            Column("with_bad", "bad with", "count"), Column("with_all", "with", "count"),
            Column("without_bad", "bad without", "count"),
            Column("without_all", "without", "count"), Column("p", "p", "number"),
            Column("rate", "false-discovery rate", "number"),
            Column("could_show", "odds that would have shown", "number"),
            Column("named", "named", "flag"), Column("says", "in words"), Column("trial", "trial"),
        ),
        rows=rows,
        notes=tuple(f"{name}: {words}" for name, words in answer.definitions.items()),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: intervals(
            _drawable(frame), look, width, label="label", value="odds_ratio", low="low",
            high="high", axis="odds, times those of others", ratio=True,
            stands_out="named",
        ),
    )  # fmt: skip


def _drawable(frame: Frame) -> Frame:
    """Of each kind the likeliest few are drawn; an end that the data leave open is at the edge."""
    first, last = ODDS_DRAWN[0], ODDS_DRAWN[-1]
    seen: dict[object, int] = {}
    rows: list[tuple[Cell, ...]] = []
    for row in frame.rows:
        seen[row[1]] = seen.get(row[1], 0) + 1
        if seen[row[1]] <= DRAWN_A_KIND:
            rows.append((*row[:4], row[4] or last, row[5] or first, row[6] or last, *row[7:]))
    return Frame(title=frame.title, says=frame.says, columns=frame.columns, rows=tuple(rows))


def of_trend(answer: TrendAnswer) -> Picture:
    """Draw the weeks within their limits, the change's weeks behind, what was new below."""
    points, change = answer.points, answer.change
    says = f"{len(points)} weeks; {answer.chart or 'no'} chart; dashes: limits three sigmas out."
    if change is not None and change.strong:
        when = f"between {change.earliest} and {change.latest}, likeliest in {change.week}"
        if change.earliest == change.latest:
            when = f"in {change.week}"
        says += (
            f" It changed {when} (shaded): {change.before:.1%} before, {change.after:.1%} after."
        )
    elif change is not None:
        says += " No change is strongly spoken for."
    frame = Frame(
        title={"reworked": "Reworked each week", "failed_first": "Not passed at first, each week",
               "scrapped": "Scrapped each week", "defects": "Defects a piece, each week"}[
                   answer.measure],
        says=says if points else "Fewer than six weeks with something to count: no chart.",
        columns=(
            Column("week", "week"), Column("count", "counted", "count"),
            Column("of", "of", "count"), Column("value", "value", "share"),
            Column("low", "low limit", "share"), Column("high", "high limit", "share"),
            Column("score", "sigmas", "number"), Column("ewma", "EWMA", "number"),
            Column("cusum_high", "CUSUM up", "number"),
            Column("cusum_low", "CUSUM down", "number"), Column("signal", "signal", "flag"),
            Column("rules", "rules met"), Column("new", "new that week"),
        ),
        rows=tuple(
            (
                p.week, p.count, p.of, p.value, p.low, p.high, p.score, p.ewma, p.cusum_high,
                p.cusum_low, bool(p.rules) or not p.low <= p.value <= p.high, "; ".join(p.rules),
                "; ".join(mark.says for mark in answer.marks if mark.week == p.week),
            )
            for p in points
        ),
        notes=(
            *(f"{a.says}: {a.signals} signals; a false alarm every {a.weeks_to_false_alarm:g}"
              " weeks on average" for a in answer.alarms),
            *(f"{name}: {words}" for name, words in answer.definitions.items()),
        ),
    )  # fmt: skip
    near = [mark.week for mark in answer.marks if mark.near_change and change and change.strong]
    strong = change if change is not None and change.strong else None
    return Picture(
        frame,
        lambda look, width: over_time(
            frame, look, width, value="value", low="low", high="high", level=answer.center,
            axis="share of pieces" if answer.measure != "defects" else "defects a piece",
            form=".0%" if answer.measure != "defects" else ".2f", out="signal", marks=near,
            band=None if strong is None else (strong.earliest, strong.latest),
        ),
    )  # fmt: skip


def of_rework(answer: ReworkAnswer) -> Picture:
    """Draw first-pass yield over time with its interval."""
    total = answer.total
    says = "No piece had its final inspection."
    if total.inspected:
        says = f"{total.passed_first} of {total.inspected} passed at first."
    frame = Frame(
        title="Passed their first final inspection",
        says=says + (f" {FEW}" if answer.few and total.inspected else ""),
        columns=(
            Column(answer.bucket, answer.bucket), Column("inspected", "inspected", "count"),
            Column("passed_first", "passed at first", "count"),
            Column("produced", "produced", "count"), Column("reworked", "reworked", "count"),
            Column("scrapped", "scrapped", "count"),
            Column("first_pass_yield", "first-pass yield", "share"),
            Column("low", "low", "share"), Column("high", "high", "share"),
        ),
        rows=tuple(
            (
                row.value, row.inspected, row.passed_first, row.produced, row.reworked,
                row.scrapped, row.first_pass_yield.value, row.first_pass_yield.low,
                row.first_pass_yield.high,
            )
            for row in answer.rows
        ),
        notes=tuple(f"{name}: {words}" for name, words in answer.definitions.items()),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: over_time(
            frame, look, width, value="first_pass_yield", low="low", high="high",
            axis="share of pieces", upright=True,
        ),
    )  # fmt: skip


def of_throughput(answer: ThroughputAnswer) -> Picture:
    """Draw what was shipped each day, week or month."""
    per_week = answer.shipped_per_week
    # Months differ in length: no one level is theirs.
    shares = {"day": 1 / 7, "week": 1.0}
    level = per_week * shares[answer.bucket] if per_week and answer.bucket in shares else None
    line = "" if level is None else " (the line across)"
    frame = Frame(
        title=f"Shipped each {answer.bucket}",
        says=(
            f"{pieces(answer.shipped)} shipped"
            + (f", {per_week:.3g} a week{line}" if per_week is not None else "")
            + f"; {answer.in_process_total} in process now."
        ),
        columns=(
            Column(answer.bucket, answer.bucket), Column("started", "started", "count"),
            Column("shipped", "shipped", "count"), Column("scrapped", "scrapped", "count"),
            Column("in_process_end", "in process at its end", "count"),
            Column("lead_days_median", "median lead time, days", "number"),
        ),
        rows=tuple(
            (row.value, row.started, row.shipped, row.scrapped, row.in_process_end,
             row.lead_days_median)
            for row in answer.rows
        ),
        notes=tuple(f"{name}: {words}" for name, words in answer.definitions.items()),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: over_time(
            frame, look, width, value="shipped", axis="pieces", form=",d", level=level
        ),
    )


def pieces(many: int) -> str:
    """Count pieces in words."""
    return "1 piece" if many == 1 else f"{many:,} pieces"


def _nothing(answer: QualityAnswer) -> str:
    if answer.total.produced:
        return f"None of {pieces(answer.total.produced)} has anything to tell by {answer.by}."
    return f"No piece had its final inspection from {_days(answer)}."


def _days(answer: QualityAnswer) -> str:
    """Write a range as whole weeks where it is, else as days."""
    if answer.first_day.weekday() == 0 and answer.last_day.weekday() == 6:
        return f"{answer.first_week} to {answer.last_week}"
    return f"{answer.first_day} to {answer.last_day}"
