"""Connections that a slow or greedy client cannot hold: bounds on how long and how much.

uvicorn only ends connections that are idle after an answer. Here a client also has so long to send
a head, so long for the body, and so long to take what is written to it; a head has a size, and
there are only so many connections. A request that comes whole, as nearly all do, costs no timer.
"""

import asyncio
from http import HTTPStatus
from typing import Any

from uvicorn.protocols.http.httptools_impl import (
    HttpToolsProtocol,
    RequestResponseCycle,
)

from coatledger_api.problems import MEDIA_TYPE, ProblemError, body_of_problem
from coatledger_api.settings import Settings

HEAD_BYTES_MAX = 64 * 1024


class Connection(HttpToolsProtocol):
    """One connection of HTTP/1.1."""

    def __init__(self, settings: Settings, **given: Any) -> None:
        super().__init__(**given)
        self._settings = settings
        # Which part of a request is awaited; "" between an answer and the next request.
        self._awaited = "head"
        self._head_bytes = 0
        self._timed = ""
        self._timer: asyncio.TimerHandle | None = None
        self._writing: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin; one connection too many is closed at once."""
        super().connection_made(transport)
        if len(self.connections) > self._settings.connections_max:
            transport.abort()
            return
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """End."""
        self._awaited = ""
        self._watch()
        self._stop_writing_timer()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and watch for the rest of it."""
        if self._awaited != "body":
            self._head_bytes += len(data)
        super().data_received(data)
        if self.transport.is_closing():
            self._awaited = ""
        elif self._awaited == "head" and self._head_bytes > HEAD_BYTES_MAX:
            self._refuse("head_too_large", f"a head has at most {HEAD_BYTES_MAX} bytes")
        self._watch()

    def on_message_begin(self) -> None:
        """A request begins."""
        super().on_message_begin()
        self._awaited = "head"

    def on_headers_complete(self) -> None:
        """Its head is whole."""
        super().on_headers_complete()
        self._awaited = "body"
        self._head_bytes = 0

    def on_message_complete(self) -> None:
        """It is whole."""
        super().on_message_complete()
        self._awaited = ""

    def pause_writing(self) -> None:
        """The client takes less than is written: it has so long to take it."""
        super().pause_writing()
        self._stop_writing_timer()
        self._writing = self.loop.call_later(self._settings.write_wait_s, self.transport.abort)

    def resume_writing(self) -> None:
        """It took it."""
        self._stop_writing_timer()
        super().resume_writing()

    def send_400_response(self, msg: str) -> None:
        """Tell what is not HTTP as every other problem is told."""
        self._refuse("bad_request", msg)

    def _watch(self) -> None:
        """Time the part that is awaited, from when it began to be."""
        if self._timed == self._awaited:
            return
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
        self._timed = self._awaited
        if self._awaited:
            is_head = self._awaited == "head"
            wait_s = self._settings.head_wait_s if is_head else self._settings.body_wait_s
            self._timer = self.loop.call_later(wait_s, self._too_slow)

    def _too_slow(self) -> None:
        self._refuse("too_slow", f"the {self._awaited} of the request did not come in time")

    def _refuse(self, kind: str, detail: str) -> None:
        """Answer where nothing was answered yet, and close."""
        if not self.transport.is_closing():
            last: RequestResponseCycle | None = self.cycle  # of this request or the one before
            if last is None or not last.response_started or last.response_complete:
                self.transport.write(_answer(ProblemError(kind, detail)))
            self.transport.close()
        self._awaited = ""
        self._watch()

    def _stop_writing_timer(self) -> None:
        if self._writing is not None:
            self._writing.cancel()
            self._writing = None


def _answer(error: ProblemError) -> bytes:
    body = body_of_problem(error.problem)
    status = HTTPStatus(error.problem.status)
    head = (
        f"HTTP/1.1 {status.value} {status.phrase}\r\nContent-Type: {MEDIA_TYPE}\r\n"
        f"Content-Length: {len(body)}\r\nCache-Control: no-store\r\nConnection: close\r\n"
        "X-Content-Type-Options: nosniff\r\n\r\n"
    )
    return head.encode("ascii") + body
