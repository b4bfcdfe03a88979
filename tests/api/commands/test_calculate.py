"""`coatledger calculate`: numbers at the bench, without a service."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from coatledger.answers.calculations.table import CALCULATIONS
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger_api.commands.log_fields import How, kinds_of, read_fields
from coatledger_api.commands.log_times import Wall
from shell import asked, call


def test_every_calculation_is_a_command_with_its_source_in_its_help(alone: Path) -> None:
    listed = " ".join(call("calculate", "--help").stdout.split())
    for calculation in CALCULATIONS.values():
        assert calculation.does in listed
        told = call("calculate", calculation.name, "--help")
        assert told.exit_code == 0
        assert "Source: " in told.stdout


def test_a_number_is_told_with_its_unit_and_its_source(alone: Path) -> None:
    told = call("calculate", "film", "--volume-solids-pct", "33", "--wet-film-um", "100").stdout
    assert "dry film: 33 µm" in told
    assert "thinned solids: 33 %" in told
    assert "Source: dry = wet x volume solids" in told


def test_options_and_answers_may_be_in_us_units(alone: Path) -> None:
    words = ("calculate", "film", "--volume-solids-pct", "50", "--wet-film-mil", "4")
    assert asked(*words)["dry_film_um"] == pytest.approx(50.8)
    assert "dry film: 2.0 mil" in call(*words, "--us").stdout


def test_a_difference_of_temperature_is_no_temperature(alone: Path) -> None:
    words = ("calculate", "dew-point-margin", "--surface-f", "60", "--air-f", "70", "--rh-pct")
    told = call(*words, "50", "--us").stdout
    assert "dew point: 50.5 °F" in told
    assert "margin: 9.5 °F" in told


def test_a_range_is_told_in_one_line(alone: Path) -> None:
    words = ("calculate", "thinning", "--cup", "ford_4", "--measured-s", "60", "--target-s", "25")
    assert "reducer: 17.44 % likely, 10.23 % to 22.79 %" in call(*words).stdout


def test_parts_and_whole_asks_are_written_as_pairs(alone: Path) -> None:
    mix = asked(
        *("calculate", "next-mix", "--needed-l", "1", "--parts", "base=10 crosslinker=1"),
        *("--spray-l-per-h", "2", "--start", "2026-03-02T08:00Z"),
    )
    assert len(mix["pots"]) == 1
    both = call(
        *("calculate", "schedule-comparison", "--first", "species=white_oak use=table"),
        *("--second", "species=ash use=decor stained=yes", "--area-ft2", "20"),
    )
    assert both.exit_code == 0
    assert "words: The second takes" in both.stdout


def test_steps_are_told_as_a_table_with_cautions_after_it(alone: Path) -> None:
    told = call("calculate", "schedule", "--species", "white_oak", "--use", "table").stdout
    assert "common practice, no published source" in told
    assert "Mind: The data sheet, local codes and licensed practice come before" in told


def test_what_is_wrong_or_missing_is_named_by_its_option(alone: Path) -> None:
    result = call("calculate", "air", "--rh-pct", "much")
    assert result.exit_code == 2
    assert "--rh-pct: 'much' is no number" in result.stderr
    assert "--air-c: this is missing" in result.stderr


def test_a_number_its_source_does_not_hold_for_is_refused(alone: Path) -> None:
    result = call("calculate", "viscosity", "--cup", "ford_4", "--efflux-s", "5")
    assert result.exit_code == 2
    assert "ASTM D1200 holds from 20 to 100" in result.stderr
    assert result.stdout == ""


def test_a_proposed_schedule_can_be_written_into_a_log() -> None:
    cell = asked("calculate", "schedule", "--species", "ash", "--use", "decor")["steps_to_record"]
    how = How(text=True, wall=Wall(), faults=[])
    value = read_fields({"steps": cell}, kinds_of(ScheduleDescribed), how, "")
    steps = msgspec.convert(value["steps"], tuple[Step, ...])
    assert not how.faults
    assert [step.act for step in steps if step.act == "coat"] == ["coat"] * 3
    assert (steps[0].grit, steps[-1].act) == (120, "pack")
    said = call("calculate", "schedule", "--species", "ash", "--use", "decor").stdout
    assert f"steps to record: {cell}" in said
