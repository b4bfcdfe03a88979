"""More calculations by name: wood that moves, blush, mixtures, whole systems, sheen, overlaps."""

from typing import Any

import msgspec
import pytest
from coatledger.answers.calculations.table import CALCULATIONS, calculate
from coatledger.computations import wood
from coatledger.computations.wood_species import species
from coatledger.ledger.decode import typed
from coatledger.refusal import Refused


def told(name: str, **asked: Any) -> Any:
    calculation = CALCULATIONS[name]
    return msgspec.to_builtins(calculate(calculation, typed(asked, calculation.asks)))


def test_a_piece_that_moves_to_a_drier_room_shrinks() -> None:
    """From 16 C and 70 % to 21 C and 30 %: red oak, 8.6 % tangential from green, 400 mm."""
    answer = told(
        "wood-moisture", air_c=21, rh_pct=30, from_air_c=16, from_rh_pct=70, species="red oak",
        width_mm=400,
    )  # fmt: skip
    assert answer["from_pct"] == wood.emc_pct(16, 70)
    assert answer["moves"]["direction"] == "dries"
    oak = species("red oak")
    assert oak is not None
    expected = wood.width_change_mm(oak, 400, answer["from_pct"], answer["emc_pct"])
    assert answer["wider_mm"] == expected < -8


def test_a_lacquer_may_blush_in_damp_air_and_not_in_dry() -> None:
    assert told("blush", air_c=22, rh_pct=75)["at_risk"]
    assert not told("blush", air_c=22, rh_pct=40)["at_risk"]


def test_three_vapours_below_their_limits_are_weighed_together() -> None:
    """The regulation's own example: 500/1000 + 45/200 + 40/200 = 0.925."""
    levels = {"b": 500, "c": 45, "d": 40}
    answer = told("exposure", levels=levels, limits={"b": 1000, "c": 200, "d": 200})
    assert answer["index"] == pytest.approx(0.925)
    assert not answer["above_limit"]
    assert "Not a permission" in answer["cautions"][-1]
    with pytest.raises(Refused, match="a level and a limit of each: e"):
        told("exposure", levels={"b": 1, "e": 1}, limits={"b": 2})


def test_a_systems_films_add_up() -> None:
    """75 um at 30 % with 5 % reducer leaves 21.4, two coats of 100 um at 33 % leave 33 each."""
    coats = [{"wet_film_um": 75, "volume_solids_pct": 30, "reducer_pct": 5}]
    coats += [{"wet_film_um": 100, "volume_solids_pct": 33}] * 2
    answer = told("system-film", coats=coats, area_m2=2)
    assert [round(coat["standing_um"], 1) for coat in answer["coats"]] == [21.4, 54.4, 87.4]
    assert answer["sprayed_l"] == pytest.approx(0.275 * 2 / 0.65)


def test_gloss_readings_are_held_against_what_was_asked() -> None:
    assert told("sheen", readings_gu=[33, 35, 34], asked="satin")["verdict"] == "as_asked"
    assert told("sheen", readings_gu=[52, 53, 54], asked="satin")["verdict"] == "shinier"


def test_a_trial_shows_the_overlaps_side_by_side() -> None:
    answer = told("gun-trial", fan_width_mm=200, distance_mm=180, overlap_pct=50, speed_mm_s=500,
                  flow_l_min=0.3)  # fmt: skip
    assert [row["overlap_pct"] for row in answer["overlaps"]] == [40, 50, 60]
    assert answer["overlaps"][1]["ripple_pct"] == answer["lay"]["ripple_pct"]
