"""What scripts/measure promise says of how a quote's time grows with the shop."""

import importlib
from math import log
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_growth_is_told_beside_what_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    for folder in ("tests/sim", "tests/support", "scripts/benchmarks"):
        monkeypatch.syspath_prepend(str(ROOT / folder))
    promise = importlib.import_module("promise")
    asked: list[tuple[int, float]] = []

    def quadratic(size: int, rounds: int, level: float) -> float:
        asked.append((size, level))
        return 1e-4 * size**2 + 40.0 * (size == 50)

    monkeypatch.setattr(promise, "quote_ms", quadratic)
    found = promise.growth(8)
    assert asked == [(size, 0.5) for size in (50, 100, 200, 500, 1_000, 2_000)]
    assert found["quote_2000_ms"] == pytest.approx(400.0)
    assert found["quote_growth"] == pytest.approx(2.0)
    # Between 100 and 2,000 n log n grows as n to the power 1 + log(log 2000 / log 100) / log 20.
    ends = 1.0 + log(log(2_000) / log(100)) / log(20)
    assert found["quote_growth_n_log_n"] == pytest.approx(ends, abs=0.01)
