"""A slow disk: each sync takes 30 to 500 milliseconds, and then the service is killed.

Its own calls are held up as they enter the kernel, by `strace`. One device taps and posts batches,
then many post at once until the process is killed in the middle: what was acknowledged is there,
and nothing was acknowledged sooner than a sync takes.
"""

from __future__ import annotations

import argparse
import asyncio
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from uuid import UUID

import httpx
import msgspec
from _clients import Devices, stirred
from _service import SERVE, SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger_adapters.sql_store import open_store

DEVICES = 16
DELAYS_MS = (30, 200, 500)
TAPS, BATCHES, BATCH = 40, 10, 50
WORK_S = 5.0
SETTLED_S = 3.0
# The service is the process itself, and who holds up its calls is beside it: a signal gets there.
HELD_UP = """
import os, sys
delay_us, *program = sys.argv[1:]
calls = "fsync,fdatasync"
os.execvp("strace", ["strace", "-D", "-f", "-qq", "--seccomp-bpf", "-o", os.devnull,
    "-e", f"trace={calls}", "-e", f"inject={calls}:delay_enter={delay_us}",
    sys.executable, *program])
"""


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost, bent or acknowledged too early."""
    parser = argparse.ArgumentParser(prog="scripts/drill slow", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--delay-ms", type=int, action="append", help="of each sync; 30, 200, 500")
    parser.add_argument("--seconds", type=float, default=WORK_S, help="of work by many, 5")
    asked = parser.parse_args(arguments)
    if says := why_missing():
        print(says, file=sys.stderr)
        return 77
    found: dict[str, float] = {}
    for delay_ms in asked.delay_ms or DELAYS_MS:
        with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
            told = rehearse(Path(folder), delay_ms, asked.seconds)
        found |= {f"{delay_ms}_ms_{key}": value for key, value in told.items()}
    for key in ("acknowledged", "lost", "corrupt", "too_early"):
        found[key] = sum(value for name, value in found.items() if name.endswith(f"_{key}"))
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] or found["too_early"] else 0


def why_missing() -> str | None:
    """Say why no call can be held up here, or None."""
    if shutil.which("strace") is None:
        return "no slow disk: strace is not installed"
    done = subprocess.run(["strace", "-qq", "-o", "/dev/null", "true"], check=False)
    return "no slow disk: this system lets no process be traced" if done.returncode else None


def rehearse(
    folder: Path, delay_ms: int, work_s: float, program: Sequence[str] = SERVE
) -> Mapping[str, float]:
    """Serve from such a disk, post, and kill."""
    token = key_for(folder)
    port = free_port()
    service = Service(folder, None, port, ("-c", HELD_UP, str(delay_ms * 1000), *program))
    try:
        time.sleep(SETTLED_S)  # what a start costs is not asked here
        with httpx.Client(
            base_url=f"http://127.0.0.1:{port}", headers={"Authorization": f"Bearer {token}"},
            timeout=60,
        ) as client:  # fmt: skip
            taps = [_posted_ms(client, 1) for _ in range(TAPS)]
            batches = [_posted_ms(client, BATCH) for _ in range(BATCHES)]
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port))
        asyncio.run(_killed(devices, service, work_s))
    finally:
        service.stop()
    kept = [*devices.acknowledged, *(fact for _, facts in (*taps, *batches) for fact in facts)]
    store = open_store(f"sqlite:///{folder / 'ledger.db'}", SHOP)
    try:
        return {
            "acknowledged": len(kept),
            "lost": missing(store, kept),
            "corrupt": int(bool(faults(store))),
            "too_early": sum(ms < delay_ms for ms, _ in (*taps, *batches)),
            "refused": devices.refused,
            "tap_p95_ms": _p95([ms for ms, _ in taps]),
            "batch_p95_ms": _p95([ms for ms, _ in batches]),
        }
    finally:
        store.close()


def _posted_ms(client: httpx.Client, count: int) -> tuple[float, Sequence[UUID]]:
    """Post facts at once; return how long the answer took, and what it acknowledged."""
    facts = [stirred(n) for n in range(count)]
    body = facts[0] if count == 1 else {"type": "batch", "events": facts}
    begun = time.monotonic()
    answer = client.post(
        "/v1/events", content=msgspec.json.encode(body),
        headers={"Content-Type": "application/json"},
    )  # fmt: skip
    took_ms = (time.monotonic() - begun) * 1000
    assert answer.status_code == 201, answer.text
    return took_ms, [fact.id for fact in facts]


async def _killed(devices: Devices, service: Service, work_s: float) -> None:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(work_s)
    service.kill()
    devices.stopping = True
    await working


def _p95(times: Sequence[float]) -> float:
    return round(statistics.quantiles(times, n=20)[-1], 1)
