"""Quantities and waits on paper: in the shop's units, no finer than they are known."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from coatledger_api.paper.printed_words import Manner, lasting, listing
from hypothesis import given
from hypothesis import strategies as st

METRIC, US = Manner(ZoneInfo("Europe/Lisbon")), Manner(ZoneInfo("America/New_York"), True)


@pytest.mark.parametrize(
    ("hours", "likely", "surely"),
    [(0.02, "10 min", "10 min"), (1.0, "1 h", "1 h"), (1.55, "1 h 30 min", "1 h 40 min"),
     (5.98, "6 h", "6 h"), (6.4, "6 h", "7 h"), (47.6, "48 h", "48 h"), (167, "7 days", "7 days"),
     (172, "7 days", "8 days")],
)  # fmt: skip
def test_a_wait_is_said_as_finely_as_it_is_known(hours: float, likely: str, surely: str) -> None:
    assert lasting(hours) == likely
    assert lasting(hours, up=True) == surely


@given(st.floats(0.01, 5000))
def test_a_sure_wait_is_never_said_too_short(hours: float) -> None:
    said = lasting(hours, up=True)
    parts = said.split()
    factor = {"min": 1 / 60, "h": 1.0, "days": 24.0}
    told = sum(float(n) * factor[unit] for n, unit in zip(parts[::2], parts[1::2], strict=True))
    assert told >= hours - 1e-5


def test_each_shop_reads_its_own_units_and_days() -> None:
    assert (METRIC.film(101.6), US.film(101.6)) == ("102 µm", "4.0 mil")
    assert METRIC.film_range(75, 125) == "75 to 125 µm"
    assert US.film_range(76.2, 127) == "3.0 to 5.0 mil"
    assert METRIC.film_range(None, 125) == "at most 125 µm"
    assert METRIC.film_range(75, None) == "at least 75 µm"
    assert METRIC.film_range(None, None) == ""
    assert (METRIC.area(0.93), US.area(0.93)) == ("0.93 m²", "10.0 ft²")
    late = datetime(2026, 7, 1, 1, 30, tzinfo=UTC)
    assert (METRIC.day(late), US.day(late)) == ("Wed 1 Jul 2026", "Tue 30 Jun 2026")
    assert METRIC.minute(late) == "Wed 1 Jul 2026, 02:30"
    assert METRIC.day("2026-12-04") == "Fri 4 Dec 2026"


def test_a_long_list_says_how_many_more() -> None:
    assert listing(("a", "b", "c"), 2) == "a, b and 1 more"
    assert listing(("a", "b"), 2) == "a, b"
