"""Public holidays of the shop's country or region, by a well-kept library, as dates."""

import functools
import zoneinfo
from datetime import date
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import holidays
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked

YEARS_AHEAD = 2


def holidays_around(reader: Reader, asked: Asked) -> frozenset[date]:
    """Return the holidays that matter to answers about this time: none where no region is told."""
    shop = asked.view(reader).shop()
    if shop is None or shop.holidays is None:
        return frozenset()
    return holidays_of(shop.holidays, moment(asked.now_us).year)


@functools.lru_cache(maxsize=64)
def holidays_of(region: str, year: int) -> frozenset[date]:
    """Return a region's holidays (ISO 3166, `IE` or `US-ME`) from a year on, for a few years.

    A region the library does not know has none: the shop then announces its closures itself.
    """
    country, _, part = region.partition("-")
    years = range(year, year + YEARS_AHEAD + 1)
    try:
        found = holidays.country_holidays(country, subdiv=part or None, years=years)
    except NotImplementedError:
        return frozenset()
    return frozenset(found)


def calendar_versions(region: str | None) -> str:
    """Name what a date is computed with beside the ledger: the data of zones and of holidays."""
    return f"tz {zone_data_version()}, holidays {version('holidays')} {region or 'none'}"


@functools.cache
def zone_data_version() -> str:
    """Return the version of the IANA data in use: the system's where it has one, else the
    package's."""
    for folder in zoneinfo.TZPATH:
        try:
            with (Path(folder) / "tzdata.zi").open(encoding="utf-8") as told:
                found = told.readline().rpartition("version ")[2].strip()
        except OSError:
            continue
        return found or "unknown"
    try:
        return version("tzdata")
    except PackageNotFoundError:
        return "unknown"
