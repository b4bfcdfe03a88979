"""Every calculation asked by name: its published value, its refusals, and no other way to fail."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

import msgspec
import psychrolib
import pytest
from coatledger.answers.calculations import air, film, liquid, schedule, spraying
from coatledger.answers.calculations.calculation import Calculation
from coatledger.answers.calculations.table import CALCULATIONS, calculate
from coatledger.ledger.decode import typed
from coatledger.refusal import Refused
from coatledger.units import g_per_l_from_lb_per_gal
from hypothesis import given
from hypothesis import strategies as st

NAMES = tuple(CALCULATIONS)


def told(name: str, **asked: Any) -> Any:
    """Ask as a client does: plain JSON values in, plain JSON values out."""
    calculation = CALCULATIONS[name]
    answer = calculate(calculation, typed(asked, calculation.asks))
    assert isinstance(answer, calculation.answers)
    return msgspec.to_builtins(answer)


def test_the_table_holds_every_calculation_once() -> None:
    every = (*air.ALL, *film.ALL, *liquid.ALL, *spraying.ALL, *schedule.ALL)
    assert len(every) == len(CALCULATIONS) == len({one.name for one in every})


@pytest.mark.parametrize("calculation", CALCULATIONS.values(), ids=NAMES)
def test_every_calculation_says_what_it_does_and_who_says_so(calculation: Calculation) -> None:
    assert calculation.does.endswith(".")
    assert calculation.source
    for struct in (calculation.asks, calculation.answers):
        assert struct.__doc__
    assert calculation.asks.__struct_config__.frozen


def test_air_agrees_with_psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    answer = told("air", air_c=21, rh_pct=50)
    ratio, wet, dew, vapour_pa, *_ = psychrolib.CalcPsychrometricsFromRelHum(21, 0.5, 101_325)
    assert answer["dew_point_c"] == pytest.approx(dew, abs=0.001)
    assert answer["wet_bulb_c"] == pytest.approx(wet, abs=0.001)
    assert answer["wet_bulb_depression_c"] == pytest.approx(21 - wet, abs=0.001)
    assert answer["vapour_pressure_pa"] == pytest.approx(vapour_pa, rel=1e-5)
    assert answer["humidity_ratio_g_kg"] == pytest.approx(1000 * ratio, rel=1e-5)


def test_a_margin_between_the_two_rules_passes_the_one_and_not_the_other() -> None:
    dew = told("air", air_c=21, rh_pct=50)["dew_point_c"]
    answer = told("dew-point-margin", surface_c=dew + 2.9, air_c=21, rh_pct=50)
    assert (answer["iso_3c_ok"], answer["five_f_ok"]) == (False, True)


def test_a_room_in_range_needs_nothing_and_a_cold_one_heat() -> None:
    wanted = {"air_min_c": 19, "air_max_c": 24, "rh_min_pct": 40, "rh_max_pct": 50}
    fine = told("room", air_c=21, rh_pct=45, volume_m3=60, **wanted)
    assert (fine["water_once_g"], fine["heat_once_kj"]) == (0, 0)
    cold = told("room", air_c=10, rh_pct=80, volume_m3=60, **wanted)
    assert cold["to_air_c"] == 19
    assert cold["heat_once_kj"] > 0


def test_wood_comes_to_the_handbooks_moisture() -> None:
    # USDA Wood Handbook table 4-2 prints 9.2 % for 21.1 °C and 50 %.
    answer = told("wood-moisture", air_c=21.1, rh_pct=50, moisture_pct=12)
    assert answer["emc_pct"] == pytest.approx(9.2, abs=0.05)
    assert answer["moves"]["direction"] == "dries"
    assert "moves" not in told("wood-moisture", air_c=21.1, rh_pct=50)


def test_a_wet_film_leaves_its_solids_and_back() -> None:
    dry = told("film", volume_solids_pct=33, wet_film_um=100)["dry_film_um"]
    assert dry == pytest.approx(33)
    assert told("film", volume_solids_pct=33, dry_film_um=dry)["wet_film_um"] == pytest.approx(100)


def test_a_litre_covers_what_the_rule_of_1604_says() -> None:
    # 1604 ft2/gal at 1 mil and 100 % solids is 39.37 m2/L; here 30 % at 1 mil.
    answer = told("spreading-rate", volume_solids_pct=30, dry_film_um=25.4, area_m2=10, coats=2)
    assert answer["theoretical_m2_per_l"] == pytest.approx(0.3 * 39.3701, rel=1e-5)
    assert answer["efficiency_pct"] == 65
    assert answer["litres_l"] == pytest.approx(20 / (0.65 * 0.3 * 39.3701), rel=1e-5)


def test_solvent_content_gives_the_guidebooks_example() -> None:
    answer = told("voc", volume_solids_pct=42, water_pct=52)
    assert answer["less_water_g_per_l"] == pytest.approx(g_per_l_from_lb_per_gal(0.92), rel=0.005)
    assert answer["as_applied_g_per_l"] < answer["less_water_g_per_l"]


def test_a_cups_seconds_are_its_standards_viscosity() -> None:
    answer = told("viscosity", cup="ford_4", efflux_s=30, liquid_c=18, wanted_c=25)
    assert answer["viscosity_mm2_s"] == pytest.approx(3.85 * (30 - 4.49))  # ASTM D1200
    assert answer["at_wanted_mm2_s"]["likely"] < answer["viscosity_mm2_s"]
    assert "ford_4" in answer["cups"]
    nozzles = told("nozzle", viscosity_mm2_s=answer["viscosity_mm2_s"])["nozzles"]
    assert nozzles == answer["nozzles"]
    assert [one["nozzle_mm"] for one in nozzles] == [1.5, 1.3]


def test_thinning_stops_at_the_sheets_limit() -> None:
    free = told("thinning", cup="ford_4", measured_s=60, target_s=25)
    kept = told("thinning", cup="ford_4", measured_s=60, target_s=25, limit_pct=5)
    assert free["within_limit"] is None
    assert (kept["allowed_pct"], kept["within_limit"]) == (5, False)


def test_a_mix_is_split_by_its_pot_life() -> None:
    answer = told(
        "next-mix", needed_l=3, parts={"base": 10, "crosslinker": 1}, spray_l_per_h=1.5,
        pot_life_h=1.25, start="2026-03-02T08:00:00Z", loss_per_pot_l=0,
    )  # fmt: skip
    assert len(answer["pots"]) == 2  # four fifths of 1.25 h are 1 h, and 1.5 L, a pot
    parts = answer["pots"][0]["parts_l"]
    assert parts["base"] == pytest.approx(10 * parts["crosslinker"])


def test_a_trial_lays_what_leaves_the_gun() -> None:
    answer = told(
        "gun-trial", fan_width_mm=200, distance_mm=150, overlap_pct=50, speed_mm_s=500,
        flow_l_min=0.3, efficiency_pct=50, target_wet_film_um=100, area_m2=2,
    )  # fmt: skip
    # 0.3 L/min x 50 % over 100 mm x 500 mm/s: 0.15e6 mm3 on 3e6 mm2 is 50 um.
    assert answer["lay"]["wet_film_um"] == pytest.approx(50)
    assert answer["passes"]["passes"] == 2
    assert answer["batch"]["litres"] > 2 * 0.05 / 0.5


def test_booth_air_names_what_asks_for_most_and_permits_nothing() -> None:
    answer = told(
        "booth-air", open_face_m2=2, airflow_m3_s=0.5, solvent_l_per_h=1,
        solvent_density_g_per_l=866, molar_mass_g=92.1, lel_pct=1.2, limit_ppm=200,
    )  # fmt: skip
    assert answer["required_by"] == "booth"
    assert answer["required_m3_s"] == pytest.approx(2 * 0.508)  # 100 fpm over the open face
    assert answer["short_m3_s"] > 0
    assert any("Not a permission" in caution for caution in answer["cautions"])


SHEET = {
    "kind": "water_borne", "reference_wet_film_um": 100, "wet_film_um": 100, "touch_dry_h": 0.5,
    "tack_free_h": 1, "recoat_h": 3, "stack_h": 12, "wrap_h": 24, "cure_h": 168,
}  # fmt: skip


def test_the_drying_clock_gives_the_sheets_hours_at_its_own_climate() -> None:
    answer = told("drying-clock", air_c=21, rh_pct=50, **SHEET)
    likely = [stage["likely_h"] for stage in answer["stages"]]
    assert likely == pytest.approx([0.5, 1, 3, 12, 24, 168], rel=1e-9)
    assert answer["film_forms"]


def test_damp_air_dries_later_saturated_air_never_and_cold_forms_no_film() -> None:
    damp = told("drying-clock", air_c=21, rh_pct=80, **SHEET)
    assert damp["stages"][2]["likely_h"] > 3
    wet = told("drying-clock", air_c=21, rh_pct=100, **SHEET)
    assert wet["stages"][2]["sure_h"] is None
    cold = told("drying-clock", air_c=8, rh_pct=50, mfft_c=10, **SHEET)
    assert not cold["film_forms"]


def test_a_schedule_is_proposed_and_two_are_compared() -> None:
    table = {"species": "white oak", "use": "table", "look": "filled"}
    plain = {"species": "white oak", "use": "shelf"}
    proposal = told("schedule", **table)
    assert any(step["act"] == "fill_grain" for step in proposal["steps"])
    both = told("schedule-comparison", first=plain, second=table, area_m2=2)
    assert both["hands_on_h"] > 0
    assert both["words"].startswith("The second takes")


@pytest.mark.parametrize(
    ("name", "asked", "says"),
    [
        ("air", {"air_c": 21, "rh_pct": 120}, "relative humidity"),
        ("film", {"volume_solids_pct": 33}, "give one film"),
        ("film", {"volume_solids_pct": 33, "wet_film_um": 1, "dry_film_um": 1}, "give one film"),
        ("spreading-rate", {"volume_solids_pct": 33, "dry_film_um": 30, "method": "spoon"}, "hvlp"),
        ("viscosity", {"cup": "tea", "efflux_s": 30}, "no cup is called tea"),
        ("viscosity", {"cup": "ford_4", "efflux_s": 5}, "ASTM D1200"),
        ("viscosity", {"cup": "ford_4", "efflux_s": 30, "wanted_c": 25}, "together"),
    ],
)
def test_numbers_no_source_holds_for_are_refused_with_the_reason(
    name: str, asked: dict[str, Any], says: str
) -> None:
    with pytest.raises(Refused, match=says):
        told(name, **asked)


FLOATS = st.one_of(
    st.sampled_from([0.0, -1.0, 1e-9, 0.5, 1.0, 21.0, 50.0, 100.0, 1e6, 1e308, -1e308]),
    st.floats(allow_nan=False, allow_infinity=False),
)
WORDS = st.sampled_from(["", "hvlp", "ford_4", "zahn_2", "ash", "satin", "nothing", "gloss"])


def drawn(kind: msgspec.inspect.Type) -> st.SearchStrategy[Any]:
    """Values of a field's type, likely or far off, as a decoder lets them through."""
    inspect = msgspec.inspect
    match kind:
        case inspect.Metadata():
            return drawn(kind.type)
        case inspect.UnionType():
            return st.one_of(*(drawn(one) for one in kind.types))
        case inspect.StructType():
            return st.fixed_dictionaries({f.name: drawn(f.type) for f in kind.fields})
        case inspect.LiteralType():
            return st.sampled_from(kind.values)
        case inspect.DictType():
            return st.dictionaries(st.text(max_size=3), FLOATS, min_size=1, max_size=3)
        case inspect.VarTupleType():
            return st.lists(drawn(kind.item_type), min_size=1, max_size=3)
        case inspect.FloatType():
            return FLOATS
        case inspect.IntType():
            return st.integers(-(2**62), 2**62) | st.integers(0, 20) | st.just(10**400)
        case inspect.BoolType():
            return st.booleans()
        case inspect.DateTimeType():
            return st.datetimes(timezones=st.just(UTC))
        case inspect.StrType():
            return WORDS
        case inspect.NoneType():
            return st.none()
        case _:
            raise AssertionError(kind)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_any_numbers_are_answered_or_refused(name: str, data: st.DataObject) -> None:
    calculation = CALCULATIONS[name]
    kind = msgspec.inspect.type_info(calculation.asks)
    plain = msgspec.to_builtins(data.draw(drawn(kind)))
    try:
        answer = calculate(calculation, typed(plain, calculation.asks))
    except Refused:
        return
    assert not_a_number(msgspec.to_builtins(answer)) == []
    msgspec.json.encode(answer)


def not_a_number(value: Any) -> list[Any]:
    """What JSON could not say: infinite or no number at all."""
    if isinstance(value, dict):
        return [bad for one in value.values() for bad in not_a_number(one)]
    if isinstance(value, list | tuple):
        return [bad for one in value for bad in not_a_number(one)]
    return [value] if isinstance(value, float) and not math.isfinite(value) else []


def test_a_time_at_the_end_of_the_calendar_is_refused() -> None:
    with pytest.raises(Refused):
        told(
            "next-mix", needed_l=1, parts={"base": 1}, spray_l_per_h=1, pot_life_h=9000,
            start=datetime.max.replace(tzinfo=UTC).isoformat(),
        )  # fmt: skip
