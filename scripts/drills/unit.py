"""The systemd unit: how exposed it leaves a service, and whether the service lives within it.

systemd itself is not started: `systemd-analyze` judges the file, and `strace` writes down what a
service calls the kernel for. What the unit does not let through is then made to fail, as it would
there, and the service must answer all the same.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import httpx
from _clients import Devices
from _service import SERVE, SHOP, Service, free_port, key_for, tell
from coatledger_adapters.keys import SCOPES
from coatledger_api.compiling import PLACE

UNIT = Path(__file__).resolve().parents[1] / "operate" / "coatledger.service"
EXPOSURE_MAX = 3.0
DEVICES, WORK_S = 4, 3.0
PROGRAM = "from coatledger_api.commands.main import main; main()"
# One of each kind of work: lists, numbers, a picture, a simulation, a signature, a page, a table.
ASKED = (
    "/v1/clocks", "/v1/day-plan", "/v1/rework", "/v1/flow?format=png", "/v1/pieces", "/v1/events",
    "/v1/promises", "/v1/checkpoint", "/health/ready", "/wall",
    "/v1/tables/coats?format=parquet", "/docs",
)  # fmt: skip
WRITTEN = """
import os, sys
told, stopped, *program = sys.argv[1:]
failing = ["-e", f"inject={stopped}:error=EPERM"] if stopped else []
os.execvp("strace", ["strace", "-D", "-f", "-qq", "-o", told, *failing, sys.executable, *program])
"""


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when the unit is too open, or stops what the service does."""
    parser = argparse.ArgumentParser(prog="scripts/drill unit", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    asked = parser.parse_args(arguments)
    if says := why_missing():
        print(says, file=sys.stderr)
        return 77
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        free = worked(Path(folder) / "free")
        stopped = free.calls - allowed(UNIT.read_text("utf-8"))
        held = worked(Path(folder) / "held", stopped)
    if stopped:
        print(f"the unit does not let through: {', '.join(sorted(stopped))}", file=sys.stderr)
    found = {
        "exposure": exposure(),
        "calls": len(free.calls),
        "calls_stopped": len(stopped),
        "answers_changed": sum(a != b for a, b in zip(free.told, held.told, strict=True)),
    }
    tell(found, as_json=asked.json)
    return 1 if found["answers_changed"] or found["exposure"] > EXPOSURE_MAX else 0


def why_missing() -> str | None:
    """Say what is not installed that this needs, or None."""
    lacking = [name for name in ("strace", "systemd-analyze") if shutil.which(name) is None]
    return f"the unit is not judged: {' and '.join(lacking)} missing" if lacking else None


def exposure() -> float:
    """How exposed systemd says the unit leaves the service: 0 is sealed, 10 is open."""
    words = ["systemd-analyze", "security", "--offline=true", "--no-pager", str(UNIT)]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    (level,) = re.findall(r"Overall exposure level for \S+: ([\d.]+)", said)
    return float(level)


def allowed(unit: str) -> frozenset[str]:
    """Return the calls that a unit's filters let through: what is named, less what follows a ~."""
    let: set[str] = set()
    for words in re.findall(r"^SystemCallFilter=(.*)$", unit, re.MULTILINE):
        named = {call for word in words.removeprefix("~").split() for call in _calls(word)}
        let = let - named if words.startswith("~") else let | named
    return frozenset(let)


class Worked(NamedTuple):
    """The calls that a service made of the kernel, and the statuses it answered with."""

    calls: frozenset[str]
    told: Sequence[int]


def worked(home: Path, stopped: frozenset[str] = frozenset()) -> Worked:
    """Let a service work for a while; calls that are stopped fail, as they would in the unit."""
    home.mkdir()
    token = key_for(home, scopes=SCOPES)
    port, told = free_port(), home / "calls"
    more = {PLACE: str(home / "compiled"), "COATLEDGER_LOG": "json"}
    program = ("-c", WRITTEN, str(told), ",".join(sorted(stopped)), *SERVE)
    service = Service(home, None, port, program, more)
    try:
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port))
        asyncio.run(_posted(devices))
        head = {"Authorization": f"Bearer {token}"}
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", headers=head, timeout=300) as client:
            statuses = [client.get(path).status_code for path in ASKED]
        copied = ["backup", str(home / "copies"), "--home", str(home), "--shop", SHOP]
        subprocess.run([sys.executable, "-c", PROGRAM, *copied], check=True, capture_output=True)
    finally:
        service.stop()
    assert devices.acknowledged
    assert max(statuses) < 500, statuses
    made = re.findall(r"^\d+ +(\w+)\(", told.read_text("utf-8", "replace"), re.MULTILINE)
    return Worked(frozenset(made), statuses)


def _calls(word: str) -> Iterator[str]:
    """Yield the calls of a set of systemd's, those of sets within it too, or a call itself."""
    if not word.startswith("@"):
        yield word
        return
    words = ["systemd-analyze", "syscall-filter", "--no-pager", word]
    said = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    for one in re.findall(r"^    ([@\w-]+)$", said, re.MULTILINE):
        yield from _calls(one)


async def _posted(devices: Devices) -> None:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(WORK_S)
    devices.stopping = True
    await working
