"""Public holidays of the shop's country or region, by a well-kept library, as dates."""

import functools
from datetime import date

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
