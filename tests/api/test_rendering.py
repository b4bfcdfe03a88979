"""Times in the shop's own zone, durations that every reader knows."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from coatledger_api.rendering import duration, for_people
from msgspec import Struct
from served import Served


class Inner(Struct, frozen=True):
    """An answer inside another."""

    at: datetime | None
    name: str = "T-1"


class Outer(Struct, frozen=True):
    """An answer."""

    items: tuple[Inner, ...]
    by_name: dict[str, Inner]
    late: timedelta


NOON = datetime(2026, 7, 1, 12, tzinfo=UTC)
SHORE = ZoneInfo("Europe/London")


def test_every_time_in_an_answer_is_put_into_the_zone() -> None:
    answer = Outer((Inner(NOON), Inner(None)), {"a": Inner(NOON)}, timedelta(days=1, seconds=3.4))
    shown = for_people(answer, SHORE)
    assert shown.items[0].at.isoformat() == "2026-07-01T13:00:00+01:00"
    assert shown.items[0].at == NOON
    assert shown.items[1] is answer.items[1]
    assert shown.by_name["a"].at.utcoffset() == timedelta(hours=1)
    assert shown.late == "P1DT3S"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "PT0S"), (0.4, "PT0S"), (59.6, "PT1M"), (3_600, "PT1H"), (90_061, "P1DT1H1M1S"),
     (172_800, "P2D"), (-60, "-PT1M"), (64_805, "PT18H0M5S"), (86_405, "P1DT5S")],
)  # fmt: skip
def test_a_duration_is_written_in_whole_seconds(seconds: float, text: str) -> None:
    assert duration(timedelta(seconds=seconds)) == text


def test_an_answer_is_given_in_the_zone_the_shop_was_described_in(served: Served) -> None:
    served.clock = NOON
    assert served.get("/v1/pieces").json()["as_of"] == "2026-07-01T12:00:00Z"
    served.record("shop_described", zone="Europe/London", hours=[])
    assert served.get("/v1/pieces").json()["as_of"] == "2026-07-01T13:00:00+01:00"
    winter = served.get("/v1/pieces?as_of=2026-01-05T09:00:00%2B05:00").json()
    assert winter["as_of"] == "2026-01-05T04:00:00Z"
