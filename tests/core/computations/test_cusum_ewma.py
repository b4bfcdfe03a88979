"""EWMA and CUSUM against the handbook's columns and published run lengths."""

import csv
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from coatledger.computations import cusum_ewma
from coatledger.computations.ranges import OutOfRange

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"
EWMA_X = (
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5 "
    "49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
)
CUSUM_X = (
    "324.925 324.675 324.725 324.35 325.35 325.225 324.125 324.525 325.225 324.6 "
    "324.625 325.15 328.325 327.25 327.825 328.5 326.675 327.775 326.875 328.35"
)


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize("row", rows("ewma_nist.csv"), ids=lambda r: r["i"])
def test_the_ewma_of_the_handbook_holds_to_its_decimals(row: dict[str, str]) -> None:
    points = cusum_ewma.ewma_chart([float(x) for x in EWMA_X.split()], 50.0, 2.0539, 0.3)
    point = points[int(row["i"]) - 1]
    assert point.average == pytest.approx(float(row["ewma"]), abs=6e-9)
    # The handbook rounds each step, so its second decimal may be off by one.
    assert point.average == pytest.approx(float(row["nist_printed"]), abs=0.0051)
    assert point.low == pytest.approx(float(row["lcl_exact"]), abs=6e-9)
    assert point.high == pytest.approx(float(row["ucl_exact"]), abs=6e-9)
    assert not point.beyond


def test_the_settled_limits_of_the_handbook_are_reached() -> None:
    last = cusum_ewma.ewma_chart([50.0] * 200, 50.0, 2.0539, 0.3)[-1]
    assert last.high == pytest.approx(52.5884, abs=5e-5)
    assert last.low == pytest.approx(47.4115, abs=1.5e-4)


@pytest.mark.parametrize("row", rows("cusum_nist.csv"), ids=lambda r: r["i"])
def test_the_cusum_of_the_handbook_holds_to_its_decimals(row: dict[str, str]) -> None:
    values = [float(x) for x in CUSUM_X.split()]
    point = cusum_ewma.cusum_chart(values, 325.0, 0.3175, 4.1959)[int(row["i"]) - 1]
    assert point.high_sum == pytest.approx(float(row["s_hi"]), abs=1e-9)
    assert point.low_sum == pytest.approx(float(row["s_lo"]), abs=1e-9)
    assert point.high_sum == pytest.approx(float(row["nist_s_hi"]), abs=0.0051)
    assert point.low_sum == pytest.approx(float(row["nist_s_lo"]), abs=0.0051)
    assert point.signal == (row["signal"] == "True")


@pytest.mark.parametrize(
    "row", rows("ewma_cusum_run_lengths.csv"), ids=lambda r: f"{r['chart']} {r['shift_sigma']}"
)
def test_run_lengths_are_the_published_ones(row: dict[str, str]) -> None:
    first, second = (float(x) for x in re.findall(r"=([\d.]+)", row["chart"]))
    length = cusum_ewma.ewma_run_length if "EWMA" in row["chart"] else cusum_ewma.cusum_run_length
    ours = length(first, second, float(row["shift_sigma"]))
    assert ours == pytest.approx(float(row["arl_library"]), rel=1e-7)
    # Published tables round to three figures.
    assert ours == pytest.approx(float(row["published"]), rel=0.005)


def test_an_ewma_of_weight_one_is_a_plain_three_sigma_chart() -> None:
    assert cusum_ewma.ewma_run_length(1.0, 3.0) == pytest.approx(370.398, abs=0.01)


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: cusum_ewma.ewma_chart([1.0], 0.0, 1.0, 0.0), "weight"),
        (lambda: cusum_ewma.ewma_chart([1.0], 0.0, 0.0, 0.3), "sigma"),
        (lambda: cusum_ewma.ewma_chart([float("nan")], 0.0, 1.0, 0.3), "value"),
        (lambda: cusum_ewma.cusum_chart([1.0], 0.0, -0.1, 4.0), "allowance"),
        (lambda: cusum_ewma.cusum_chart([1.0], 0.0, 0.5, 0.0), "bound"),
        (lambda: cusum_ewma.ewma_run_length(0.001, 3.0), "weight"),
        (lambda: cusum_ewma.cusum_run_length(0.5, 0.0), "bound"),
    ],
)
def test_settings_that_make_no_chart_are_refused(call: Callable[[], object], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
