"""A new version works all folds anew beside the old one, under steady appends, and takes its place.

Two processes on one PostgreSQL: the old program serves, the next one, which folds pieces otherwise,
starts. Until it has taken over the old one must record everything in good time; then it refuses,
and the devices go to the new one. Nothing is lost, the counts are what a recount says, and the
receiver of a webhook is told each shipment once.
"""

from __future__ import annotations

import argparse
import asyncio
import statistics
import tempfile
import time
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from typing import NamedTuple
from unittest.mock import patch
from uuid import UUID

import httpx
import msgspec
from _clients import stirred
from _service import SHOP, Service, faults, free_port, key_for, missing, tell
from coatledger.events.bare import PieceStarted
from coatledger.events.catalogue import AnyEvent
from coatledger.events.leaving import Shipped
from coatledger.recording.at_hand import AtHand
from coatledger.recording.session import Request, Session
from coatledger.subjects.registry import FOLDS
from coatledger_adapters.keys import SCOPES
from coatledger_adapters.sql_store import SqlStore, open_store
from long_history import Ids, history
from postgres_server import Server, why_missing
from receiver import Listening, receiving

EVENTS, PER_S, DEVICES = 400_000, 100.0, 10
EVENTS_MAX = 600_000  # further on the invented history lies in the future
AT_ONCE, EVERY_TELLS = 1_000, 10
STEADY_S, PAUSE_S = 3.0, 0.02
NEXT = """
from coatledger.subjects.registry import FOLDS
now = FOLDS["piece"]
FOLDS["piece"] = now._replace(version=now.version + 1, shelf=lambda piece: f"new-{piece.stage}")
from coatledger_api.commands.main import main
main()
"""


class Posted(NamedTuple):
    """One fact acknowledged: when it was first sent, how long until the answer, and by whom."""

    ids: Sequence[UUID]
    at_s: float
    took_ms: float
    by_new: bool


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost, bent, refused or told twice."""
    parser = argparse.ArgumentParser(prog="scripts/drill rebuild", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--events", type=int, default=EVENTS, help="there before, 400,000")
    asked = parser.parse_args(arguments)
    if says := why_missing():
        parser.error(says)
    if asked.events > EVENTS_MAX:
        parser.error(f"at most {EVENTS_MAX:,} events")
    with tempfile.TemporaryDirectory(prefix="coatledger-drill-") as folder:
        found = rehearse(Path(folder), asked.events)
    tell(found, as_json=asked.json)
    bad = ("lost", "corrupt", "refused_before", "told_twice", "untold")
    return 1 if any(found[name] for name in bad) else 0


def rehearse(home: Path, events: int, program: str = NEXT) -> Mapping[str, float]:
    """Fill a ledger, serve it by the old program, and start the next one under load."""
    server = Server()
    try:
        database = server.new_database()
        token = key_for(home, database, SCOPES)
        _filled(database, events)
        with receiving() as receiver:
            steady = _Steady(token)
            taken_s = asyncio.run(_taken_over(home, database, steady, receiver, program))
        # What is compared must be folded as the next program does.
        now = FOLDS["piece"]
        later = now._replace(version=now.version + 1, shelf=lambda piece: f"new-{piece.stage}")
        with patch.dict(FOLDS, piece=later):
            store = open_store(database, SHOP)
            try:
                lost = missing(store, [id_ for one in steady.posted for id_ in one.ids])
                corrupt = int(bool(faults(store)))
            finally:
                store.close()
    finally:
        server.stop()
    return {**steady.measured(), "lost": lost, "corrupt": corrupt, "rebuild_s": round(taken_s, 1),
            **_told(steady, receiver)}  # fmt: skip


async def _taken_over(
    home: Path, database: str, steady: _Steady, receiver: Listening, program: str
) -> float:
    """Return how long the next program took to serve."""
    more = {"COATLEDGER_WEBHOOK_HOSTS": receiver.host}
    ports = free_port(), free_port()
    old = await asyncio.to_thread(Service, home, database, ports[0], more=more)
    services = [old]
    try:
        _webhook(ports[0], steady.token, receiver.url)
        working = asyncio.create_task(steady.work(ports))
        await asyncio.sleep(STEADY_S)
        steady.begun_s = time.monotonic()
        words = ("-c", program, "serve")
        services.append(await asyncio.to_thread(Service, home, database, ports[1], words, more))
        taken_s = time.monotonic() - steady.begun_s
        await asyncio.sleep(STEADY_S)
        steady.stopping = True
        await working
        wanted = sum(len(one.ids) == 2 for one in steady.posted)
        ends = time.monotonic() + 20
        while len(set(receiver.ids())) < wanted and time.monotonic() < ends:
            await asyncio.sleep(0.1)
        return taken_s
    finally:
        for service in services:
            await asyncio.to_thread(service.stop)


class _Steady:
    """Devices that keep a rhythm whatever the answers are; a fact is sent until it is taken."""

    def __init__(self, token: str) -> None:
        self.token = token
        self.posted: list[Posted] = []
        self.refused: list[tuple[float, int]] = []
        self.begun_s = 0.0
        self.stopping = False
        self._new = False
        self._made = 0

    async def work(self, ports: tuple[int, int]) -> None:
        """Post to the old program, and once it says that it is outdated, to the new one."""
        urls = [f"http://127.0.0.1:{port}/v1/events" for port in ports]
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        async with httpx.AsyncClient(headers=headers, timeout=60) as client:
            devices = (self._device(client, urls, number) for number in range(DEVICES))
            await asyncio.gather(*devices)

    async def _device(self, client: httpx.AsyncClient, urls: Sequence[str], number: int) -> None:
        wanted = time.monotonic() + number / PER_S
        while not self.stopping:
            await asyncio.sleep(max(0.0, wanted - time.monotonic()))
            facts = self._facts(number)
            body = facts[0] if len(facts) == 1 else {"type": "batch", "events": facts}
            told = msgspec.json.encode(body)
            while True:
                is_new = self._new
                try:
                    answer = await client.post(urls[is_new], content=told)
                    status = answer.status_code
                except httpx.TransportError:
                    status = 0
                if status in (200, 201):
                    break
                self.refused.append((time.monotonic(), status))
                # Only who has been overtaken says so; the new one may not listen yet.
                self._new = not is_new
                await asyncio.sleep(PAUSE_S)
            took_ms = (time.monotonic() - wanted) * 1000
            ids = [fact.id for fact in facts]
            self.posted.append(Posted(ids, wanted, took_ms, is_new))
            wanted += DEVICES / PER_S

    def _facts(self, number: int) -> Sequence[AnyEvent]:
        """A can is stirred; now and then a piece is begun and shipped, which is told outside."""
        self._made += 1
        fact, other = stirred(number), stirred(number)
        if self._made % EVERY_TELLS:
            return (fact,)
        pieces = (f"N-{self._made}",)
        return (
            PieceStarted(
                id=fact.id, occurred_at=fact.occurred_at, pieces=pieces, kind="shelf",
                species="ash", coat_area_m2=0.5, use="shelf",
            ),
            Shipped(id=other.id, occurred_at=other.occurred_at, pieces=pieces),
        )  # fmt: skip

    def measured(self) -> Mapping[str, float]:
        """What the appends met while the next program worked, and in the moment it took over."""
        first_new = min((one.at_s for one in self.posted if one.by_new), default=0.0)
        during = [p.took_ms for p in self.posted if not p.by_new and p.at_s >= self.begun_s]
        return {
            "acknowledged": len(self.posted),
            "refused_before": sum(at < first_new for at, _ in self.refused),
            "appends_during": len(during),
            "append_p50_ms": round(statistics.median(during), 1),
            "append_p99_ms": round(statistics.quantiles(during, n=100)[-1], 1),
            "longest_wait_ms": round(max(one.took_ms for one in self.posted)),
        }


def _told(steady: _Steady, receiver: Listening) -> Mapping[str, float]:
    """Compare what was acknowledged as shipped with what the receiver got."""
    shipped = sum(len(one.ids) == 2 for one in steady.posted)
    ids = receiver.ids()
    return {
        "told": len(set(ids)),
        "told_twice": len(ids) - len(set(ids)),
        "untold": shipped - len(set(ids)),
    }


def _webhook(port: int, token: str, url: str) -> None:
    answer = httpx.post(
        f"http://127.0.0.1:{port}/v1/webhooks",
        headers={"Authorization": f"Bearer {token}"},
        json={"label": "drill", "url": url, "kinds": ["shipped"]},
    )
    assert answer.status_code == 201, answer.text


def _filled(database: str, events: int) -> None:
    store: SqlStore = open_store(database, SHOP)
    stream, at_hand = iter(history(events, Ids())), AtHand()
    try:
        while some := tuple(islice(stream, AT_ONCE)):
            _record(store, some, at_hand)
    finally:
        store.close()


def _record(store: SqlStore, some: Iterable[AnyEvent], at_hand: AtHand) -> None:
    facts = tuple(some)
    with store.writing() as writer:
        session = Session(writer, SHOP, datetime.now(UTC), lambda: bytes(16), at_hand)
        session.take(Request(events=facts, by="drill"))
        writer.write(session.changes())
    session.written()
