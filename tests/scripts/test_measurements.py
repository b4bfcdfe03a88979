"""scripts/measure finds its measurements by looking, and says which there are."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def measure(*arguments: str) -> subprocess.CompletedProcess[str]:
    script = str(ROOT / "scripts" / "measurements.py")
    return subprocess.run(
        [sys.executable, script, *arguments], capture_output=True, text=True, check=False
    )


def test_every_measurement_is_listed_with_its_subject() -> None:
    done = measure("--list")
    assert done.returncode == 0
    for path in (ROOT / "scripts" / "benchmarks").glob("[!_]*.py"):
        if "def main(" in path.read_text(encoding="utf-8"):
            (line,) = (one for one in done.stdout.splitlines() if one.split()[:1] == [path.stem])
            assert len(line.split()) > 3, line


def test_a_measurement_that_is_not_there_is_named_with_those_that_are() -> None:
    done = measure("warp")
    assert done.returncode == 2
    assert "warp" in done.stderr
    assert "store" in done.stderr


def test_nothing_asked_is_a_mistake_that_shows_the_way() -> None:
    done = measure()
    assert done.returncode == 2
    assert "usage" in done.stdout
