"""Devices that post facts one after another until each is acknowledged, whatever happens meanwhile.

A fact counts as acknowledged when its answer was read whole and says 200 or 201. What was sent and
not answered is sent again with the same id, as a device does.
"""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import msgspec
from coatledger.events.catalogue import AnyEvent
from coatledger.events.finish import LotStirred

PAUSE_S = 0.05
ANSWER_WITHIN_S = 10.0


class Devices:
    """So many devices of one shop. `address` tells where the service is just now; what is refused
    with a status of `again` may be right later and is sent again, as after a failure."""

    def __init__(
        self, count: int, token: str, address: Callable[[], tuple[str, int]],
        again: tuple[int, ...] = (),
    ) -> None:  # fmt: skip
        self._again = again
        self._count = count
        self._token = token
        self._address = address
        self.acknowledged: list[UUID] = []
        self.refused = 0
        self.last_s = 0.0
        self.stopping = False

    async def work(self) -> None:
        """Post until told to stop."""
        await asyncio.gather(*(self._device(number) for number in range(self._count)))

    async def _device(self, number: int) -> None:
        connection: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None
        fact = stirred(number)
        while not self.stopping:
            try:
                if connection is None:
                    connection = await asyncio.open_connection(*self._address())
                async with asyncio.timeout(ANSWER_WITHIN_S):
                    status = await self._posted(*connection, fact)
            except (OSError, asyncio.IncompleteReadError, TimeoutError):
                status = 0
            if status in (200, 201):
                self.acknowledged.append(fact.id)
                self.last_s = time.monotonic()
                fact = stirred(number)
                continue
            later = status == 0 or status >= 500 or status in self._again
            assert later, f"a good fact was answered with {status}"
            self.refused += status != 0
            if connection is not None:
                connection[1].close()
                connection = None
            await asyncio.sleep(PAUSE_S)
        if connection is not None:
            connection[1].close()

    async def _posted(
        self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, fact: AnyEvent
    ) -> int:
        body = msgspec.json.encode(fact)
        head = (
            "POST /v1/events HTTP/1.1\r\nHost: localhost\r\n"
            f"Authorization: Bearer {self._token}\r\nContent-Type: application/json\r\n"
            f"Content-Length: {len(body)}\r\n\r\n"
        )
        writer.write(head.encode() + body)
        answer = await reader.readuntil(b"\r\n\r\n")
        length = re.search(rb"(?i)\r\ncontent-length: (\d+)", answer)
        if length is not None:
            await reader.readexactly(int(length[1]))
        return int(answer.split(b" ", 2)[1])


def stirred(number: int) -> LotStirred:
    """Every device stirs a can of its own, over and over."""
    now = datetime.now(UTC) - timedelta(seconds=1)
    made = uuid4().int & ((1 << 74) - 1)
    id_ = UUID(
        int=int(now.timestamp() * 1000) << 80 | 7 << 76 | (made >> 62) << 64 | 2 << 62
        | made & ((1 << 62) - 1)
    )  # fmt: skip
    return LotStirred(id=id_, occurred_at=now, lot=f"can-{number}")
