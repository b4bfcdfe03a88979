"""The shop's own zone and units, as they were described last."""

from __future__ import annotations

from datetime import datetime

from bench import Bench
from coatledger.answers.shop import ShopAnswer, shop_answer
from coatledger.events.setup import OpenHours, ShopDescribed
from coatledger.subjects.asked import ask


def told(bench: Bench, as_of: datetime | None = None) -> ShopAnswer:
    with bench.store.reading() as reader:
        return shop_answer(reader, ask(reader, bench.now, as_of))


def test_a_shop_nobody_described_is_answered_in_utc_and_metric() -> None:
    answer = told(Bench())
    assert (answer.zone, answer.units, answer.described) == ("UTC", "metric", None)


def test_the_description_in_force_at_the_time_asked_for_answers() -> None:
    bench = Bench()
    hours = (OpenHours(day="mon", opens="07:00", closes="12:00"),)
    bench.record(ShopDescribed, zone="Europe/Lisbon", hours=hours)
    before = bench.now
    bench.later(24).record(ShopDescribed, zone="America/New_York", hours=hours, units="us")
    now = told(bench)
    assert (now.zone, now.units, now.position) == ("America/New_York", "us", 2)
    then = told(bench, before)
    assert (then.zone, then.units) == ("Europe/Lisbon", "metric")
