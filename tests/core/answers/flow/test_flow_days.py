"""How work flows day by day, in the days of a zone, on either side of a change of the clocks."""

from datetime import date
from itertools import accumulate
from typing import Any

import pytest
from coatledger.answers.flow.answer import FlowAnswer
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.span import Within
from flow_shop import answer, busy_shop
from night_shop import AUCKLAND, COUNTED, LISBON, NEW_YORK, night_shop


def told(bucket: Bucket, **days: Any) -> FlowAnswer:
    return answer(night_shop(), within=Within(**days), bucket=bucket)


@pytest.mark.parametrize("zone", [LISBON, NEW_YORK, AUCKLAND])
@pytest.mark.parametrize("bucket", ["day", "week", "month"])
def test_what_leaves_at_half_past_eleven_at_night_has_left_by_the_end_of_that_local_day(
    zone: str, bucket: Bucket
) -> None:
    first, last = date(2026, 3, 28), date(2026, 4, 2)
    rows = told(bucket, first_day=first, last_day=last, zone=zone).cumulative
    counted = COUNTED[bucket][zone]
    left = accumulate(counted.get(row.value, 0) for row in rows)
    assert [row.left for row in rows] == list(left)
    assert {row.value for row in rows} >= counted.keys()
    assert [row.started for row in rows] == [5] * len(rows)


def test_only_what_left_within_the_days_asked_for_is_in_the_lead_times() -> None:
    found = told("day", first_day=date(2026, 3, 29), last_day=date(2026, 3, 30))
    assert (found.left, found.zone) == (2, LISBON)
    assert (found.first_day, found.last_day) == (date(2026, 3, 29), date(2026, 3, 30))
    # From 09:00 UTC of the 20th to 22:30 and 23:00 UTC of the 29th.
    assert [one.days for one in found.lead_time if one.percent in (10, 90)] == [9.562, 9.583]


def test_days_do_not_reach_beyond_now() -> None:
    rows = told("day", first_day=date(2026, 4, 1), last_day=date(2026, 4, 30)).cumulative
    assert [row.value for row in rows] == ["2026-04-01", "2026-04-02", "2026-04-03"]


def test_the_last_of_days_weeks_and_months_say_the_same() -> None:
    story = busy_shop()
    ends = {answer(story, bucket=one).cumulative[-1] for one in ("day", "week", "month")}
    assert {(row.started, row.coated, row.passed, row.left) for row in ends} == {(40, 40, 40, 38)}
    assert {row.value for row in ends} == {"2026-04-28", "2026-W18", "2026-04"}


def test_littles_law_holds_for_a_few_days_too_where_work_goes_on() -> None:
    days = Within(first_day=date(2026, 3, 10), last_day=date(2026, 3, 20))
    share = answer(busy_shop(), within=days, bucket="day").residual_share
    assert share is not None
    assert share < 0.02
