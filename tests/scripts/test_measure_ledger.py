"""The measurement of the ledger runs at a small size, and prints what it promises."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEYS = {
    "batch_append_vs_raw", "batch_append_vs_eventsourcing", "single_append_vs_raw",
    "rebuild_vs_bare", "rebuild_vs_eventsourcing", "append_growth", "rebuild_memory_mb",
}  # fmt: skip


@pytest.mark.slow
def test_every_figure_is_there_and_memory_and_bytes_stay_small() -> None:
    parts = [word for part in ("store", "rebuild", "growth") for word in ("--only", part)]
    done = subprocess.run(
        [sys.executable, str(ROOT / "scripts" / "measurements.py"), "ledger", "--json", *parts,
         "--rounds", "1", "--events", "3000"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found.keys() >= KEYS
    assert all(found[key] > 0 for key in KEYS)
    assert found["rebuild_memory_mb"] < 300
    assert found["append_growth_bytes"] < 1.3
