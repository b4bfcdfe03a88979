"""The primary PostgreSQL killed under load: its synchronous standby takes over with nothing lost.

Two servers of our own on loopback, two processes of the service on them. The services are told of
both servers and find the one that may be written by themselves; nothing is started again.
"""

from __future__ import annotations

import argparse
import asyncio
import subprocess
import tempfile
import time
from collections.abc import Sequence
from itertools import count
from pathlib import Path

import psycopg
from _clients import Devices
from _service import SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger_adapters.sql_store import open_store
from postgres_server import Server, why_missing

DEVICES = 16
EVENTS = 10_000
ATTACHED_WITHIN_S = 30.0


class Standby(Server):
    """A copy of a running server that follows it."""

    def __init__(self, primary: Server) -> None:
        self._primary = primary
        # Its own list of standbys is empty: else it would wait for one at its first write.
        super().__init__("synchronous_standby_names=")

    def promote(self) -> None:
        """Let it take over."""
        with psycopg.connect(self._dsn("postgres"), autocommit=True) as connection:
            connection.execute("SELECT pg_promote()")

    def cut_off(self) -> None:
        """Follow no longer."""
        with psycopg.connect(self._dsn("postgres"), autocommit=True) as connection:
            connection.execute("ALTER SYSTEM SET primary_conninfo = ''")
            connection.execute("SELECT pg_reload_conf()")

    def _make_roles(self) -> None:
        """What follows is written by the primary alone."""

    def _make_data(self) -> None:
        subprocess.run(
            [str(self._bin / "pg_basebackup"), "-D", str(self.data), "-h", "127.0.0.1",
             "-p", str(self._primary.port), "-U", "postgres", "-R", "-X", "stream",
             "--checkpoint=fast"],
            check=True, cwd="/", user=self._who, stdout=subprocess.DEVNULL,
        )  # fmt: skip


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or bent."""
    parser = argparse.ArgumentParser(prog="scripts/drill standby", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument(
        "--events", type=int, default=EVENTS, help=f"acknowledged before the kill, {EVENTS}"
    )
    asked = parser.parse_args(arguments)
    if says := why_missing():
        parser.error(says)
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        found = rehearse(Path(folder), asked.events)
    tell(found, as_json=asked.json)
    return 1 if found["lost"] or found["corrupt"] else 0


def rehearse(home: Path, events: int, *, synchronous: bool = True) -> dict[str, float]:
    """Kill the primary once so many events are acknowledged; without `synchronous` it does not wait
    for the standby, which hears nothing any more."""
    primary = Server()
    standby: Standby | None = None
    services: list[Service] = []
    try:
        database = primary.new_database()
        token = key_for(home, database)
        standby = Standby(primary)
        if synchronous:
            _wait_for_each_commit(primary)
        else:
            standby.cut_off()
        name = database.rsplit("/", 1)[1]
        both = (
            f"postgresql://postgres@/{name}?host=127.0.0.1:{primary.port}"
            f"&host=127.0.0.1:{standby.port}&target_session_attrs=read-write"
        )
        ports = [free_port(), free_port()]
        services = [Service(home, both, port) for port in ports]
        turns = count()
        devices = Devices(DEVICES, token, lambda: ("127.0.0.1", ports[next(turns) % len(ports)]))
        first_write_s = asyncio.run(_fail_over(devices, events, primary, standby))
        for service in services:
            service.stop()
        return _counted(f"postgresql://postgres@127.0.0.1:{standby.port}/{name}", devices,
                        first_write_s)  # fmt: skip
    finally:
        for service in services:
            service.stop()
        if standby is not None:
            standby.stop()
        primary.stop()


def _wait_for_each_commit(primary: Server) -> None:
    """Acknowledge nothing any more that the standby has not written down."""
    with psycopg.connect(primary._dsn("postgres"), autocommit=True) as connection:
        connection.execute("ALTER SYSTEM SET synchronous_standby_names = '*'")
        connection.execute("SELECT pg_reload_conf()")
        ends = time.monotonic() + ATTACHED_WITHIN_S
        while time.monotonic() < ends:
            asked = connection.execute("SELECT sync_state FROM pg_stat_replication").fetchall()
            if asked == [("sync",)]:
                return
            time.sleep(0.05)
    raise AssertionError("the standby did not attach")


async def _fail_over(devices: Devices, events: int, primary: Server, standby: Standby) -> float:
    """Return the seconds from the kill to the first fact acknowledged by the new primary."""
    working = asyncio.create_task(devices.work())
    while len(devices.acknowledged) < events:
        assert not working.done(), working.exception()
        await asyncio.sleep(0.02)
    killed = time.monotonic()
    await asyncio.to_thread(primary.kill)
    before = time.monotonic()
    await asyncio.to_thread(standby.promote)
    while devices.last_s < before:
        assert not working.done(), working.exception()
        assert time.monotonic() - killed < 60.0, "nobody could write any more"
        await asyncio.sleep(0.005)
    first_write_s: float = devices.last_s - killed
    await asyncio.sleep(0.5)
    devices.stopping = True
    await working
    return first_write_s


def _counted(address: str, devices: Devices, first_write_s: float) -> dict[str, float]:
    store = open_store(address, SHOP)
    try:
        return {
            "acknowledged": len(devices.acknowledged),
            "lost": missing(store, devices.acknowledged),
            "corrupt": int(bool(faults(store))),
            "first_write_s": round(first_write_s, 2),
        }
    finally:
        store.close()
