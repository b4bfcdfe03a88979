"""The shop's description as a working calendar."""

from collections.abc import Iterable, Mapping
from datetime import date, time, timedelta

from msgspec import Struct

from coatledger.computations.calendar import Closure, Hours, Opening, closed_days
from coatledger.events.setup import OpenHours, ShopDescribed
from coatledger.subjects.described import Shop

ISO_DAY: Mapping[str, int] = {
    "mon": 1, "tue": 2, "wed": 3, "thu": 4, "fri": 5, "sat": 6, "sun": 7,
}  # fmt: skip
LAST_MINUTE = time(23, 59)


class Working(Struct, frozen=True, kw_only=True):
    """When the shop works, and when things leave it."""

    hours: Hours
    closures: tuple[Closure, ...]
    pickup_days: tuple[int, ...]
    cut_off: time


def working(described: ShopDescribed, shop: Shop, holidays: Iterable[date] = ()) -> Working:
    """Read a calendar off the shop's description, closures and public holidays."""
    days = set(holidays) | _closed(shop)
    cut_off = described.pickup_cutoff
    return Working(
        hours=Hours(zone=described.zone, openings=tuple(opening(h) for h in described.hours)),
        closures=closed_days(days, described.zone),
        pickup_days=tuple(ISO_DAY[day] for day in described.pickup_days),
        cut_off=LAST_MINUTE if cut_off is None else time.fromisoformat(cut_off),
    )


def opening(hours: OpenHours) -> Opening:
    """Read one stretch of working hours."""
    return Opening(
        weekday=ISO_DAY[hours.day],
        opens=time.fromisoformat(hours.opens),
        closes=time.fromisoformat(hours.closes),
    )


def _closed(shop: Shop) -> set[date]:
    """Days announced as closed; a later word about the same days takes an earlier one back."""
    days: set[date] = set()
    for closure in shop.closures:
        length = (closure.last_day - closure.first_day).days
        named = {closure.first_day + timedelta(days=i) for i in range(length + 1)}
        days = days - named if closure.cancelled else days | named
    return days
