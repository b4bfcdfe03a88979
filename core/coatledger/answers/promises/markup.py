"""A ship date as search engines read it: schema.org's OfferShippingDetails as JSON-LD.

*Reference:* schema.org, types OfferShippingDetails, ShippingDeliveryTime and
OpeningHoursSpecification: handling time counts business days between the receipt of an order and
its leaving; an order after the cut-off counts from the next day. Unit codes are those of UN/CEFACT
Recommendation 20 (DAY).
"""

from datetime import date, datetime, timedelta
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from msgspec import Meta, Struct, field

from coatledger.subjects.working import Working

_NAMES = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class HandlingTime(Struct, frozen=True, kw_only=True, rename="camel"):
    """So many business days, at the likely and at the shop's own level."""

    kind: Literal["QuantitativeValue"] = field(default="QuantitativeValue", name="@type")
    min_value: Annotated[int, Meta(ge=0)]
    max_value: Annotated[int, Meta(ge=0)]
    unit_code: Literal["DAY"] = "DAY"


class BusinessDays(Struct, frozen=True, kw_only=True, rename="camel"):
    """The weekdays on which the shop works or things leave it."""

    kind: Literal["OpeningHoursSpecification"] = field(
        default="OpeningHoursSpecification", name="@type"
    )
    day_of_week: tuple[str, ...]


class ShippingDeliveryTime(Struct, frozen=True, kw_only=True, rename="camel"):
    """How long until it leaves; the carrier's days are the web shop's to add, as `transitTime`."""

    kind: Literal["ShippingDeliveryTime"] = field(default="ShippingDeliveryTime", name="@type")
    handling_time: HandlingTime
    cutoff_time: str
    business_days: BusinessDays


class OfferShippingDetails(Struct, frozen=True, kw_only=True, rename="camel"):
    """A fragment to put into an Offer under `shippingDetails`."""

    context: Literal["https://schema.org"] = field(default="https://schema.org", name="@context")
    kind: Literal["OfferShippingDetails"] = field(default="OfferShippingDetails", name="@type")
    delivery_time: ShippingDeliveryTime


def markup_of(
    calendar: Working, before: datetime, likely: date, ships_by: date
) -> OfferShippingDetails:
    """Write a date for search engines.

    *Reference:* the module's. Days are counted by weekday, as a reader of `businessDays` counts
    them, who knows no closures. *Valid:* orders that come before `before`.
    """
    local = before.astimezone(ZoneInfo(calendar.hours.zone))
    weekdays = sorted({*(one.weekday for one in calendar.hours.openings), *calendar.pickup_days})
    days = tuple(weekdays)
    most = _between(local.date(), ships_by, days)
    return OfferShippingDetails(
        delivery_time=ShippingDeliveryTime(
            handling_time=HandlingTime(
                min_value=min(_between(local.date(), likely, days), most), max_value=most
            ),
            cutoff_time=local.replace(microsecond=0).isoformat()[11:],
            business_days=BusinessDays(
                day_of_week=tuple(f"https://schema.org/{_NAMES[day - 1]}" for day in days)
            ),
        )
    )


def _between(first: date, last: date, weekdays: tuple[int, ...]) -> int:
    """Count the business days after the first day, up to and with the last."""
    length = max((last - first).days, 0)
    weeks, rest = divmod(length, 7)
    more = (first + timedelta(days=n) for n in range(1, rest + 1))
    return weeks * len(weekdays) + sum(day.isoweekday() in weekdays for day in more)
