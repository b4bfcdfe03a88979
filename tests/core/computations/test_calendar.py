"""The calendar against zone data, holiday tables and a plain minute-by-minute clock."""

import csv
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, reset_tzpath

import pytest
from coatledger.computations import calendar
from coatledger.computations.calendar import Closure, Hours, NeverOpen, Opening
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
NEW_YORK = "America/New_York"
# Two people, five days, an hour at midday; Saturday mornings by appointment are not hours.
WEEK = Hours(
    NEW_YORK,
    tuple(
        opening
        for day in range(1, 6)
        for opening in (Opening(day, time(8), time(12)), Opening(day, time(13), time(17, 30)))
    ),
)
AROUND_THE_CLOCK = Hours(NEW_YORK, tuple(Opening(day, time(0), time(0)) for day in range(1, 8)))


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def at(text: str, zone: str = NEW_YORK) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(zone))


@pytest.fixture(autouse=True, scope="module")
def _pinned_zone_data() -> Iterator[None]:
    """Read the pinned tzdata package: some rows changed with its 2026 releases."""
    reset_tzpath(to=())
    ZoneInfo.clear_cache()
    yield
    reset_tzpath()
    ZoneInfo.clear_cache()


@pytest.mark.parametrize(
    "row", rows("clock_change_elapsed.csv"), ids=lambda r: f"{r['tz']} {r['start_wall']}"
)
def test_a_film_dries_by_elapsed_time_across_clock_changes(row: dict[str, str]) -> None:
    moments = []
    for wall, utc in (("start_wall", "start_utc"), ("end_wall", "end_utc")):
        told = datetime.fromisoformat(row[wall])
        moment = calendar.wall_moment(told.date(), told.time(), row["tz"])
        assert moment == datetime.fromisoformat(row[utc])
        moments.append(moment)
    assert calendar.elapsed_minutes(*moments) == 60 * float(row["elapsed_hours"])
    zoned = [moment.astimezone(ZoneInfo(row["tz"])) for moment in moments]
    assert calendar.elapsed_minutes(*zoned) == 60 * float(row["elapsed_hours"])
    assert (zoned[1] - zoned[0]) == timedelta(hours=float(row["wall_hours"]))


@pytest.mark.parametrize(
    "row", rows("clock_change_walls.csv"), ids=lambda r: f"{r['tz']} {r['wall']}"
)
def test_skipped_and_doubled_wall_times_are_read_as_rfc_5545_says(row: dict[str, str]) -> None:
    told = datetime.fromisoformat(row["wall"])
    moment = calendar.wall_moment(told.date(), told.time(), row["tz"])
    assert moment == datetime.fromisoformat(row["utc_fold0"])


HOLIDAYS = [date.fromisoformat(row["date"]) for row in rows("us_federal_holidays.csv")]
# The printed list leaves these out; each follows from 5 U.S.C. 6103(a).
HOLIDAYS += [
    date(2026, 1, 19), date(2026, 6, 19), date(2026, 9, 7), date(2026, 11, 26), date(2027, 1, 18),
    date(2027, 6, 18), date(2027, 7, 5), date(2027, 11, 11), date(2027, 12, 25), date(2028, 1, 17),
    date(2028, 6, 19), date(2028, 11, 23),
]  # fmt: skip
ONE_HOUR_DAYS = Hours(NEW_YORK, tuple(Opening(day, time(9), time(10)) for day in range(1, 6)))


@pytest.mark.parametrize("row", rows("business_days.csv"), ids=lambda r: r["start"])
def test_working_days_are_added_as_the_printed_table_adds_them(row: dict[str, str]) -> None:
    """A shop open for one hour a day does n and a half hours on business day n, counted from 0."""
    start = calendar.wall_moment(date.fromisoformat(row["start"]), time(9), NEW_YORK)
    minutes = 60 * int(row["business_days"]) + 30
    closures = calendar.closed_days(HOLIDAYS, NEW_YORK)
    for closed, column in ((closures, "result"), ((), "result_ignoring_holidays")):
        done = calendar.add_working_minutes(start, minutes, ONE_HOUR_DAYS, closed)
        assert calendar.local_date(done, NEW_YORK) == date.fromisoformat(row[column])


@pytest.mark.parametrize("row", rows("business_day_counts.csv"), ids=lambda r: r["from_incl"])
def test_working_days_are_counted_as_the_printed_table_counts_them(row: dict[str, str]) -> None:
    start, end = (
        calendar.wall_moment(date.fromisoformat(row[column]), time(0), NEW_YORK)
        for column in ("from_incl", "to_excl")
    )
    closures = calendar.closed_days(HOLIDAYS, NEW_YORK)
    for closed, column in ((closures, "business_days"), ((), "weekdays")):
        minutes = calendar.working_minutes_between(start, end, ONE_HOUR_DAYS, closed)
        assert minutes / 60 == int(row[column])


def test_work_pauses_at_midday_over_night_and_over_the_week_end() -> None:
    friday = at("2026-06-05T11:00")
    assert calendar.add_working_minutes(friday, 60, WEEK) == at("2026-06-05T12:00")
    assert calendar.add_working_minutes(friday, 61, WEEK) == at("2026-06-05T13:01")
    assert calendar.add_working_minutes(friday, 360, WEEK) == at("2026-06-08T08:30")


def test_a_closure_pushes_work_past_it() -> None:
    closed = (Closure(at("2026-06-08T09:00"), at("2026-06-08T15:00")),)
    friday = at("2026-06-05T17:00")
    assert calendar.add_working_minutes(friday, 100, WEEK, closed) == at("2026-06-08T15:10")
    noon = at("2026-06-08T12:30")
    assert calendar.next_open(noon, WEEK, closed) == at("2026-06-08T15:00")


def test_overlapping_closures_count_once() -> None:
    closed = (
        Closure(at("2026-06-08T09:00"), at("2026-06-08T11:00")),
        Closure(at("2026-06-08T10:00"), at("2026-06-08T11:30")),
    )
    day = at("2026-06-08T00:00"), at("2026-06-09T00:00")
    assert calendar.working_minutes_between(*day, WEEK, closed) == 8.5 * 60 - 150


def test_a_day_round_the_clock_has_23_or_25_hours_when_clocks_change() -> None:
    for day, hours in (("2026-03-08", 23), ("2026-11-01", 25), ("2026-06-08", 24)):
        start = at(f"{day}T00:00")
        end = calendar.wall_moment(start.date() + timedelta(days=1), time(0), NEW_YORK)
        assert calendar.working_minutes_between(start, end, AROUND_THE_CLOCK) == 60 * hours


def test_hours_keep_the_wall_clock_after_a_clock_change() -> None:
    before, after = at("2026-03-06T18:00"), at("2026-03-08T18:00")
    assert calendar.next_open(before - timedelta(days=1), WEEK) == at("2026-03-06T08:00")
    assert calendar.next_open(after, WEEK) == datetime(2026, 3, 9, 12, tzinfo=UTC)


def test_hours_inside_the_skipped_hour_never_count_time_twice() -> None:
    hours = Hours(
        NEW_YORK,
        (Opening(7, time(2, 15), time(2, 45)), Opening(7, time(3), time(4))),
    )
    sunday = at("2026-03-08T00:00"), at("2026-03-08T12:00")
    assert calendar.working_minutes_between(*sunday, hours) == 60
    backwards = Hours(NEW_YORK, (Opening(7, time(2, 30), time(3)),))
    assert calendar.working_minutes_between(*sunday, backwards) == 0


def test_a_day_the_zone_skips_is_no_working_day() -> None:
    """Samoa went from 29 to 31 December 2011 when it crossed the date line."""
    hours = Hours("Pacific/Apia", tuple(Opening(day, time(9), time(10)) for day in range(1, 8)))
    start, end = at("2011-12-29T00:00", "Pacific/Apia"), at("2012-01-01T00:00", "Pacific/Apia")
    assert calendar.working_minutes_between(start, end, hours) == 120


def test_ready_at_the_cut_off_is_picked_up_and_a_second_later_is_not() -> None:
    tuesday = at("2026-06-09T15:00")
    pick_up = [2, 5], time(15), NEW_YORK
    assert calendar.next_pick_up(tuesday, *pick_up) == tuesday
    late = tuesday + timedelta(seconds=1)
    assert calendar.next_pick_up(late, *pick_up) == at("2026-06-12T15:00")
    closed = calendar.closed_days([date(2026, 6, 12)], NEW_YORK)
    assert calendar.next_pick_up(late, *pick_up, closed) == at("2026-06-16T15:00")


def test_a_moment_belongs_to_the_week_of_the_shop_not_of_greenwich() -> None:
    late_sunday = datetime(2026, 6, 8, 2, tzinfo=UTC)
    assert calendar.iso_week(late_sunday, NEW_YORK) == (2026, 23)
    assert calendar.iso_week(late_sunday, "Europe/Berlin") == (2026, 24)
    assert calendar.iso_week(at("2027-01-01T12:00"), NEW_YORK) == (2026, 53)


MOMENTS = st.integers(0, 2 * 365 * 86_400).map(
    lambda second: datetime(2026, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
)
CLOSURES = st.lists(
    st.builds(
        lambda start, hours: Closure(start, start + timedelta(hours=hours)),
        MOMENTS,
        st.integers(0, 400),
    ),
    max_size=5,
)


@given(MOMENTS, st.integers(0, 9_000), CLOSURES)
def test_working_time_added_is_working_time_between(
    start: datetime, minutes: int, closures: list[Closure]
) -> None:
    done = calendar.add_working_minutes(start, minutes, WEEK, closures)
    assert calendar.working_minutes_between(start, done, WEEK, closures) == minutes


@given(MOMENTS, st.integers(1, 3_000), st.integers(1, 3_000), CLOSURES)
def test_work_done_in_two_parts_ends_as_work_done_in_one(
    start: datetime, first: int, second: int, closures: list[Closure]
) -> None:
    halfway = calendar.add_working_minutes(start, first, WEEK, closures)
    done = calendar.add_working_minutes(halfway, second, WEEK, closures)
    assert done == calendar.add_working_minutes(start, first + second, WEEK, closures)


@given(MOMENTS, st.integers(0, 9_000), CLOSURES)
def test_prepared_intervals_give_the_same_end(
    start: datetime, minutes: int, closures: list[Closure]
) -> None:
    prepared = calendar.open_intervals(
        start - timedelta(days=3), start + timedelta(days=200), WEEK, closures
    )
    end = calendar.advance(prepared, calendar.microseconds(start), minutes * 60_000_000)
    done = calendar.add_working_minutes(start, minutes, WEEK, closures)
    assert calendar.from_microseconds(end) == done


QUARTERS = st.tuples(st.integers(0, 400), st.integers(0, 60))


@given(st.sampled_from(["2026-03-06", "2026-06-05", "2026-10-30"]), st.lists(QUARTERS, max_size=4))
def test_open_minutes_are_those_a_wall_clock_shows(day: str, closed: list[tuple[int, int]]) -> None:
    """A walk in quarters of an hour, each asked of the wall clock, is the plain oracle."""
    quarter, steps = timedelta(minutes=15), 4 * 24 * 4
    start = calendar.wall_moment(date.fromisoformat(day), time(0), NEW_YORK)
    shut = {step for first, count in closed for step in range(first, first + count)}
    minutes = 0
    for step in set(range(steps)) - shut:
        wall = (start + step * quarter).astimezone(ZoneInfo(NEW_YORK))
        minutes += 15 * any(
            opening.weekday == wall.isoweekday() and opening.opens <= wall.time() < opening.closes
            for opening in WEEK.openings
        )
    closures = [Closure(start + a * quarter, start + (a + n) * quarter) for a, n in closed]
    end = start + steps * quarter
    assert calendar.working_minutes_between(start, end, WEEK, closures) == minutes


def test_a_shop_that_never_opens_says_so() -> None:
    never = Hours(NEW_YORK, ())
    start = at("2026-06-05T11:00")
    for ask in (
        lambda: calendar.next_open(start, never),
        lambda: calendar.add_working_minutes(start, 1, never),
        lambda: calendar.next_pick_up(start, [], time(15), NEW_YORK),
        lambda: calendar.advance(calendar.open_intervals(start, start, WEEK), 0, 1),
    ):
        with pytest.raises(NeverOpen):
            ask()
    end = start + timedelta(days=9)
    assert calendar.open_intervals(start, end, never).shape == (0, 2)


def test_calendars_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="end before they begin"):
        Opening(1, time(17), time(8))
    with pytest.raises(ValueError, match="weekday 8"):
        Opening(8, time(8), time(9))
    with pytest.raises(ValueError, match="no offset"):
        Opening(1, time(8, tzinfo=UTC), time(9))
    with pytest.raises(ValueError, match="overlap"):
        Hours(NEW_YORK, (Opening(1, time(8), time(0)), Opening(1, time(13), time(15))))
    for unknown in ("Mars/Olympus", "", "../etc/passwd", "America"):
        with pytest.raises(ValueError, match="not a zone"):
            Hours(unknown, ())
    with pytest.raises(ValueError, match="ends before"):
        Closure(at("2026-06-05T11:00"), at("2026-06-05T10:00"))


def test_times_that_cannot_be_calculated_with_are_refused() -> None:
    naive = datetime(2026, 6, 5, 11)  # noqa: DTZ001
    for ask in (
        lambda: calendar.microseconds(naive),
        lambda: calendar.next_open(naive, WEEK),
        lambda: calendar.local_date(naive, NEW_YORK),
        lambda: Closure(naive, naive),
    ):
        with pytest.raises(ValueError, match="without an offset"):
            ask()
    start = at("2026-06-05T11:00")
    with pytest.raises(OutOfRange, match="minutes"):
        calendar.add_working_minutes(start, -1, WEEK)
    with pytest.raises(OutOfRange, match="minutes"):
        calendar.working_minutes_between(start, start - timedelta(hours=1), WEEK)
    with pytest.raises(OutOfRange, match="weekday"):
        calendar.next_pick_up(start, [0], time(15), NEW_YORK)
