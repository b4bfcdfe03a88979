"""What is drawn of the flow of work: one side of it at a time."""

from collections.abc import Callable, Mapping
from typing import Literal

from coatledger.answers.flow.answer import FlowAnswer

from coatledger_api.charts.frame import Column, Frame
from coatledger_api.charts.pictures import Picture
from coatledger_api.charts.specs import bars, stacked

Side = Literal["waiting", "lead_time", "cumulative", "busy"]


def of_flow(answer: FlowAnswer, show: Side) -> Picture:
    """Draw one side of the flow."""
    return _FLOW[show](answer)


def _waiting(answer: FlowAnswer) -> Picture:
    touch = answer.touch_share
    frame = Frame(
        title="Where a piece's time goes",
        says=f"{answer.left} pieces that left"
        + ("" if touch is None else f"; {touch:.1%} of their time in somebody's hands")
        + ".",
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


def _lead_time(answer: FlowAnswer) -> Picture:
    frame = Frame(
        title="Days until pieces have left",
        says=f"{answer.left} pieces that left, from their start.",
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
    frame = Frame(
        title="How far work had come",
        says="Between two lines lies the work between two stages."
        + (
            f" The ledger's count and its times differ by {residual:.2%} (Little's law)."
            if residual is not None
            else ""
        ),
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


def _busy(answer: FlowAnswer) -> Picture:
    says = "No hours of work were told."
    if answer.busy:
        first = answer.busy[0]
        says = (
            f"The bottleneck is {first.resource}; one more would give at most"
            f" {first.one_more_gives:.0%} more."
        )
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
