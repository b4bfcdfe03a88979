"""Why pieces come back, and how work flows: numbers and pictures for dashboards."""

from typing import Annotated

from coatledger.answers.flow.answer import FlowAnswer, flow
from coatledger.answers.quality.table import Dimension, QualityAnswer, quality
from coatledger.answers.quality.trend import Measure, TrendAnswer, trend
from coatledger.answers.quality.why import WhyAnswer, why
from coatledger.events.judging import DefectKind
from coatledger.ledger.store import Reader
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Meta

from coatledger_api.charts.pictures import of_quality, of_trend, of_why
from coatledger_api.charts.pictures_flow import Side, of_flow
from coatledger_api.forms import Formed, numbers
from coatledger_api.operations import Call, Operation, asked
from coatledger_api.parameters import Week, Zone, known_zone

YEAR = "Without it, a year up to the last week."


class Weeks(Formed, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From which week to which, both included, and in which form."""

    first_week: Annotated[Week | None, Meta(description=YEAR)] = None
    last_week: Annotated[Week | None, Meta(description="Without it, the week of now.")] = None


class QualityQuery(Weeks, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What to tell pieces apart by, and whose days, weeks and months these are."""

    by: Annotated[Dimension, Meta(description="What pieces are told apart by.")] = "week"
    defect: Annotated[
        DefectKind | None, Meta(description="Count reworks only of pieces with this defect.")
    ] = None

    zone: Zone | None = None


class WhyQuery(Weeks, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which kind of defect to look at."""

    defect: Annotated[DefectKind | None, Meta(description="Only this kind of defect.")] = None


class TrendQuery(Weeks, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What to chart."""

    measure: Annotated[Measure, Meta(description="What is counted each week.")] = "reworked"


class FlowQuery(Weeks, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which side to show in tables and pictures; JSON always holds them all."""

    show: Annotated[Side, Meta(description="The side shown in a table or picture.")] = "waiting"


@numbers("/v1/quality/rework", lambda answer, query: of_quality(answer), problems=("not_found",))
def read_quality(call: Call[QualityQuery], reader: Reader) -> QualityAnswer:
    """Read first-pass yield, rework and scrap, told apart by what you like.

    By day, week or month of a time zone, wood, kind of defect, product, can, gun, nozzle, room,
    person, coat number or the air at spraying; each share with its Wilson and its exact interval,
    few pieces called few. With it come the rolled throughput yield and what rework cost in hands,
    litres and days.
    """
    query = call.query
    return quality(
        reader, asked(call, reader), by=query.by, defect=query.defect or "",
        first_week=query.first_week or "", last_week=query.last_week or "",
        zone=known_zone(query.zone),
    )  # fmt: skip


@numbers("/v1/quality/why", lambda answer, query: of_why(answer))
def read_why(call: Call[WhyQuery], reader: Reader) -> WhyAnswer:
    """Read what goes with each kind of defect, ranked, and the trial that would settle it.

    Every coat of these weeks is held against what was so when it went on: can, gun, nozzle, person,
    air, film, wait, cleaning. Compared within product and wood, tested exactly, held against how
    many things were looked at. An association is not a cause.
    """
    query = call.query
    return why(
        reader, asked(call, reader), defect=query.defect or "",
        first_week=query.first_week or "", last_week=query.last_week or "",
    )  # fmt: skip


@numbers("/v1/quality/trend", lambda answer, query: of_trend(answer))
def read_trend(call: Call[TrendQuery], reader: Reader) -> TrendAnswer:
    """Read whether it is getting worse: charts, the change dated, what was new then.

    Shewhart limits (Laney's where weeks differ by more than chance), run rules, EWMA and CUSUM, a
    CUSUM piece by piece and charts of gaps for rare defects, each with how often it cries wolf.
    """
    query = call.query
    return trend(
        reader, asked(call, reader), measure=query.measure,
        first_week=query.first_week or "", last_week=query.last_week or "",
    )  # fmt: skip


@numbers("/v1/flow", lambda answer, query: of_flow(answer, query.show))
def read_flow(call: Call[FlowQuery], reader: Reader) -> FlowAnswer:
    """Read how work flows: lead times, where the time goes, the bottleneck.

    Little's law is held against the kept count as a check of the ledger: a residual above a few
    hundredths means that facts are missing.
    """
    query, place = call.query, asked(call, reader)
    return flow(
        reader, place, first_week=query.first_week or "", last_week=query.last_week or "",
        holidays=holidays_around(reader, place),
    )  # fmt: skip


OPERATIONS: tuple[Operation, ...] = (read_quality, read_why, read_trend, read_flow)
