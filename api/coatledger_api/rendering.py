"""How an answer's times are written: in the shop's own zone, and durations in whole seconds."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.view import View
from msgspec import Struct
from msgspec.structs import replace

UTC = ZoneInfo("UTC")


def shop_zone(reader: Reader, now: datetime) -> ZoneInfo:
    """Return the zone the shop lives in; UTC until somebody says."""
    shop = View(reader, micros(now)).shop()
    return UTC if shop is None else _zone(shop.zone)


def for_people(value: Any, zone: ZoneInfo) -> Any:
    """Return the same answer with its times in a zone; what holds no time is the same object."""
    if isinstance(value, datetime):
        return value.astimezone(zone)
    if isinstance(value, Struct):
        changed = {
            name: new
            for name in value.__struct_fields__
            if (new := for_people(old := getattr(value, name), zone)) is not old
        }
        return replace(value, **changed) if changed else value
    if isinstance(value, tuple):
        items = [for_people(item, zone) for item in value]
        return tuple(items) if any(a is not b for a, b in zip(items, value, strict=True)) else value
    if isinstance(value, timedelta):
        return duration(value)
    if isinstance(value, Mapping):
        return {key: for_people(item, zone) for key, item in value.items()}
    return value


def duration(length: timedelta) -> str:
    """Write a length of time as RFC 3339 does (appendix A): P2DT3H, PT0S."""
    total_s = abs(round(length.total_seconds()))
    days, rest = divmod(total_s, 86_400)
    hours, rest = divmod(rest, 3_600)
    minutes, seconds = divmod(rest, 60)
    # Its grammar knows no hours followed by seconds: minutes stand between, if none then as 0.
    between = f"{minutes}M" if minutes or (hours and seconds) else ""
    clock = f"{f'{hours}H' if hours else ''}{between}{f'{seconds}S' if seconds else ''}"
    if not days and not clock:
        return "PT0S"
    sign = "-" if length < timedelta(0) else ""
    return f"{sign}P{f'{days}D' if days else ''}{f'T{clock}' if clock else ''}"


def moment_or_none(us: int | None) -> datetime | None:
    """Return the time of a number of microseconds, if there is one."""
    return None if us is None else moment(us)


@lru_cache(maxsize=64)
def _zone(name: str) -> ZoneInfo:
    return ZoneInfo(name)
