"""What is drawn of the flow of work: one side of it at a time."""

from collections.abc import Callable, Mapping
from typing import Literal

from coatledger.answers.flow.answer import FlowAnswer
from coatledger.answers.flow.busy import Busy

from coatledger_api.charts.frame import Column, Frame
from coatledger_api.charts.pictures import Picture, pieces
from coatledger_api.charts.specs import bars, stacked

# Below this share of its hours nothing is a bottleneck; common practice, no published source.
BUSY_LEAST = 0.5
Side = Literal["waiting", "lead_time", "cumulative", "busy"]


def of_flow(answer: FlowAnswer, show: Side) -> Picture:
    """Draw one side of the flow."""
    return _FLOW[show](answer)


def _waiting(answer: FlowAnswer) -> Picture:
    touch = answer.touch_share
    frame = Frame(
        title="Where a piece's time goes",
        says=_left(answer, "" if touch is None else f"; {touch:.1%} of it in somebody's hands"),
        columns=(Column("reason", "reason"), Column("hours", "hours a piece", "number"),
                 Column("share", "share", "share")),
        rows=tuple((one.reason, one.hours, one.share) for one in answer.spent),
        notes=(answer.definitions["spent"], answer.definitions["touch_share"]),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: bars(
            frame, look, width, label="reason", value="hours", axis="hours a piece", form=".1f"
        ),
    )


def _left(answer: FlowAnswer, more: str) -> str:
    if not answer.left:
        return "No piece left in these days."
    return f"Of {pieces(answer.left)} that left{more}."


def _lead_time(answer: FlowAnswer) -> Picture:
    frame = Frame(
        title="Days until pieces have left",
        says=_left(answer, ", from the start"),
        columns=(Column("label", "of a hundred"), Column("percent", "percent", "number"),
                 Column("days", "days", "number")),
        rows=tuple(
            (f"{one.percent:g} of 100 within", one.percent, one.days) for one in answer.lead_time
        ),
        notes=(answer.definitions["lead_time"],),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: bars(
            frame, look, width, label="label", value="days", axis="days", form=".1f"
        ),
    )


def _cumulative(answer: FlowAnswer) -> Picture:
    residual = answer.residual_share
    says = "Between two lines lies the work between two stages."
    if residual is not None:
        says += f" The ledger's count and its times differ by {residual:.2%} (Little's law)."
    if not any(row.started for row in answer.cumulative):
        says = "No piece was started in these days."
    frame = Frame(
        title="How far work had come",
        says=says,
        columns=(Column(answer.bucket, answer.bucket), Column("started", "started", "count"),
                 Column("coated", "coated", "count"), Column("passed", "passed", "count"),
                 Column("left", "left", "count")),
        rows=tuple(
            (r.value, r.started, r.coated, r.passed, r.left) for r in answer.cumulative if r.started
        ),
        notes=(answer.definitions["little"], answer.definitions["cumulative"]),
    )  # fmt: skip
    lines = {"started": "started", "coated": "first coat on", "passed": "passed", "left": "left"}
    return Picture(
        frame, lambda look, width: stacked(frame, look, width, lines=lines, axis="pieces")
    )


def busiest(first: Busy) -> str:
    """Say what holds the work up most, and what one more of it would give; where it is hardly at
    work, only that."""
    at_work = f"at work {first.share:.0%} of the open hours, by what was told"
    if first.share < BUSY_LEAST:
        return f"Busiest: {first.resource}, {at_work}: more of it would hardly give more."
    return (
        f"The bottleneck: {first.resource}, {at_work}; one more would give at most"
        f" {first.one_more_gives:.0%} more."
    )


def _busy(answer: FlowAnswer) -> Picture:
    says = "No hours of work were told."
    if answer.busy:
        says = busiest(answer.busy[0])
    frame = Frame(
        title="Who and what is busy",
        says=says,
        columns=(Column("resource", "resource"), Column("units", "units", "count"),
                 Column("share", "busy", "share"),
                 Column("one_more_gives", "one more gives at most", "share")),
        rows=tuple((b.resource, b.units, b.share, b.one_more_gives) for b in answer.busy),
        notes=(answer.definitions["busy"],),
    )  # fmt: skip
    return Picture(
        frame,
        lambda look, width: bars(
            frame,
            look,
            width,
            label="resource",
            value="share",
            axis="share of open hours",
            form=".0%",
        ),
    )


_FLOW: Mapping[str, Callable[[FlowAnswer], Picture]] = {
    "waiting": _waiting, "lead_time": _lead_time, "cumulative": _cumulative, "busy": _busy,
}  # fmt: skip
