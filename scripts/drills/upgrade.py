"""The program before the last change of the tables, its upgrade, the way back, and forward again.

The earlier program is taken from the repository's history, works and makes a copy; the present one
brings the ledger up to date and works on it; the earlier one restores its copy and works again; and
once more forward. What each acknowledged must be there, and the history before the upgrade must
have the same root throughout. What the later program recorded is given up by the way back: that is
counted, for it is the price of a copy that old.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

from _clients import Devices
from _service import SHOP, Service, faults, free_port, missing, tell
from coatledger.computations.merkle import append, leaf_hash, root
from coatledger_adapters.sql_store import open_store

ROOT = Path(__file__).resolve().parents[2]
STEPS = "adapters/coatledger_adapters/migrations/versions"
DEVICES = 8
COMMITS = 8
WORK_S = 3.0
CALL = "from coatledger_api.commands.main import main; main()"


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent."""
    parser = argparse.ArgumentParser(prog="scripts/drill upgrade", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--since", help="the commit of the earlier program")
    parser.add_argument("--seconds", type=float, default=WORK_S, help="of work at each stage, 3")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        earlier = earlier_program(Path(folder) / "earlier", asked.since)
        if earlier is None:
            print("no earlier program: there is no git here, or no history", file=sys.stderr)
            return 77
        found = rehearse(Path(folder), earlier, asked.seconds)
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] or not found["same_root"] else 0


def earlier_program(folder: Path, since: str | None = None) -> Program | None:
    """Take the program from before the last change of the tables, at a commit where it runs."""
    words = ["git", "log", f"-{COMMITS}", "--format=%H^", "--diff-filter=A", "--", STEPS]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
    for commit in [since] if since else done.stdout.split():
        place = folder / commit.rstrip("^")
        packed = subprocess.run(
            ["git", "archive", commit, "core", "api", "adapters"],
            cwd=ROOT, capture_output=True, check=False,
        )  # fmt: skip
        if packed.returncode:
            return None
        with tarfile.open(fileobj=BytesIO(packed.stdout)) as files:
            # Python before 3.11.4 knows no filter; it is our own archive either way.
            files.extraction_filter = getattr(tarfile, "data_filter", None)
            files.extractall(place)
        program = Program(place)
        if program.runs():
            return program
    return None


def rehearse(folder: Path, earlier: Program, work_s: float) -> dict[str, float]:
    """Go there and back, and there again."""
    present = Program(ROOT)
    home, copies = folder / "home", folder / "copies"
    copies.mkdir()
    token = earlier.token(home)
    kept = earlier.work(home, token, work_s)
    before = _roots(home)
    earlier.call("backup", str(copies), "--home", str(home), "--shop", SHOP)
    begun = time.monotonic()
    later = present.work(home, token, work_s)
    upgraded_s = time.monotonic() - begun - work_s
    lost, corrupt = _compared(home, [*kept.acknowledged, *later.acknowledged])
    is_same = _roots(home, before[0]) == before
    (copy,) = copies.glob("*.db")
    earlier.call("restore", str(copy), "--home", str(home), "--shop", SHOP, "--yes")
    is_same &= _roots(home) == before
    again = earlier.work(home, token, work_s)
    last = present.work(home, token, work_s)
    more = [*kept.acknowledged, *again.acknowledged, *last.acknowledged]
    lost_then, corrupt_then = _compared(home, more)
    is_same &= _roots(home, before[0]) == before
    return {
        "acknowledged": len(more) + len(later.acknowledged),
        "lost": lost + lost_then,
        "corrupt": corrupt + corrupt_then,
        "same_root": int(is_same),
        "given_up": len(later.acknowledged),
        "upgrade_s": round(upgraded_s, 2),
    }


class Program:
    """One version of the program, run from its own source."""

    def __init__(self, source: Path) -> None:
        roots = [str(source / part) for part in ("core", "api", "adapters")]
        self._path = os.pathsep.join(roots)

    def runs(self) -> bool:
        """Whether everything that the drill calls can be imported."""
        names = ("serve", "key", "backup", "restore")
        words = "; ".join(f"import coatledger_api.commands.{name}" for name in names)
        done = subprocess.run(
            [sys.executable, "-c", words], env={**os.environ, "PYTHONPATH": self._path},
            capture_output=True, check=False,
        )  # fmt: skip
        return done.returncode == 0

    def call(self, *words: str) -> str:
        """Run one command, which must succeed."""
        done = subprocess.run(
            [sys.executable, "-c", CALL, *words],
            env={**os.environ, "PYTHONPATH": self._path}, capture_output=True, text=True,
            check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    def token(self, home: Path) -> str:
        """Make a ledger and a key of it."""
        said = self.call("key", "make", "drill", "--home", str(home), "--shop", SHOP)
        found = re.search(r"clk_\w{40,}", said)
        assert found is not None, said
        return found.group()

    def work(self, home: Path, token: str, work_s: float) -> Devices:
        """Serve for so long, with devices that post."""
        port = free_port()
        service = Service(home, None, port, ("-c", CALL, "serve"), {"PYTHONPATH": self._path})
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port))
        try:
            asyncio.run(_for_a_while(devices, work_s))
        finally:
            service.stop()
        assert devices.acknowledged, "nothing was recorded"
        return devices


async def _for_a_while(devices: Devices, work_s: float) -> None:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(work_s)
    devices.stopping = True
    await working


def _compared(home: Path, acknowledged: Sequence[object]) -> tuple[int, int]:
    """Count what a ledger lacks, and what is wrong with it."""
    store = open_store(f"sqlite:///{home / 'ledger.db'}", SHOP)
    try:
        return missing(store, acknowledged), int(bool(faults(store)))  # type: ignore[arg-type]
    finally:
        store.close()


def _roots(home: Path, size: int | None = None) -> tuple[int, bytes]:
    """Work out the root of the first events from their bytes, whatever the tables' version."""
    with sqlite3.connect(home / "ledger.db") as file:
        rows = file.execute("SELECT leaf FROM events ORDER BY position").fetchall()
    file.close()
    leaves = [leaf for (leaf,) in rows][:size]
    frontier: tuple[bytes, ...] = ()
    for number, leaf in enumerate(leaves):
        frontier = append(frontier, number, leaf_hash(leaf))
    return len(leaves), root(frontier)
