"""Why pieces come back, and how work flows: numbers and pictures for dashboards."""

from typing import Annotated

from coatledger.answers.flow.answer import FlowAnswer, flow
from coatledger.answers.quality.table import Dimension, QualityAnswer, period_of, quality
from coatledger.answers.quality.trend import Measure, TrendAnswer, trend
from coatledger.answers.quality.why import WhyAnswer, why
from coatledger.events.judging import DefectKind
from coatledger.ledger.store import Reader
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Meta

from coatledger_api.charts.pictures import of_quality, of_trend, of_why
from coatledger_api.charts.pictures_flow import Side, of_flow
from coatledger_api.forms import numbers
from coatledger_api.operations import Call, Operation, asked
from coatledger_api.ranges import REFUSED, Bucketed, Ranged, within


class QualityQuery(Ranged, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What to tell pieces apart by."""

    by: Annotated[Dimension, Meta(description="What pieces are told apart by.")] = "week"
    defect: Annotated[
        DefectKind | None, Meta(description="Count reworks only of pieces with this defect.")
    ] = None


class WhyQuery(Ranged, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which kind of defect to look at."""

    defect: Annotated[DefectKind | None, Meta(description="Only this kind of defect.")] = None


class TrendQuery(Ranged, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What to chart."""

    measure: Annotated[Measure, Meta(description="What is counted each week.")] = "reworked"


class FlowQuery(Bucketed, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which side to show in tables and pictures; JSON always holds them all."""

    show: Annotated[Side, Meta(description="The side shown in a table or picture.")] = "waiting"


@numbers("/v1/quality/rework", lambda answer, query: of_quality(answer), problems=REFUSED)
def read_quality(call: Call[QualityQuery], reader: Reader) -> QualityAnswer:
    """Read first-pass yield, rework and scrap, told apart by what you like.

    By day, week or month of a time zone, wood, kind of defect, product, can, gun, nozzle, room,
    person, coat number or the air at spraying; each share with its Wilson and its exact interval,
    few pieces called few. With it come the rolled throughput yield and what rework cost in hands,
    litres and days.
    """
    query, place = call.query, asked(call, reader)
    days = within(query, reader, place, period_of(query.by))
    return quality(reader, place, by=query.by, defect=query.defect or "", within=days)


@numbers("/v1/quality/why", lambda answer, query: of_why(answer), problems=REFUSED)
def read_why(call: Call[WhyQuery], reader: Reader) -> WhyAnswer:
    """Read what goes with each kind of defect, ranked, and the trial that would settle it.

    Every coat of these weeks is held against what was so when it went on: can, gun, nozzle, person,
    air, film, wait, cleaning, and what the rules said of it (`finding …`). Compared within product
    and wood, tested exactly, held against how many things were looked at. An association is not a
    cause.
    """
    query, place = call.query, asked(call, reader)
    days = within(query, reader, place)
    return why(reader, place, defect=query.defect or "", within=days)


@numbers("/v1/quality/trend", lambda answer, query: of_trend(answer), problems=REFUSED)
def read_trend(call: Call[TrendQuery], reader: Reader) -> TrendAnswer:
    """Read whether it is getting worse: charts, the change dated, what was new then.

    Shewhart limits (Laney's where weeks differ by more than chance), run rules, EWMA and CUSUM, a
    CUSUM piece by piece and charts of gaps for rare defects, each with how often it cries wolf.
    """
    query, place = call.query, asked(call, reader)
    days = within(query, reader, place, "week")
    return trend(reader, place, measure=query.measure, within=days)


@numbers("/v1/flow", lambda answer, query: of_flow(answer, query.show), problems=REFUSED)
def read_flow(call: Call[FlowQuery], reader: Reader) -> FlowAnswer:
    """Read how work flows: lead times, where the time goes, the bottleneck.

    Little's law is held against the kept count as a check of the ledger: a residual above a few
    hundredths means that facts are missing, or that the range is a few days, where the
    quarter-hours of the kept count weigh more. `bucket` gathers `cumulative`; hours of opening stay
    those of the shop's own zone.
    """
    query, place = call.query, asked(call, reader)
    return flow(
        reader, place, within=within(query, reader, place, query.bucket), bucket=query.bucket,
        holidays=holidays_around(reader, place),
    )  # fmt: skip


OPERATIONS: tuple[Operation, ...] = (read_quality, read_why, read_trend, read_flow)
