"""PostgreSQL restarted and killed under load: the service goes on by itself, with nothing lost.

One server of our own on loopback, one service on it. Each round the server is stopped in good order
or killed, in turns, and started again on its data; the service and its devices are left alone.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from _clients import Devices
from _service import SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger_adapters.sql_store import open_store
from postgres_server import Server, why_missing

DEVICES = 8
ROUNDS = 4
WORK_S = 2.0
GOES_ON_WITHIN_S = 30.0


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent."""
    parser = argparse.ArgumentParser(prog="scripts/drill restart", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help=f"restarts, {ROUNDS}")
    asked = parser.parse_args(arguments)
    if says := why_missing():
        parser.error(says)
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        found = rehearse(Path(folder), asked.rounds)
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] else 0


def rehearse(home: Path, rounds: int) -> dict[str, float]:
    """Restart the server so many times, killing it every second time."""
    server = Server()
    service: Service | None = None
    try:
        database = server.new_database()
        token = key_for(home, database)
        port = free_port()
        service = Service(home, database, port)
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", port))
        longest_s = asyncio.run(_restarted(devices, server, rounds))
        service.stop()
        store = open_store(database, SHOP)
        try:
            return {
                "rounds": rounds,
                "acknowledged": len(devices.acknowledged),
                "lost": missing(store, devices.acknowledged),
                "corrupt": int(bool(faults(store))),
                "longest_pause_s": round(longest_s, 2),
            }
        finally:
            store.close()
    finally:
        if service is not None:
            service.stop()
        server.stop()


async def _restarted(devices: Devices, server: Server, rounds: int) -> float:
    """Return the longest time from a server's end to the next fact acknowledged."""
    working = asyncio.create_task(devices.work())
    longest_s = 0.0
    for number in range(rounds):
        await asyncio.sleep(WORK_S)
        ended = time.monotonic()
        await asyncio.to_thread(server.kill if number % 2 else server.halt)
        down = time.monotonic()
        await asyncio.to_thread(server.start)
        while devices.last_s < down:
            assert not working.done(), working.exception()
            assert time.monotonic() - ended < GOES_ON_WITHIN_S, "the service did not go on"
            await asyncio.sleep(0.01)
        longest_s = max(longest_s, devices.last_s - ended)
    await asyncio.sleep(WORK_S / 2)
    devices.stopping = True
    await working
    return longest_s
