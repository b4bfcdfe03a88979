"""Public holidays as dates, and the versions a date is computed with."""

import re
from datetime import date

from coatledger_adapters.public_holidays import calendar_versions, holidays_of, zone_data_version


def test_a_region_has_the_holidays_of_its_country_and_its_own() -> None:
    assert date(2026, 12, 25) in holidays_of("IE", 2026)
    assert date(2028, 1, 1) in holidays_of("IE", 2026)
    # Patriots' Day is kept in Maine and in few other places.
    assert date(2026, 4, 20) in holidays_of("US-ME", 2026)
    assert date(2026, 4, 20) not in holidays_of("US", 2026)


def test_a_region_nobody_knows_has_none() -> None:
    assert holidays_of("ZZ", 2026) == frozenset()


def test_the_versions_are_told_and_fit_into_a_label() -> None:
    assert re.fullmatch(r"20\d\d[a-z.\d]*", zone_data_version())
    told = calendar_versions("US-ME")
    assert re.fullmatch(r"tz 20\S+, holidays \d\S* US-ME", told)
    assert calendar_versions(None).endswith(" none")
    assert len(told) <= 80
