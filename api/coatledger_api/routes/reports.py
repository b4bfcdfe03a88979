"""The month in the finishing room: one page to read and to print."""

from typing import Annotated

from coatledger.answers.flow.answer import flow
from coatledger.answers.month import MonthAnswer, month
from coatledger.answers.quality.table import quality
from coatledger.answers.quality.trend import trend
from coatledger.answers.quality.why import why
from coatledger.answers.throughput import throughput
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import ask
from coatledger.subjects.span import Within
from coatledger_adapters.public_holidays import holidays_around
from msgspec import Meta

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, running
from coatledger_api.paper.month_page import MONTH_HEADERS, Told, month_page
from coatledger_api.parameters import AsOf
from coatledger_api.rendering import for_people, shop_zone

HTML = "text/html"
Month = Annotated[
    str,
    Meta(pattern=r"^(19|20|21)[0-9]{2}-(0[1-9]|1[0-2])$", description="A month, such as 2026-11."),
]


class MonthQuery(AsOf, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which month; without it, the month of now."""

    month: Month | None = None


@running("GET", "/reports/month", tag="Numbers", scope="read",
         answers={HTML: str, JSON: MonthAnswer})  # fmt: skip
async def read_month(call: Call[MonthQuery]) -> Reply:
    """Read the month in the finishing room: what left, what came back and why, what to try.

    One page to read and to print, with its pictures inside, from the ledger as it was known at any
    time. With `Accept: application/json` it is what left, promises kept and finish used.
    """
    service = call.service

    def read(reader: Reader) -> Told:
        now = service.clock()
        place = ask(reader, now, call.query.as_of, call.query.known_at)
        zone = shop_zone(reader, now)
        which = call.query.month or f"{(call.query.as_of or now).astimezone(zone):%Y-%m}"
        told = month(reader, place, which)
        weeks = Within(first_week=told.first_week, last_week=told.last_week)
        year = Within(last_week=told.last_week)
        return Told(
            month=for_people(told, zone),
            quality=quality(reader, place, by="week", within=weeks),
            defects=quality(reader, place, by="defect", within=weeks),
            trend=trend(reader, place, within=year),
            why=why(reader, place, within=year),
            shipped=throughput(reader, place, within=weeks),
            flow=flow(reader, place, holidays=holidays_around(reader, place), within=weeks),
        )

    told = await service.read(read)
    if call.media_type == JSON:
        return Reply(ENCODER.encode(told.month))
    body = await service.in_thread(lambda: month_page(told, service.painter))
    return Reply(body, media_type=f"{HTML}; charset=utf-8", headers=MONTH_HEADERS)


OPERATIONS: tuple[Operation, ...] = (read_month,)
