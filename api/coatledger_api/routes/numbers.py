"""The shop's numbers: what comes back and what leaves."""

from typing import Annotated

from coatledger.answers.rework import ReworkAnswer, rework
from coatledger.answers.throughput import ThroughputAnswer, throughput
from coatledger.ledger.store import Reader
from msgspec import Meta

from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AsOf

Week = Annotated[
    str,
    Meta(pattern=r"^[0-9]{4}-W(0[1-9]|[1-4][0-9]|5[0-3])$", description="An ISO 8601 week."),
]


class WeeksQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From which week to which, both included."""

    first_week: Week | None = None
    last_week: Week | None = None


@reading("/v1/rework", tag="Numbers")
def read_rework(call: Call[WeeksQuery], reader: Reader) -> ReworkAnswer:
    """Read first-pass yield, rework and scrap, week by week.

    By the definitions of ISO 22400-2, each share with its 95 % Wilson interval; defects by kind,
    those the shop found apart from those a customer found.
    """
    query = call.query
    return rework(
        reader,
        asked(call, reader),
        first_week=query.first_week or "",
        last_week=query.last_week or "~",
    )


@reading("/v1/throughput", tag="Numbers")
def read_throughput(call: Call[WeeksQuery], reader: Reader) -> ThroughputAnswer:
    """Read what left, what is in process, and lead time.

    Pieces shipped a week and the throughput rate of ISO 22400-2 are two numbers under two names.
    """
    query = call.query
    return throughput(
        reader,
        asked(call, reader),
        first_week=query.first_week or "",
        last_week=query.last_week or "~",
    )


OPERATIONS: tuple[Operation, ...] = (read_rework, read_throughput)
