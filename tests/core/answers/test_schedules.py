"""Described schedules: versions in their order, waits by the sheets, two laid side by side."""

from typing import Any

import pytest
from bench import Bench, on_day
from coatledger.answers.schedules import SchedulesAnswer, schedule_answer
from coatledger.computations.drying import Spread
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.refusal import Refused
from coatledger.subjects.asked import ask

COAT = Step(act="coat", product="clear-w", wet_film_um=100.0)
ONE = (Step(act="sand", grit=150), COAT, Step(act="pack"))
TWO = (Step(act="sand", grit=150), COAT, Step(act="scuff", grit=320), COAT, Step(act="pack"))


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.record(ScheduleDescribed, schedule="s", steps=ONE)
    bench.later(24).record(ScheduleDescribed, schedule="s", steps=TWO)
    return bench.later(1)


def told(bench: Bench, word: str = "s", **how: Any) -> SchedulesAnswer:
    with bench.store.reading() as reader:
        found = schedule_answer(reader, word, ask(reader, bench.now), 2.0, **how)
    assert found is not None
    return found


def test_versions_are_counted_from_the_first_and_the_last_is_in_force() -> None:
    found = told(shop())
    assert [(one.version, len(one.steps)) for one in found.versions] == [(1, 3), (2, 5)]
    assert found.versions[0].since == on_day("1 07:00")


def test_litres_are_film_times_area_over_what_stays() -> None:
    """Two coats of 100 um on 2 m2 at 65 %."""
    assert told(shop()).cost.litres == pytest.approx(2 * 0.2 / 0.65)


def test_an_earlier_version_is_laid_beside_this_one() -> None:
    found = told(shop(), against_version=1)
    assert found.against == "s, version 1"
    assert found.comparison is not None
    assert found.comparison.litres == pytest.approx(0.2 / 0.65)
    assert found.comparison.hands_on_h > 0
    assert found.comparison.first.elapsed_h < found.cost.elapsed_h


def test_another_schedule_is_laid_beside_this_one() -> None:
    bench = shop()
    bench.record(ScheduleDescribed, schedule="plain", steps=ONE)
    assert told(bench, against="plain").against == "plain, version 1"
    assert told(bench, "plain", against="s").against == "s, version 2"


def test_the_waits_are_the_sheets_times_what_the_shop_learned() -> None:
    """One coat: sanding and coating, then a day to wrap-safe by the sheet; half as long again here
    carries it over the working day into the next morning."""
    bench = shop()
    bench.record(ScheduleDescribed, schedule="plain", steps=ONE)
    by_sheet = told(bench, "plain").cost
    slower = told(bench, "plain", factors={"clear-w": Spread(1.2, 1.5, 1.8)}).cost
    assert slower.elapsed_h >= by_sheet.elapsed_h + 11


def test_what_cannot_be_compared_is_refused_with_what_there_is() -> None:
    with pytest.raises(Refused, match="1 to 2"):
        told(shop(), against_version=3)
    with pytest.raises(Refused, match="no schedule is called"):
        told(shop(), against="nobody")
    with Bench().store.reading() as reader:
        assert schedule_answer(reader, "s", ask(reader, on_day("1 07:00")), 1.0) is None
