"""Small mishaps in one go: a full disk, a clock that jumps, a crowd that follows the feed.

Devices post all the while. What they were told is recorded must be there, and the ledger whole.
The clock is that of the service's process, moved under its feet; the disk is a small one of its
own, where the system lets one be made.
"""

from __future__ import annotations

import argparse
import asyncio
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from _clients import Devices
from _service import SERVE, SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger_adapters.sql_store import open_store
from crowd import follow

DEVICES = 8
WORK_S = 4.0
DISK_MB = 48
READERS, EVENTS, PER_S = 200, 100, 10.0
# A service whose clock goes an hour back, then a day on, then is right again, every second.
JUMPING = """
import itertools, threading, time
import coatledger_api.commands.serve as serving
from datetime import UTC, datetime, timedelta
jumps = itertools.cycle((0, -3600, 86400, 0, -1))
off = [timedelta(0)]
def jump():
    while True:
        time.sleep(0.7)
        off[0] = timedelta(seconds=next(jumps))
threading.Thread(target=jump, daemon=True).start()
class Jumping(datetime):
    @classmethod
    def now(cls, zone=None):
        return datetime.now(zone) + off[0]
serving.datetime = Jumping
from coatledger_api.commands.main import main
main()
"""


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent."""
    parser = argparse.ArgumentParser(prog="scripts/drill mishaps", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--only", choices=MISHAPS, action="append", help="rehearse one of them")
    parser.add_argument("--seconds", type=float, default=WORK_S, help="of work in each, 4")
    asked = parser.parse_args(arguments)
    found: dict[str, float] = {}
    for name in asked.only or MISHAPS:
        with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
            told = MISHAPS[name](Path(folder), asked.seconds)
        if told is None:
            print(f"{name} could not be rehearsed here", file=sys.stderr)
            continue
        found |= {f"{name}_{key}": value for key, value in told.items()}
    for key in ("acknowledged", "lost", "corrupt"):
        found[key] = sum(value for name, value in found.items() if name.endswith(f"_{key}"))
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] or not found["acknowledged"] else 0


def full_disk(folder: Path, work_s: float) -> Mapping[str, float] | None:
    """Fill the ledger's disk under load, then make room again: the service goes on by itself."""
    with _small_disk(folder / "disk") as disk:
        if disk is None:
            return None
        token = key_for(disk)
        with _served(disk) as port:
            devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port))
            refused = asyncio.run(_filled(devices, disk, work_s))
        return {**_counted(disk, devices), "refused": refused}


async def _filled(devices: Devices, disk: Path, work_s: float) -> int:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(work_s / 2)
    ballast = disk / "ballast"
    with suppress(OSError), ballast.open("wb") as file:
        while True:
            file.write(b"x" * 65536)
    await asyncio.sleep(work_s)
    ballast.unlink()
    before = len(devices.acknowledged)
    await asyncio.sleep(work_s / 2)
    devices.stopping = True
    await working
    assert len(devices.acknowledged) > before, "the service did not go on when there was room"
    return devices.refused


def clock_jump(folder: Path, work_s: float) -> Mapping[str, float]:
    """Let the service's clock jump back and forth: positions and times stay in order."""
    token = key_for(folder)
    with _served(folder, ("-c", JUMPING, "serve")) as port:
        # By a clock that is behind, what happened a second ago lies in the future.
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port), again=(409,))
        asyncio.run(_working(devices, work_s))
    store = open_store(f"sqlite:///{folder / 'ledger.db'}", SHOP)
    with store.reading() as reader:
        times = [row.recorded_us for row in reader.rows(0, 1_000_000)]
    store.close()
    counted = _counted(folder, devices)
    counted["corrupt"] += times != sorted(times)
    return {**counted, "refused": devices.refused}


def crowd(folder: Path, work_s: float) -> Mapping[str, float]:
    """Two hundred follow the feed, some cut again and again: each sees each event once."""
    token = key_for(folder, scopes=("record", "read"))
    with _served(folder) as port:
        found = asyncio.run(
            follow(("127.0.0.1", port), token, readers=READERS, events=EVENTS, per_s=PER_S)
        )
    return {
        "acknowledged": found.acknowledged,
        "lost": found.lost,
        "corrupt": found.twice + found.stray,
        "p99_ms": found.p99_ms,
    }


MISHAPS: Mapping[str, Callable[[Path, float], Mapping[str, float] | None]] = {
    "disk": full_disk,
    "clock": clock_jump,
    "crowd": crowd,
}


@contextmanager
def _served(home: Path, program: Sequence[str] = SERVE) -> Iterator[int]:
    port = free_port()
    service = Service(home, None, port, program)
    try:
        yield port
    finally:
        service.stop()


async def _working(devices: Devices, work_s: float) -> None:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(work_s)
    devices.stopping = True
    await working


def _counted(home: Path, devices: Devices) -> dict[str, float]:
    store = open_store(f"sqlite:///{home / 'ledger.db'}", SHOP)
    try:
        return {
            "acknowledged": len(devices.acknowledged),
            "lost": missing(store, devices.acknowledged),
            "corrupt": int(bool(faults(store))),
        }
    finally:
        store.close()


@contextmanager
def _small_disk(folder: Path) -> Iterator[Path | None]:
    """A file system of its own in memory; None where that may not be made."""
    folder.mkdir()
    words = ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", str(folder)]
    try:
        made = subprocess.run(words, check=False, capture_output=True).returncode == 0
    except FileNotFoundError:
        made = False
    try:
        yield folder if made else None
    finally:
        if made:
            subprocess.run(["umount", str(folder)], check=True)
