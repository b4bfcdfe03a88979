"""Airflow, exposure and explosive limits against the regulations' own examples and physics."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from coatledger import units
from coatledger.computations import ventilation as air
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def m3_per_l(ft3_per_gal: float) -> float:
    return units.m3_from_ft3(ft3_per_gal) / units.l_from_gal(1)


def dilution_ft3(vapour_ft3_per_gal: float, lel_pct: float, gal: float) -> float:
    litres = units.l_from_gal(gal)
    return units.ft3_from_m3(air.dilution_air_m3(litres, m3_per_l(vapour_ft3_per_gal), lel_pct))


SPRAYING = air.Spraying(
    solvent_l_per_h=1,
    vapour_m3_per_l=m3_per_l(30.4),
    lel_pct=1.4,
    limit_ppm=100,
    airflow_m3_s=1.5,
    booth_airflow_m3_s=1.2,
)


@pytest.mark.parametrize("row", rows("dilution_examples.csv"), ids=lambda row: row["case"])
def test_dilution_air_is_what_the_regulation_works_out(row: dict[str, str]) -> None:
    """29 CFR 1910.94(c)(6)(ii); printed to the cubic foot, computed to two decimals."""
    ours = dilution_ft3(float(row["V"]), float(row["lel_pct"]), float(row["gal"]))
    assert ours == pytest.approx(float(row["dilution_ft3"]), abs=0.006)
    if row["published"]:
        assert round(ours) == int(row["published"])
    if row["cfm"]:
        flow = air.dilution_airflow_m3_s(
            units.l_from_gal(float(row["gal"])),
            float(row["minutes"]),
            m3_per_l(float(row["V"])),
            float(row["lel_pct"]),
        )
        assert units.ft3_from_m3(flow) * 60 == pytest.approx(float(row["cfm"]), rel=2e-5)


@pytest.mark.parametrize("row", rows("solvent_vapours.csv"), ids=lambda row: row["solvent"])
def test_each_solvent_of_the_table_asks_for_its_dilution_air(row: dict[str, str]) -> None:
    """29 CFR 1910.94 Table G-11 (from memory) only exercises the formula, not safety data."""
    ours = dilution_ft3(float(row["ft3_vapour_per_gal"]), float(row["lel_pct"]), 1)
    assert ours == pytest.approx(float(row["dilution_ft3_per_gal"]), abs=0.05)


@pytest.mark.parametrize(
    ("solvent", "density_g_per_l", "molar_mass_g", "tolerance"),
    [
        ("Toluene", 866, 92.14, 0.01),
        ("Acetone", 789, 58.08, 0.01),
        ("Ethyl acetate", 900, 88.11, 0.01),
        ("Butyl alcohol (n)", 809, 74.12, 0.01),
    ],
)
def test_a_vapour_volume_is_that_of_an_ideal_gas(
    solvent: str, density_g_per_l: float, molar_mass_g: float, tolerance: float
) -> None:
    """Densities near 21 °C from handbooks, from memory; the physical column at 70 °F, 1 atm."""
    (row,) = [row for row in rows("solvent_vapours.csv") if row["solvent"] == solvent]
    ours = air.vapour_m3_per_l(density_g_per_l, molar_mass_g, units.c_from_f(70))
    printed = m3_per_l(float(row["physics_ft3_per_gal"]))
    assert ours == pytest.approx(printed, rel=tolerance)


CONDITIONS = {
    "electrostatic / automatic airless, no operator in booth": "electrostatic_unmanned",
    "air-operated guns, manual or automatic": "air_operated",
    "dry-type booth, 1910.107(b)(5)(i): average over open face": "dry_booth",
    "electrostatic, 1910.107(b)(5)(i)": "electrostatic",
}
CROSS = {
    "negligible": "negligible",
    "up to 50 fpm": "to_50_fpm",
    "up to 100 fpm": "to_100_fpm",
    "": "any",
}


@pytest.mark.parametrize("row", rows("booth_velocities.csv"))
def test_a_booth_has_the_velocity_the_table_prints(row: dict[str, str]) -> None:
    line = air.booth_velocity(
        CONDITIONS[row["operating condition"]], CROSS[row["crossdraft"]], row["booth"]
    )
    assert units.fpm_from_m_s(line.design_m_s) == pytest.approx(float(row["design_fpm"]))
    low, _, high = row["range_fpm"].removeprefix(">=").partition("-")
    assert units.fpm_from_m_s(line.low_m_s) == pytest.approx(float(low))
    if high:
        assert line.high_m_s is not None
        assert units.fpm_from_m_s(line.high_m_s) == pytest.approx(float(high))
    else:
        assert line.high_m_s is None


def test_more_crossdraft_or_a_smaller_booth_never_asks_for_less_air() -> None:
    """Table G-10 (two lines from memory): 100, 150, 150, 200 fpm for air-operated guns."""
    fpm = [
        round(units.fpm_from_m_s(air.booth_velocity("air_operated", cross, booth).design_m_s))
        for cross in ("to_50_fpm", "to_100_fpm")
        for booth in ("large", "small")
    ]
    assert fpm == [100, 150, 150, 200]
    for line in air.BOOTH_VELOCITIES:
        assert line.low_m_s <= line.design_m_s
        assert line.high_m_s is None or line.design_m_s < line.high_m_s


def test_a_booth_the_regulation_does_not_know_is_refused() -> None:
    with pytest.raises(ValueError, match="has no line for brush"):
        air.booth_velocity("brush", "negligible", "large")


def test_a_booths_airflow_is_its_face_times_the_speed() -> None:
    """100 fpm over 6.5 by 7 ft is 4,550 cfm."""
    face = units.m2_from_ft2(6.5 * 7)
    flow = air.booth_airflow_m3_s(face, units.m_s_from_fpm(100))
    assert units.ft3_from_m3(flow) * 60 == pytest.approx(4550)


EXPOSURES: dict[str, Callable[[dict[str, list[float]]], float]] = {
    "twa8": lambda i: air.exposure_twa(list(zip(i["ppm"], i["h"], strict=True))),
    "mixture_index": lambda i: air.mixture_index(list(zip(i["c"], i["limit"], strict=True))),
}


@pytest.mark.parametrize("row", rows("exposure_examples.csv"), ids=lambda row: row["quantity"])
def test_an_exposure_is_what_the_regulation_works_out(row: dict[str, str]) -> None:
    """29 CFR 1910.1000(d) worked examples are exact; ppm to mg/m³ to five figures."""
    inputs = json.loads(row["inputs_json"])
    if row["quantity"] == "mg_m3_from_ppm":
        ours = air.mg_m3_from_ppm(inputs["ppm"], inputs["mw"])
        assert air.ppm_from_mg_m3(ours, inputs["mw"]) == pytest.approx(inputs["ppm"])
        assert ours == pytest.approx(float(row["value"]), rel=1e-5)
    else:
        ours = EXPOSURES[row["quantity"]](inputs)
        assert ours == pytest.approx(float(row["value"]), rel=1e-12)


def test_a_mixture_of_one_has_its_own_limit_and_of_two_lies_between() -> None:
    assert air.mixture_lel_pct([(1, 1.4)]) == pytest.approx(1.4)
    assert air.mixture_lel_pct([(0.5, 1.0), (0.5, 3.0)]) == pytest.approx(1.5)
    with pytest.raises(OutOfRange, match="sum of shares"):
        air.mixture_lel_pct([(0.5, 1.0)])


@given(first=st.floats(0.3, 30), second=st.floats(0.3, 30), share=st.floats(0, 1))
def test_a_mixtures_limit_lies_between_its_parts(first: float, second: float, share: float) -> None:
    mixed = air.mixture_lel_pct([(share, first), (1 - share, second)])
    assert min(first, second) * (1 - 1e-9) <= mixed <= max(first, second) * (1 + 1e-9)


def test_the_dilution_airflow_brings_the_vapour_to_a_quarter_of_its_limit() -> None:
    needed = air.dilution_airflow_m3_s(1, 60, SPRAYING.vapour_m3_per_l, SPRAYING.lel_pct)
    # The regulation counts the air at 100 - LEL where a quarter needs 100 - LEL/4: 1 % to spare.
    answer = air.air_answer(msgspec.structs.replace(SPRAYING, airflow_m3_s=needed))
    assert answer.share_of_lel_pct == pytest.approx(25, rel=0.015)


def test_the_answer_starts_with_airflow_and_ends_with_fire() -> None:
    order = list(air.AirAnswer.__struct_fields__)
    assert order.index("required_m3_s") < order.index("exposure_index")
    assert order.index("exposure_index") < order.index("share_of_lel_pct")
    assert not any("minute" in name or "left" in name or "safe" in name for name in order)


def test_what_asks_for_most_air_is_named() -> None:
    assert air.air_answer(SPRAYING).required_by == "booth"
    strict = msgspec.structs.replace(SPRAYING, limit_ppm=1)
    assert air.air_answer(strict).required_by == "exposure"
    vapour_m3_s = SPRAYING.vapour_m3_per_l / 3600
    assert air.air_answer(strict).required_m3_s == pytest.approx(vapour_m3_s * 1e6)
    lax = msgspec.structs.replace(SPRAYING, booth_airflow_m3_s=0, limit_ppm=10_000)
    assert air.air_answer(lax).required_by == "dilution"


def test_an_answer_within_every_limit_is_still_no_permission() -> None:
    within = air.air_answer(SPRAYING)
    assert (within.short_m3_s, within.above_quarter_lel) == (0, False)
    assert within.exposure_index < 1
    assert within.cautions[-1] == air.DEFER
    assert air.DEFER.startswith("Not a permission")
    for words in within.cautions:
        assert not any(word in words.lower() for word in ("you may", "is safe", "ok to", "minutes"))


def test_air_that_falls_short_says_so_first() -> None:
    short = air.air_answer(msgspec.structs.replace(SPRAYING, airflow_m3_s=0.005))
    assert short.short_m3_s == pytest.approx(1.195)
    assert short.above_quarter_lel
    assert short.cautions[0].startswith("The air falls short")
    assert "exposure limit" in short.cautions[1]
    assert "explosive limit" in short.cautions[2]


@given(more=st.floats(0.01, 10))
def test_more_air_is_never_worse(more: float) -> None:
    better = msgspec.structs.replace(SPRAYING, airflow_m3_s=SPRAYING.airflow_m3_s + more)
    ours, theirs = air.air_answer(better), air.air_answer(SPRAYING)
    assert ours.share_of_lel_pct < theirs.share_of_lel_pct
    assert ours.exposure_index < theirs.exposure_index


@pytest.mark.parametrize(
    ("call", "quantity", "source"),
    [
        (lambda: air.dilution_air_m3(1, 0.2, 0), "lel_pct", air.LEL),
        (lambda: air.dilution_air_m3(-1, 0.2, 1), "solvent_l", air.LITRES),
        (lambda: air.exposure_twa([(10, 20), (10, 5)]), "sum of hours", air.EXPOSURE),
        (lambda: air.mixture_index([(10, 0)]), "limit", air.EXPOSURE),
        (lambda: air.booth_airflow_m3_s(4, 0), "velocity_m_s", air.BOOTH),
        (lambda: air.mg_m3_from_ppm(float("nan"), 92), "level_ppm", air.EXPOSURE),
    ],
)
def test_an_impossible_input_names_its_range_and_source(
    call: Callable[[], object], quantity: str, source: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        call()
    assert (refused.value.quantity, refused.value.source) == (quantity, source)
