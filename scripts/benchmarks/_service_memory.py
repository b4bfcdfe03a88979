"""Whether a service under steady mixed load grows: its memory at the end and a tenth of the way.

Eight clients keep a rhythm of a hundred requests a second: facts, batches, one piece, lists, clocks
and the feed. What is compared is the resident memory, the middle of several looks each time.
"""

from __future__ import annotations

import asyncio
import random
import re
import statistics
import time
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import msgspec
from _ledger_world import new_id

CLIENTS = 8
PER_S = 100.0
LOOKS = 9
LOOKING_S = 4.0


class Growth(NamedTuple):
    """What the load came to."""

    growth: float
    early_mb: float
    late_mb: float
    answered: int
    failed: int


def memory_mb(pid: int) -> float:
    """Return the resident memory of a process, as Linux tells it."""
    told = Path(f"/proc/{pid}/status").read_text("ascii")
    found = re.search(r"VmRSS:\s+(\d+) kB", told)
    assert found is not None
    return int(found[1]) / 1024


async def growth(pid: int, address: tuple[str, int], token: str, minutes: float) -> Growth:
    """Load a running service for so many minutes."""
    begun = time.monotonic()
    ends = begun + minutes * 60
    clients = [_Client(address, token, number) for number in range(CLIENTS)]
    working = [asyncio.ensure_future(client.work(ends)) for client in clients]
    early = await _look(pid, begun + minutes * 6)
    late = await _look(pid, ends - LOOKING_S - 0.5)
    await asyncio.gather(*working)
    return Growth(
        growth=late / early,
        early_mb=early,
        late_mb=late,
        answered=sum(client.answered for client in clients),
        failed=sum(client.failed for client in clients),
    )


async def _look(pid: int, at: float) -> float:
    await asyncio.sleep(max(0.0, at - time.monotonic()))
    seen = []
    for _ in range(LOOKS):
        seen.append(memory_mb(pid))
        await asyncio.sleep(LOOKING_S / LOOKS)
    return statistics.median(seen)


class _Client:
    """One client with a connection and pieces of its own."""

    def __init__(self, address: tuple[str, int], token: str, number: int) -> None:
        self._address = address
        self._token = token
        self._number = number
        self._chance = random.Random(number)
        self.answered = 0
        self.failed = 0

    async def work(self, ends: float) -> None:
        """Ask in a rhythm until the end."""
        reader, writer = await asyncio.open_connection(*self._address)
        wanted = time.monotonic()
        for request in self._requests():
            wanted += CLIENTS / PER_S
            if max(wanted, time.monotonic()) >= ends:
                break
            await asyncio.sleep(max(0.0, wanted - time.monotonic()))
            writer.write(request)
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            length = int(head.partition(b"content-length: ")[2].partition(b"\r\n")[0] or b"0")
            await reader.readexactly(length)
            self.answered += 1
            self.failed += head[9:10] != b"2"
        writer.close()

    def _requests(self) -> Iterator[bytes]:
        made = 0
        while True:
            pieces = [f"M{self._number}-{made}-{i}" for i in range(3)]
            made += 1
            yield self._post(_fact("piece_started", pieces=pieces, kind="shelf",
                                   species="white-oak", coat_area_m2=0.8, use="shelf"))  # fmt: skip
            for _ in range(3):
                yield self._post(_fact("coat_applied", pieces=pieces, lot=f"can-{made % 40}"))
                yield self._get(f"/v1/pieces/{self._chance.choice(pieces)}")
                yield self._get("/v1/clocks?room=spray")
                yield self._get("/v1/events?limit=50")
            many = [_fact("lot_stirred", lot=f"can-{n}") for n in range(20)]
            yield self._post({"type": "batch", "events": many})
            yield self._get("/v1/pieces?limit=20")
            yield self._post(_fact("shipped", pieces=pieces))

    def _get(self, path: str) -> bytes:
        return (
            f"GET {path} HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer {self._token}\r\n\r\n"
        ).encode()

    def _post(self, body: Mapping[str, object]) -> bytes:
        told = msgspec.json.encode(body)
        return (
            f"POST /v1/events HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer {self._token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(told)}\r\n\r\n"
        ).encode() + told


def _fact(tag: str, **fields: object) -> Mapping[str, object]:
    now = datetime.now(UTC)
    return {"type": tag, "id": new_id(now), "occurred_at": now, **fields}
