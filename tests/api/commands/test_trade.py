"""The trade's questions on the command line: rooms, guns, drying, stock and what stands open."""

from datetime import UTC, datetime

import pytest
from bench import Bench
from coatledger.events.coating import DrynessChecked
from coatledger.events.room_gun import GunSetUp, TestSprayed
from coatledger.events.setup import RoomDescribed, ScheduleDescribed, Step
from shell import Running, asked, call


@pytest.fixture
def shop(service: Running, now: list[datetime]) -> Bench:
    """A shop with a coat drying, checked once, and a gun tried."""
    bench = Bench(store=service.store).open_shop()
    bench.record(RoomDescribed, room="spray", volume_m3=60.0, air_min_c=18.0, rh_max_pct=60.0)
    bench.climate(15.0, 70.0)
    bench.record(GunSetUp, gun="g1", lot="can-1", fan_width_mm=200.0, overlap_pct=50.0)
    bench.record(TestSprayed, gun="g1", lot="can-1", passes=2, wet_film_um=100.0)
    steps = (Step(act="coat", product="clear-w"), Step(act="coat", product="clear-w"))
    bench.record(ScheduleDescribed, schedule="s", steps=steps)
    bench.pieces("a", schedule="s")
    bench.coat("a")
    bench.later(3).record(DrynessChecked, pieces=("a",), stage="sandable", ready=False)
    now[0] = bench.now.astimezone(UTC)
    return bench


@pytest.mark.usefixtures("shop")
def test_a_room_says_how_it_is_and_what_would_mend_it() -> None:
    said = call("room", "spray").stdout
    assert "spray, as of" in said
    assert "out of range" in said
    assert "the air is 15 C, wanted at least 18 C" in said
    assert "to air: 18.0 °C" in said
    held = asked("room", "spray", "--air-changes-per-h", "1.5", "--outside-c", "5",
                 "--outside-rh-pct", "90")  # fmt: skip
    assert held["into_range"]["water_g_per_h"] != 0
    assert call("room", "cellar").exit_code == 1


@pytest.mark.usefixtures("shop")
def test_a_gun_says_what_its_trial_laid_and_what_a_batch_takes() -> None:
    said = call("gun", "g1", "--area-m2", "2", "--speed-mm-s", "500").stdout
    assert "per pass: 50 µm" in said
    assert "It was used and not flushed since." in said
    assert "Mind: Never put a chlorinated solvent" in said
    assert asked("gun", "g1", "--area-m2", "2")["trial"]["batch"]["stays_l"] == 0.2


@pytest.mark.usefixtures("shop")
def test_drying_shows_belief_data_and_scores() -> None:
    said = call("drying", "clear-w", "--data").stdout
    assert "Before any check: 1.00 times" in said
    assert "After 1 check of 1 coat" in said
    assert "the sheet alone" in said
    assert "not sandable" in said
    before = call("drying", "clear-w", "--as-of", "2026-03-02 07:00").stdout
    assert "No film of it was checked yet" in before


@pytest.mark.usefixtures("shop")
def test_findings_tell_what_was_seen_why_and_what_to_do(now: list[datetime]) -> None:
    assert ": 0 open." in call("findings").stdout
    now[0] = datetime(2026, 4, 20, 8, tzinfo=UTC)
    assert "open." in call("findings").stdout


@pytest.mark.usefixtures("shop")
def test_stock_says_what_is_taken_and_whether_it_lasts() -> None:
    said = call("stock").stdout
    assert "clear-w" in said
    assert "it lasts" in said
    assert "Next of clear-w" in said
    assert asked("stock")["products"][0]["open_l"]["likely"] > 0


def test_a_schedule_is_laid_beside_its_earlier_description(shop: Bench) -> None:
    shop.record(ScheduleDescribed, schedule="s", steps=(Step(act="coat", product="clear-w"),))
    said = call("schedule", "s", "--area-m2", "2", "--against-version", "1").stdout
    assert "described 2 times" in said
    assert "s, version 1" in said
    assert "fewer litres" in said
    assert call("schedule", "nobody").exit_code == 1
