"""The feed as it grows, as server-sent events. It reads the table; a ring only wakes it early."""

import asyncio
import contextlib
from collections.abc import AsyncGenerator, Callable

import msgspec
from coatledger.ledger.batch import Subject
from coatledger.ledger.store import Head, Reader
from msgspec import Struct

from coatledger_api.operations import ENCODER, Call, Operation, Reply, Streaming, running
from coatledger_api.problems import ProblemError, ProblemFault
from coatledger_api.routes.recorded import (
    CURSOR,
    Cursor,
    EventTypes,
    cursor_of,
    following,
    position_of,
    seen,
)
from coatledger_api.service import Service

EVENT_STREAM = "text/event-stream"
ROWS_AT_ONCE = 200


class StreamQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where to read on, and which events."""

    cursor: Cursor | None = None
    subject: Subject | None = None
    type: EventTypes = ()


@running("GET", "/v1/events/stream", tag="Events", scope="read",
         answers={EVENT_STREAM: str}, problems=("feed_rewound", "too_many_requests"))  # fmt: skip
async def stream_events(call: Call[StreamQuery]) -> Reply | Streaming:
    """Follow the feed as server-sent events.

    Each message's id is its cursor, its event the type of the fact, its data what the feed gives
    for it. The Last-Event-ID header, which a browser sends by itself, goes before `cursor`;
    without either the stream begins with what is recorded from now on.
    """
    service = call.service
    head = await service.read(lambda reader: reader.head())
    last = call.headers.get("last-event-id") or call.query.cursor
    after_position = head.size if last is None else position_of(_cursor(last), head)
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    chunks = _messages(service, call.query, head, after_position)
    return Streaming(chunks, EVENT_STREAM, headers)


OPERATIONS: tuple[Operation, ...] = (stream_events,)


async def _messages(
    service: Service, query: StreamQuery, head: Head, after: int
) -> AsyncGenerator[bytes, None]:
    settings = service.settings
    yield f"retry: {settings.stream_retry_ms}\n\n".encode()
    quiet_s = 0.0
    while not service.closing.is_set():
        rung = service.bell.next()
        before = after
        chunk, after = await service.read(_question(query, head, before))
        if chunk:
            quiet_s = 0.0
            yield chunk
        if after > before:
            continue
        wait_s = min(settings.stream_poll_s, settings.stream_ping_s)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(rung.wait(), wait_s)
        quiet_s += wait_s
        if quiet_s >= settings.stream_ping_s:
            quiet_s = 0.0
            yield b": still here\n\n"


def _question(query: StreamQuery, head: Head, after: int) -> Callable[[Reader], tuple[bytes, int]]:
    types = frozenset(query.type)

    def ask(reader: Reader) -> tuple[bytes, int]:
        rows, looked = following(reader, after, ROWS_AT_ONCE, query.subject, types)
        parts = [
            f"id: {cursor_of(head, row.position)}\nevent: {row.type}\ndata: ".encode()
            + ENCODER.encode(seen(row))
            + b"\n\n"
            for row in rows
        ]
        return b"".join(parts), looked

    return ask


def _cursor(text: str) -> str:
    """Read a cursor that may have come in a header."""
    try:
        return msgspec.convert(text, Cursor)
    except msgspec.ValidationError as error:
        fault = ProblemFault(
            rule="invalid", detail=f"a cursor looks like {CURSOR}", parameter="Last-Event-ID"
        )
        wrong = "wrong in the headers: Last-Event-ID"
        raise ProblemError("invalid", wrong, faults=(fault,)) from error
