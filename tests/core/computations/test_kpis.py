"""The ISO 22400-2 figures on worked rows, and their refusals."""

import csv
import json
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from coatledger.computations import kpis
from coatledger.computations.ranges import OutOfRange

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


KPIS: Mapping[str, Callable[..., float]] = {
    "throughput_rate": lambda **q: kpis.throughput_rate_per_h(q["PQ"], q["AOET_h"]),
    "quality_ratio": lambda **q: kpis.quality_ratio(q["GQ"], q["PQ"]),
    "scrap_ratio": lambda **q: kpis.scrap_ratio(q["SQ"], q["PQ"]),
    "first_pass_yield": lambda **q: kpis.first_pass_yield(q["GP"], q["IP"]),
    "rolled_throughput_yield": lambda **q: kpis.rolled_throughput_yield(q["FPY"]),
    "production_loss_ratio": lambda **q: kpis.production_loss_ratio(q["PL"], q["CM"]),
}


@pytest.mark.parametrize("row", rows("iso22400_examples.csv"), ids=lambda r: r["kpi"])
def test_figures_are_the_worked_ones(row: dict[str, str]) -> None:
    inputs = json.loads(row["inputs_json"])
    assert KPIS[row["kpi"]](**inputs) == pytest.approx(float(row["value"]), rel=1e-12)


def test_figures_without_a_worked_row_follow_their_definition() -> None:
    assert kpis.rework_ratio(9, 120) == 0.075
    assert kpis.actual_to_planned_scrap_ratio(3, 2) == 1.5
    assert kpis.allocation_ratio([2.0, 3.0, 1.0], 4.0) == 1.5
    assert kpis.setup_rate(1.5, 6.0) == 0.25
    assert kpis.worker_efficiency(6.0, 8.0) == 0.75


@pytest.mark.parametrize(
    ("call", "named"),
    [
        (lambda: kpis.quality_ratio(5, 4), "good"),
        (lambda: kpis.quality_ratio(0, 0), "produced"),
        (lambda: kpis.first_pass_yield(-1, 4), "good_at_first"),
        (lambda: kpis.rework_ratio(5, 4), "reworked"),
        (lambda: kpis.scrap_ratio(5, 4), "scrapped"),
        (lambda: kpis.throughput_rate_per_h(4, 0), "order_execution_h"),
        (lambda: kpis.throughput_rate_per_h(-1, 4), "produced"),
        (lambda: kpis.actual_to_planned_scrap_ratio(1, 0), "planned"),
        (lambda: kpis.production_loss_ratio(2.0, 1.0), "lost"),
        (lambda: kpis.allocation_ratio([-1.0], 2.0), "unit_busy_h"),
        (lambda: kpis.allocation_ratio([1.0], 0.0), "order_execution_h"),
        (lambda: kpis.setup_rate(3.0, 2.0), "setup_h"),
        (lambda: kpis.worker_efficiency(9.0, 8.0), "work_h"),
        (lambda: kpis.rolled_throughput_yield([]), "steps"),
        (lambda: kpis.rolled_throughput_yield([1.1]), "first_pass_yield"),
    ],
)
def test_quantities_no_shop_can_have_are_refused(call: Callable[[], float], named: str) -> None:
    with pytest.raises(OutOfRange, match=named):
        call()
