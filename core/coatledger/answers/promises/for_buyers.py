"""A ship date in a buyer's words: what can be said of it, and until when an order has it."""

from datetime import date, datetime
from typing import Literal
from zoneinfo import ZoneInfo

Status = Literal["on_shelf", "made_to_order", "paused", "ask_us"]
Basis = Literal["computed", "stated", "none"]
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
NOT_ARRIVAL = "That is the day it leaves us, not the day it arrives: add the carrier's days."


def said_day(day: date) -> str:
    """Write a day out: Thursday 5 November 2026."""
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def said_time(at: datetime, zone: str) -> str:
    """Write a time by the shop's wall clock: 17:00 on Monday 2 November 2026."""
    local = at.astimezone(ZoneInfo(zone))
    return f"{local:%H:%M} on {said_day(local.date())}"


def text_of(
    status: Status, basis: Basis, ships_by: date | None, before: datetime | None, zone: str
) -> str:
    """Say a ship date to a buyer; it never reads like a day of arrival."""
    if status == "paused":
        return "Not sold at present. Ask us when it comes back."
    if ships_by is None:
        return "Ask us when this can leave our workshop."
    if status == "ask_us" or basis == "stated":
        return (
            f"As a rule it leaves our workshop by {said_day(ships_by)}; ask us for a firm date. "
            f"{NOT_ARRIVAL}"
        )
    kind = "On the shelf" if status == "on_shelf" else "Made to order"
    until = "" if before is None else f" if you order before {said_time(before, zone)}"
    return f"{kind}. It leaves our workshop by {said_day(ships_by)}{until}. {NOT_ARRIVAL}"
