"""Described schedules: versions, cost, and two side by side."""

from typing import Annotated

from coatledger.answers.schedules import SchedulesAnswer, schedule_answer
from coatledger.events.base import Word
from coatledger.ledger.store import Reader
from msgspec import Meta

from coatledger_api.operations import Call, Operation, asked, reading
from coatledger_api.parameters import AskedM2, AsOf
from coatledger_api.problems import ProblemError


class OneSchedule(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which schedule, for which batch, beside which other."""

    schedule: Word
    area_m2: AskedM2 = 1.0
    against: Word | None = None
    against_version: (
        Annotated[int, Meta(ge=1, le=10_000, description="Which description, from 1.")] | None
    ) = None


@reading("/v1/schedules/{schedule}", tag="Shop", problems=("not_found", "beyond_source"))
def read_schedule(call: Call[OneSchedule], reader: Reader) -> SchedulesAnswer:
    """Read a schedule's versions and what a batch through it costs.

    Hands-on hours, litres, elapsed hours and days, with the sheets' waits as this shop has learned
    them. `against` lays another schedule beside it, `against_version` an earlier description.
    """
    query, place = call.query, asked(call, reader)
    found = schedule_answer(
        reader,
        query.schedule,
        place,
        query.area_m2,
        against=query.against,
        against_version=query.against_version,
        factors=call.service.learning.factors(reader, place),
    )
    if found is None:
        raise ProblemError("not_found", f"no schedule {query.schedule} was described then")
    return found


OPERATIONS: tuple[Operation, ...] = (read_schedule,)
