"""The measurement of the service runs at a small size, and prints what it promises."""

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
def test_memory_and_hostile_requests_are_told() -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "measurements.py"), "service", "--json",
         "--only", "memory", "--only", "hostile", "--minutes", "0.25"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found["memory_growth"] > 0
    assert found["memory_requests"] > 50
    assert found["memory_requests_failed"] == 0
    assert (found["hostile_5xx"], found["hostile_written"]) == (0, 0)
    assert found["hostile_requests"] >= 300


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """What reads the fuzzer's summary."""
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    from fuzz import counted

    yield counted
    sys.modules.pop("fuzz", None)


@pytest.mark.parametrize(
    ("code", "said", "cases", "failures"),
    [
        (0, "Test cases:\n  5123 generated, 5123 passed\n", 5123, 0),
        (1, "  4259 generated, 9 found 9 unique failures, 123 skipped\n", 4259, 9),
        (1, "Traceback", 0, 1),
        (0, "", 0, 1),
        (2, "  12 generated, 12 passed\n", 12, 1),
    ],
)
def test_what_the_fuzzer_says_is_counted_and_silence_is_a_failure(
    counted: Any, code: int, said: str, cases: int, failures: int
) -> None:
    found = counted(code, said)
    assert (found.cases, found.failures) == (cases, failures)
