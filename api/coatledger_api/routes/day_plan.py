"""The day plan, to read and as a calendar to subscribe to."""

from typing import Annotated

from coatledger.answers.day_plan.answer import DayPlan
from coatledger.answers.day_plan.diary import Diary, diary
from coatledger.answers.day_plan.plan import DAYS, DAYS_MOST, day_plan
from coatledger.ledger.store import Reader
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Meta

from coatledger_api.forms import Tabled, tabled
from coatledger_api.operations import Call, Operation, Reply, asked, running
from coatledger_api.paper.day_plan_page import page_of
from coatledger_api.paper.day_plan_table import frame_of
from coatledger_api.parameters import AsOf

CALENDAR = "text/calendar"
# A calendar shows a week of work; what is further off is promised, not planned.
CALENDAR_DAYS = 5


class DayPlanQuery(Tabled, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How many days."""

    days: Annotated[
        int, Meta(ge=1, le=DAYS_MOST, description="So many working days, today counted.")
    ] = DAYS


@tabled("/v1/day-plan", frame_of, page_of, tag="Shop")
def read_day_plan(call: Call[DayPlanQuery], reader: Reader) -> DayPlan:
    """Read today's work and tomorrow's, in order and with times.

    Who does what on which pieces, with which can, gun and set-up; when each film is ready for what;
    what waits, because of what, and what would end it; what leaves at which pick-up. One course of
    the engine that promises come from, with the likely durations: planned anew by every fact.
    `as_of` is rounded up to five minutes, so that the answer and its entity tag stay meanwhile.
    """
    place = asked(call, reader)
    holidays = holidays_around(reader, place)
    factors = call.service.learning.factors(reader, place)
    return day_plan(reader, place, holidays, factors, days=call.query.days)


@running(
    "GET", "/v1/calendar.ics", tag="Shop", scope="read", answers={CALENDAR: str}, kept=True,
    basic=True,
)  # fmt: skip
async def read_calendar(call: Call[AsOf]) -> Reply:
    """Read the shop's calendar as iCalendar (RFC 5545), to subscribe to.

    Pieces that get ready (their sure times), planned coats, the dates customers were told, pick-ups
    of the next weeks, closed days. An entry keeps its UID however often it moves. A calendar
    program sends the key as the password of HTTP Basic, with any user; the address holds no key.
    """
    from coatledger_adapters.calendar_feed import calendar_of  # 40 ms, and only for this

    service = call.service

    def read(reader: Reader) -> Diary:
        place = asked(call, reader)
        holidays = holidays_around(reader, place)
        factors = service.learning.factors(reader, place)
        plan = day_plan(reader, place, holidays, factors, days=CALENDAR_DAYS)
        return diary(reader, place, plan, holidays)

    told = await service.read(read)
    body = await service.in_thread(lambda: calendar_of(told, service.store.shop))
    headers = {"Coatledger-Position": str(told.position)}
    return Reply(body, media_type=f"{CALENDAR}; charset=utf-8", headers=headers)


OPERATIONS: tuple[Operation, ...] = (read_day_plan, read_calendar)
