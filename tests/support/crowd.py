"""A crowd that follows the feed while facts are recorded: does each see each event once, how soon?

All live in one loop on bare sockets. A part of the connections is cut again and again; a reader
goes on after the last message it has seen, as a browser does.
"""

from __future__ import annotations

import asyncio
import math
import random
import time
from datetime import UTC, datetime
from itertools import pairwise
from typing import Any, NamedTuple
from uuid import UUID, uuid4

import msgspec

COMES_WITHIN_S = 30.0
CUTS_A_READER = 3
FULL_WAIT_S = 0.05


class Followed(NamedTuple):
    """What became of the facts: `lost` and `twice` count events times readers, `stray` out of
    order."""

    acknowledged: int
    readers: int
    lost: int
    twice: int
    stray: int
    cuts: int
    p50_ms: float
    p99_ms: float


class _Reader:
    """One follower of the feed."""

    def __init__(self, address: tuple[str, int], token: str, *, is_cut: bool, seed: int) -> None:
        self._address = address
        self._token = token
        self._chance = random.Random(seed) if is_cut else None
        self._last: str | None = None
        self.cuts = 0
        self.seen: list[tuple[int, float]] = []
        self.connected = asyncio.Event()

    async def follow(self) -> None:
        """Read until cancelled."""
        while True:
            reader, writer = await asyncio.open_connection(*self._address)
            try:
                await self._read(reader, writer)
            except (ConnectionError, asyncio.IncompleteReadError):
                pass
            finally:
                writer.close()

    async def _read(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        last = "" if self._last is None else f"Last-Event-ID: {self._last}\r\n"
        writer.write(
            f"GET /v1/events/stream HTTP/1.1\r\nHost: shop\r\n{last}"
            f"Authorization: Bearer {self._token}\r\n\r\n".encode()
        )
        head = await reader.readuntil(b"\r\n\r\n")
        if head.startswith(b"HTTP/1.1 429 "):  # its own cut stream is still being given back
            await asyncio.sleep(FULL_WAIT_S)
            return
        assert head.startswith(b"HTTP/1.1 200 "), head
        while line := await reader.readline():
            if line.startswith(b"retry: "):
                self.connected.set()
            elif line.startswith(b"id: "):
                cursor = line[4:].strip().decode()
                self.seen.append((int(cursor.rpartition(".")[2]), time.monotonic()))
                self._last = cursor
                if self._is_cut_now():
                    return

    def _is_cut_now(self) -> bool:
        if self._chance is None or self.cuts >= CUTS_A_READER or self._chance.random() > 0.1:
            return False
        self.cuts += 1
        return True


async def follow(
    address: tuple[str, int], token: str, *, readers: int, events: int, per_s: float,
    cut_share: float = 0.1, comes_within_s: float = COMES_WITHIN_S,
) -> Followed:  # fmt: skip
    """Let so many readers follow while so many facts are recorded, one after another."""
    crowd = [
        _Reader(address, token, is_cut=number < readers * cut_share, seed=number)
        for number in range(readers)
    ]
    following = [asyncio.ensure_future(one.follow()) for one in crowd]
    try:
        await asyncio.gather(*(one.connected.wait() for one in crowd))
        sent = await _record(address, token, events, per_s)
        ends = time.monotonic() + comes_within_s
        while time.monotonic() < ends and any(len(one.seen) < len(sent) for one in crowd):
            await asyncio.sleep(0.05)
        await asyncio.sleep(0.2)  # what came twice would come now
    finally:
        for task in following:
            task.cancel()
        ended = await asyncio.gather(*following, return_exceptions=True)
    broken = [one for one in ended if not isinstance(one, asyncio.CancelledError)]
    assert not broken, broken[0]
    return _counted(crowd, sent)


async def _record(
    address: tuple[str, int], token: str, events: int, per_s: float
) -> dict[int, float]:
    """Record facts in a steady rhythm; return when each position was sent."""
    reader, writer = await asyncio.open_connection(*address)
    sent: dict[int, float] = {}
    begun = time.monotonic()
    for number in range(events):
        await asyncio.sleep(max(0.0, begun + number / per_s - time.monotonic()))
        body = msgspec.json.encode(_fact(number))
        at = time.monotonic()
        writer.write(
            f"POST /v1/events HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer {token}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n".encode()
            + body
        )
        head = (await reader.readuntil(b"\r\n\r\n")).lower()
        length = int(head.partition(b"content-length: ")[2].partition(b"\r\n")[0])
        told = msgspec.json.decode(await reader.readexactly(length))
        assert head.startswith(b"http/1.1 201 "), told
        sent[told["events"][0]["position"]] = at
    writer.close()
    return sent


def _fact(number: int) -> dict[str, Any]:
    now = datetime.now(UTC)
    low = uuid4().int & ((1 << 62) - 1)
    id_ = UUID(int=int(now.timestamp() * 1000) << 80 | 7 << 76 | 2 << 62 | low)
    return {"type": "lot_stirred", "id": id_, "occurred_at": now, "lot": f"can-{number % 20}"}


def _counted(crowd: list[_Reader], sent: dict[int, float]) -> Followed:
    waits: list[float] = []
    lost = twice = stray = 0
    for one in crowd:
        positions = [position for position, _ in one.seen if position in sent]
        lost += len(sent) - len(set(positions))
        twice += len(positions) - len(set(positions))
        stray += sum(b <= a for a, b in pairwise(positions))
        waits += [at - sent[position] for position, at in one.seen if position in sent]
    waits.sort()
    return Followed(
        acknowledged=len(sent),
        readers=len(crowd),
        lost=lost,
        twice=twice,
        stray=stray,
        cuts=sum(one.cuts for one in crowd),
        p50_ms=_share(waits, 0.5),
        p99_ms=_share(waits, 0.99),
    )


def _share(waits: list[float], share: float) -> float:
    if not waits:
        return math.inf
    return round(waits[min(len(waits) - 1, int(len(waits) * share))] * 1000, 1)
