"""The service killed over and over in the middle of its work: what it acknowledged is there."""

from __future__ import annotations

import argparse
import asyncio
import random
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from _clients import Devices
from _service import SERVE, SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger_adapters.sql_store import open_store

DEVICES = 16
ROUNDS = 100
WORK_S = (0.5, 2.0)


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent."""
    parser = argparse.ArgumentParser(prog="scripts/drill kill", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help=f"kills, {ROUNDS} if not given")
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        found = rehearse(Path(folder), asked.rounds)
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] else 0


def rehearse(home: Path, rounds: int, program: Sequence[str] = SERVE) -> dict[str, int]:
    """Kill the service so many times; `program` is how it is started."""
    token = key_for(home, None)
    chance = random.Random(1)
    acknowledged = lost = corrupt = 0
    for _ in range(rounds):
        port = free_port()
        service = Service(home, None, port, program)
        devices = Devices(DEVICES, token, partial(_address, port))
        asyncio.run(_work_until_killed(devices, service, chance.uniform(*WORK_S)))
        store = open_store(f"sqlite:///{home / 'ledger.db'}", SHOP)
        try:
            acknowledged += len(devices.acknowledged)
            lost += missing(store, devices.acknowledged)
            corrupt += bool(faults(store))
        finally:
            store.close()
    return {"rounds": rounds, "acknowledged": acknowledged, "lost": lost, "corrupt": corrupt}


def _address(port: int) -> tuple[str, int]:
    return "127.0.0.1", port


async def _work_until_killed(devices: Devices, service: Service, work_s: float) -> None:
    working = asyncio.create_task(devices.work())
    await asyncio.sleep(work_s)
    # In a thread, so that devices go on sending and reading to the last moment.
    await asyncio.to_thread(service.kill)
    devices.stopping = True
    await working
