"""How an answer goes out: whole, or in chunks for as long as somebody reads them."""

import asyncio
import contextlib
from collections.abc import Mapping
from typing import Any

from litestar.types import Receive, Send

from coatledger_api.operations import Reply, Streaming
from coatledger_api.problems import ProblemError
from coatledger_api.service import Service

# Nothing here is a page to run scripts in; the documentation sets its own policy.
_ALWAYS: Mapping[str, str] = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "no-referrer",
}


def require_room(service: Service) -> None:
    """Refuse one stream too many. Nothing is awaited between this and the stream's being counted,
    so that many who ask at once are not let in together."""
    if service.streams >= service.settings.streams_max:
        after = {"Retry-After": str(service.settings.retry_after_s)}
        raise ProblemError("too_many_requests", "too many open streams", headers=after)


async def send_reply(reply: Reply, send: Send, *, head: bool) -> None:
    """Send an answer whole; of one to HEAD all but its body."""
    headers = {**_ALWAYS, **reply.headers}
    if reply.status not in (204, 304):
        headers["Content-Type"] = reply.media_type
        headers["Content-Length"] = str(len(reply.body))
    await send(_start(reply.status, headers))
    body = b"" if head else reply.body
    await send({"type": "http.response.body", "body": body, "more_body": False})


async def send_stream(
    service: Service, answer: Streaming, receive: Receive, send: Send, *, head: bool
) -> None:
    """Send chunks until there are none, the client leaves or the service closes."""
    service.streams += 1
    try:
        headers = {**_ALWAYS, "Content-Type": answer.media_type, **answer.headers}
        await send(_start(200, headers))
        await _chunks(service, answer, receive, send, head=head)
    finally:
        service.streams -= 1


async def _chunks(
    service: Service, answer: Streaming, receive: Receive, send: Send, *, head: bool
) -> None:
    gone = asyncio.ensure_future(_gone(receive))
    closing = asyncio.ensure_future(service.closing.wait())
    following: asyncio.Future[bytes] | None = None
    try:
        while not head:
            following = asyncio.ensure_future(anext(answer.chunks, b""))
            await asyncio.wait({following, gone, closing}, return_when=asyncio.FIRST_COMPLETED)
            if not following.done() or not (chunk := following.result()):
                break
            await send({"type": "http.response.body", "body": chunk, "more_body": True})
        if not gone.done():
            await send({"type": "http.response.body", "body": b"", "more_body": False})
    finally:
        for task in (gone, closing, following):
            if task is not None and not task.done():
                task.cancel()
                with contextlib.suppress(asyncio.CancelledError):
                    await task
        await answer.chunks.aclose()


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def _start(status: int, headers: Mapping[str, str]) -> Any:
    return {
        "type": "http.response.start",
        "status": status,
        "headers": [(n.lower().encode(), v.encode("latin-1")) for n, v in headers.items()],
    }
