"""A room now: its air against its range, what mends it, wood that moves, films at risk."""

from typing import Any

import pytest
from bench import Bench
from coatledger.answers.rooms import OutsideAir, RoomAnswer, room_answer, room_list
from coatledger.computations import air, wood
from coatledger.events.room_gun import AirMoved, ClimateRead, Reading
from coatledger.events.setup import RoomDescribed
from coatledger.refusal import Refused
from coatledger.subjects.asked import ask


def shop(**room: Any) -> Bench:
    bench = Bench().open_shop()
    given = {"volume_m3": 60.0, "air_min_c": 19.0, "air_max_c": 24.0, "rh_min_pct": 40.0}
    bench.record(RoomDescribed, room="spray", **{**given, "rh_max_pct": 50.0, **room})
    return bench


def told(bench: Bench, room: str = "spray", **outside: float) -> RoomAnswer:
    with bench.store.reading() as reader:
        found = room_answer(reader, room, ask(reader, bench.now), OutsideAir(**outside))
    assert found is not None
    return found


def test_a_cold_damp_room_is_told_how_to_come_into_range() -> None:
    """12 C and 80 %: warmed to 19 C it is at 51 %, a little too damp; 19.3 C alone would do."""
    bench = shop()
    bench.climate(12.0, 80.0)
    found = told(bench)
    assert found.in_range is False
    assert found.outside == (
        "the air is 12 C, wanted at least 19 C",
        "the humidity is 80 %, wanted at most 50 %",
    )
    mend = found.into_range
    assert mend is not None
    assert (mend.to_air_c, mend.to_rh_pct) == (19.0, 50.0)
    assert mend.rh_unhelped_pct == pytest.approx(51.05, abs=0.02)
    assert mend.water_once_g == pytest.approx(-10.4, abs=0.1)
    assert mend.heat_only_c == pytest.approx(19.3, abs=0.05)
    assert found.air is not None
    assert found.air.surface == air.surface_check(12.0, 12.0, 80.0)
    assert found.air.emc_pct == wood.emc_pct(12.0, 80.0)
    assert [round(one.rh_pct) for one in found.heating] == [70, 62, 54, 48]


def test_outside_air_asks_for_water_by_the_hour() -> None:
    bench = shop()
    bench.climate(21.0, 45.0)
    assert told(bench).in_range
    held = told(bench, air_changes_per_h=2.0, outside_c=0.0, outside_rh_pct=80.0).into_range
    assert held is not None
    inside = air.humidity_ratio_kg_kg(21.0, 45.0) - air.humidity_ratio_kg_kg(0.0, 80.0)
    expected = 1000 * 2 * 60 * air.dry_air_kg_m3(21.0, 45.0) * inside
    assert held.water_g_per_h == pytest.approx(expected)
    assert "left out" in " ".join(told(bench, air_changes_per_h=2.0).notes)
    with pytest.raises(Refused):
        told(bench, air_changes_per_h=2.0, outside_c=250.0, outside_rh_pct=80.0)


def test_without_limits_common_practice_speaks_and_one_open_end_stays_open() -> None:
    bench = Bench().open_shop()
    bench.climate(30.0, 20.0, room="attic")
    found = told(bench, "attic")
    assert found.wanted is not None
    assert found.wanted.air_source.startswith("common practice")
    assert found.into_range is None
    assert any("volume_m3" in note for note in found.notes)
    bench.record(RoomDescribed, room="attic", rh_max_pct=60.0)
    found = told(bench, "attic")
    assert found.outside == ("the air is 30 C, wanted at most 24 C",)


def test_a_room_nobody_knows_has_no_answer_and_one_nobody_read_says_so() -> None:
    bench = shop()
    with bench.store.reading() as reader:
        assert room_answer(reader, "cellar", ask(reader, bench.now)) is None
    found = told(bench)
    assert (found.in_range, found.air) == (None, None)
    assert "nobody has read" in found.notes[0]


def test_an_old_reading_is_told_as_old_and_one_beyond_the_formulas_stands_alone() -> None:
    bench = shop()
    bench.climate(21.0, 45.0)
    assert "read the air before" in told(bench.later(13)).notes[0]
    bench.record(ClimateRead, room="spray", readings=(Reading(air_c=-40.0, rh_pct=50.0),))
    found = told(bench)
    assert found.air is not None
    assert (found.air.surface, found.into_range) == (None, None)
    assert "-40" in found.notes[0]


def test_wood_at_home_here_takes_water_in_a_damper_room() -> None:
    bench = shop()
    bench.climate(21.0, 45.0)
    bench.climate(18.0, 75.0, room="store")
    (elsewhere,) = told(bench).wood_elsewhere
    assert (elsewhere.room, elsewhere.moves.direction) == ("store", "takes_water")
    change = wood.emc_pct(18.0, 75.0) - wood.emc_pct(21.0, 45.0)
    assert elsewhere.moves.change_pct == pytest.approx(change)


def test_what_was_switched_on_last_is_on() -> None:
    bench = shop()
    bench.record(AirMoved, room="spray", device="heater")
    bench.record(AirMoved, room="spray", device="fan")
    bench.later(1).record(AirMoved, room="spray", device="heater", on=False)
    assert told(bench).devices_on == ("fan",)


def test_the_list_names_every_room() -> None:
    bench = shop()
    bench.climate(12.0, 80.0)
    bench.climate(21.0, 45.0, room="rack")
    with bench.store.reading() as reader:
        rooms = room_list(reader, ask(reader, bench.now)).rooms
    assert [(row.room, row.in_range) for row in rooms] == [("rack", True), ("spray", False)]
