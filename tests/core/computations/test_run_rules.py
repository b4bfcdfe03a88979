"""Run rules: one sentence and one series each, and how often they cry wolf, exactly."""

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from coatledger.computations.ranges import OutOfRange
from coatledger.computations.run_rules import NELSON, WESTERN_ELECTRIC, run_length, signals

GOLDEN = Path(__file__).parents[2] / "golden" / "computations"


def rows(name: str) -> list[dict[str, str]]:
    lines = (GOLDEN / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def met(number: int, scores: Sequence[float]) -> list[int]:
    return [signal.at for signal in signals(scores, [NELSON[number]])]


@pytest.mark.parametrize("row", rows("run_rule_run_lengths.csv"), ids=lambda r: r["codes"])
def test_false_alarms_come_as_often_as_published(row: dict[str, str]) -> None:
    rules = [WESTERN_ELECTRIC[int(code)] for code in row["codes"].split("+")]
    length = run_length(rules)
    assert length == pytest.approx(float(row["arl_exact"]), rel=1e-9)
    decimals = len(row["published"].split(".")[1])
    assert length == pytest.approx(float(row["published"]), abs=0.5 * 10**-decimals)


def test_every_nelson_rule_is_named_as_published() -> None:
    assert sorted(int(row["test"]) for row in rows("nelson_rules.csv")) == sorted(NELSON)
    windows = {number: rule.window for number, rule in NELSON.items()}
    assert windows == {1: 1, 2: 9, 3: 6, 4: 14, 5: 3, 6: 5, 7: 15, 8: 8}


def test_one_point_beyond_three_sigma() -> None:
    assert met(1, [2.9, -3.1, 3.0, 3.01]) == [1, 3]


def test_nine_in_a_row_on_one_side() -> None:
    assert met(2, [0.1] * 8) == []
    assert met(2, [0.1] * 10) == [8, 9]
    assert met(2, [0.1] * 8 + [-0.1] + [0.1] * 8) == []
    assert met(2, [0.0] * 20) == []


def test_six_in_a_row_rising_or_falling() -> None:
    assert met(3, [0, 1, 2, 3, 4]) == []
    assert met(3, [0, 1, 2, 3, 4, 5]) == [5]
    assert met(3, [5, 4, 3, 2, 1, 0]) == [5]
    assert met(3, [0, 1, 2, 2, 3, 4, 5]) == []


def test_fourteen_in_a_row_alternating() -> None:
    zigzag = [(-1) ** i * 0.5 for i in range(14)]
    assert met(4, zigzag) == [13]
    assert met(4, zigzag[:13]) == []
    assert met(4, [*zigzag[:7], zigzag[6], *zigzag[7:]]) == []


def test_two_of_three_beyond_two_sigma_on_the_same_side() -> None:
    assert met(5, [2.1, 0.0, 2.1]) == [2]
    assert met(5, [2.1, -2.1, 0.0]) == []
    assert met(5, [2.1, 2.1, 0.0]) == [1]


def test_four_of_five_beyond_one_sigma_on_the_same_side() -> None:
    assert met(6, [1.1, 1.1, 0.0, 1.1, 1.1]) == [4]
    assert met(6, [1.1, 1.1, -1.1, -1.1, 1.1]) == []


def test_fifteen_in_a_row_within_one_sigma() -> None:
    assert met(7, [0.9, -0.9] * 7) == []
    assert met(7, [0.9, -0.9] * 8) == [14, 15]


def test_eight_in_a_row_beyond_one_sigma_on_either_side() -> None:
    assert met(8, [1.1, -1.1] * 4) == [7]
    assert met(8, [1.1, -1.1] * 3 + [0.9, 1.1]) == []


def test_a_simulation_of_the_rules_agrees_with_the_chain() -> None:
    """Both are ours but share only the definition of a hit; 400 runs, four standard errors."""
    rng = np.random.default_rng(7)
    rules = [*WESTERN_ELECTRIC.values()]
    lengths = []
    for _ in range(400):
        scores = rng.normal(0.75, 1.0, 400).tolist()
        seen = 10
        while not (found := signals(scores[:seen], rules)):
            seen *= 2
        lengths.append(found[0].at + 1)
    error = float(np.std(lengths)) / len(lengths) ** 0.5
    assert np.mean(lengths) == pytest.approx(run_length(rules, 0.75), abs=4 * error)


def test_a_shift_is_found_sooner_than_a_false_alarm_comes() -> None:
    rules = [WESTERN_ELECTRIC[1], WESTERN_ELECTRIC[4]]
    lengths = [run_length(rules, shift) for shift in (0.0, 0.5, 1.0, 2.0)]
    assert lengths == sorted(lengths, reverse=True)


def test_scores_and_shifts_that_cannot_be_are_refused() -> None:
    with pytest.raises(OutOfRange, match="score"):
        signals([float("nan")], [NELSON[1]])
    with pytest.raises(OutOfRange, match="shift"):
        run_length([WESTERN_ELECTRIC[1]], 11.0)
    with pytest.raises(OutOfRange, match="rules"):
        run_length([])
