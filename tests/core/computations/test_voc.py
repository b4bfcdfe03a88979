"""Solvent content against the regulations' formulas and a guidebook's examples, slips included."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from coatledger import units
from coatledger.computations import voc
from coatledger.computations.ranges import OutOfRange
from hypothesis import given
from hypothesis import strategies as st

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


si, us = units.g_per_l_from_lb_per_gal, units.lb_per_gal_from_g_per_l


def litres_of_solvent(i: dict[str, float]) -> float | None:
    grams, litres = i["voc_lb"] * units.G_PER_LB, units.l_from_gal(i["gal"])
    return voc.thinner_limit_l(grams, litres, si(i["thinner_lb_gal"]), si(i["limit"]))


EXAMPLES: dict[str, Callable[[dict[str, float]], float]] = {
    "thin_mix": lambda i: us(
        voc.thinned_g_per_l(
            i["voc_lb"] * units.G_PER_LB,
            units.l_from_gal(i["gal"]),
            si(i["thinner_lb_gal"]),
            units.l_from_gal(i["y_gal"]),
        )
    ),
    "max_thinner": lambda i: units.gal_from_l(litres_of_solvent(i) or 0),
    "less_water_from_volumes": lambda i: us(
        voc.less_water_from_volumes_g_per_l(
            i["solids"] * 100, i["water"] * 100, si(i["voc_density"])
        )
    ),
    "actual_from_volumes": lambda i: us(
        voc.as_applied_from_volumes_g_per_l(
            i["solids"] * 100, i["water"] * 100, si(i["voc_density"])
        )
    ),
    "solids_basis": lambda i: us(voc.solids_basis_g_per_l(si(i["voc_less_water"]), si(i["D"]))),
    "cfr59": lambda i: voc.less_water_g_per_l(
        i["Wv_g"], i["Ww_g"], i["Wec_g"], i["V_L"], i["Vw_L"], i["Vec_L"]
    ),
    "actual_g_L": lambda i: voc.as_applied_g_per_l(i["Wv_g"], i["Ww_g"], i["Wec_g"], i["V_L"]),
    "lb_gal_to_g_L": lambda i: si(i["lb_gal"]),
}


@pytest.mark.parametrize("row", rows("voc_examples.csv"), ids=lambda row: row["quantity"])
def test_a_worked_example_comes_out_as_worked(row: dict[str, str]) -> None:
    """Nine figures as given; the prints behind them round to two decimals."""
    ours = EXAMPLES[row["quantity"]](json.loads(row["inputs_json"]))
    assert ours == pytest.approx(float(row["value"]), rel=1e-8)


def test_the_guidebooks_swap_of_solids_and_water_is_not_ours() -> None:
    """Example 3 prints 0.76 lb/gal, which is what 52 % solids and 42 % water would give."""
    right = us(voc.less_water_from_volumes_g_per_l(42, 52))
    swapped = us(voc.less_water_from_volumes_g_per_l(52, 42))
    assert round(right, 2) == 0.92
    assert round(swapped, 2) == 0.76


@given(water_l=st.floats(0, 5))
def test_adding_water_leaves_less_water_where_it_was_and_dilutes_as_applied(water_l: float) -> None:
    grams = water_l * 1000
    before = voc.less_water_g_per_l(620, 560, 0, 1.0, 0.56, 0)
    after = voc.less_water_g_per_l(620 + grams, 560 + grams, 0, 1.0 + water_l, 0.56 + water_l, 0)
    assert after == pytest.approx(before, rel=1e-9)
    if water_l > 0.001:
        applied = voc.as_applied_g_per_l(620 + grams, 560 + grams, 0, 1.0 + water_l)
        assert applied < voc.as_applied_g_per_l(620, 560, 0, 1.0) < before


@given(grams=st.floats(0, 400), thinner=st.floats(500, 900), limit=st.floats(401, 499))
def test_the_thinner_limit_is_where_the_content_meets_it(
    grams: float, thinner: float, limit: float
) -> None:
    litres = voc.thinner_limit_l(grams, 1, thinner, limit)
    assert litres is not None
    assert voc.thinned_g_per_l(grams, 1, thinner, litres) == pytest.approx(limit)


def test_a_thinner_below_the_limit_never_reaches_it() -> None:
    assert voc.thinner_limit_l(100, 1, 200, 250) is None
    with pytest.raises(OutOfRange, match="content before thinning"):
        voc.thinner_limit_l(300, 1, 800, 250)


def test_pollutant_for_solids_is_an_average_by_weight() -> None:
    """Two materials by hand: (10 x 0.05 + 5 x 0.8)/(10 x 0.4 + 0) = 4.5/4."""
    assert voc.hazardous_per_solids([(10, 0.05, 0.4), (5, 0.8, 0.0)]) == pytest.approx(1.125)
    with pytest.raises(OutOfRange, match="solids_kg"):
        voc.hazardous_per_solids([(5, 0.8, 0.0)])


@pytest.mark.parametrize(
    ("call", "quantity"),
    [
        (lambda: voc.less_water_g_per_l(100, 200, 0, 1, 0.2, 0), "water_g + exempt_g"),
        (lambda: voc.less_water_g_per_l(620, 560, 0, 1, 1, 0), "volume less water and exempt"),
        (lambda: voc.as_applied_from_volumes_g_per_l(60, 50), "solids_pct + water_pct"),
        (lambda: voc.less_water_from_volumes_g_per_l(0, 100), "water_pct"),
        (lambda: voc.solids_basis_g_per_l(900), "less_water_g_per_l"),
        (lambda: voc.thinned_g_per_l(10, 0, 800, 1), "volume_l"),
    ],
)
def test_an_impossible_input_names_what_is_out_of_range(
    call: Callable[[], object], quantity: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        call()
    assert refused.value.quantity == quantity


def test_exempt_compounds_leave_both_mass_and_volume() -> None:
    """By hand: 500 g volatile, 200 g water, 100 g exempt; 1 L less 0.2 L and 0.125 L."""
    ours = voc.less_water_g_per_l(500, 200, 100, 1, 0.2, 0.125)
    assert ours == pytest.approx(200 / 0.675)
    assert voc.as_applied_g_per_l(500, 200, 100, 1) == pytest.approx(200)
