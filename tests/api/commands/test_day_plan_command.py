"""`coatledger day-plan`: the day as it is read at the bench."""

from datetime import UTC, datetime

import pytest
from bench import Bench
from coatledger.events.judging import Held
from planned import shop
from shell import Running, asked, call


@pytest.fixture
def bench(service: Running, now: list[datetime]) -> Bench:
    """A Monday morning: two pieces dry, one is held, two are bare."""
    made = shop("1 07:00", pickup_cutoff="15:00", store=service.store)
    made.pieces("a", "b", schedule="two")
    made.coat("a", "b")
    made.pieces("c", schedule="two")
    made.record(Held, pieces=("c",), why="question")
    made.pieces("d", "e", schedule="two", species="oak")
    now[0] = made.later(1.0).now.astimezone(UTC)
    return made


@pytest.mark.usefixtures("bench")
def test_it_tells_each_day_with_its_hours_and_its_lines() -> None:
    said = call("day-plan").stdout
    assert "Mon 2026-03-02, 08:00 to 17:00; pick-up at 15:00" in said
    assert "Tue 2026-03-03, 07:00 to 17:00; pick-up at 15:00" in said
    (sand,) = [line for line in said.splitlines() if "sand to P150" in line]
    assert sand.split()[:3] == ["08:00", "08:20", "1"]
    assert "d e" in sand
    assert "person: which of those at work, counted from 1." in said
    assert "0.06 L of can-1" in said
    assert "open can-1" in said


@pytest.mark.usefixtures("bench")
def test_it_marks_what_is_likely_ready_and_tells_what_waits_and_dries() -> None:
    said = call("day-plan").stdout
    scuff = next(line for line in said.splitlines() if "scuff with P320" in line)
    assert "scuff with P320 *" in scuff
    waits = said[said.index("What waits:") :]
    assert "somebody to release them" in waits
    assert "the film dries" in waits
    assert "What dries, 2 pieces" in waits
    assert "Careful, spray mist:" in waits


@pytest.mark.usefixtures("bench")
def test_more_days_and_other_times_may_be_asked() -> None:
    assert "Wed 2026-03-04" not in call("day-plan").stdout
    assert "Wed 2026-03-04" in call("day-plan", "--days", "3").stdout
    early = asked("day-plan", "--as-of", "2026-03-02 07:00")
    assert early["as_of"] == "2026-03-02T07:00:00Z"
    assert call("day-plan", "--days", "9").exit_code == 2


def test_a_shop_that_said_nothing_has_no_plan(service: Running) -> None:
    assert "There is no plan without shop_described." in call("day-plan").stdout
    assert service.store.shop
