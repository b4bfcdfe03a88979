"""A receiver of webhooks over real HTTP, that behaves as badly as a test wants."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ssl import SSLContext
from typing import Any, NamedTuple

Behaviour = Callable[["Handler"], None]
WAIT_MAX_S = 10.0


class Got(NamedTuple):
    """One request as it came."""

    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def message_id(self) -> str:
        """The id a receiver tells messages apart by."""
        return self.headers["webhook-id"]

    @property
    def event(self) -> dict[str, Any]:
        """The CloudEvent."""
        read: dict[str, Any] = json.loads(self.body)
        return read

    @property
    def kind(self) -> str:
        """What is told."""
        return str(self.event["data"]["kind"])


class Handler(BaseHTTPRequestHandler):
    """Keeps a request, then behaves."""

    server: Listening

    def do_POST(self) -> None:
        """Take a message."""
        body = self.rfile.read(int(self.headers["content-length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        self.server.got.append(Got(self.path, headers, body))
        self.server.behaviour(self)

    def answer(self, status: int, body: bytes = b"", **headers: str) -> None:
        """Answer as a decent server does."""
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def raw(self, data: bytes) -> None:
        """Say exactly this, and hang up."""
        self.wfile.write(data)
        self.wfile.flush()
        self.close_connection = True

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the library's name
        """Say nothing."""


class Listening(ThreadingHTTPServer):
    """The server; `behaviour` may be changed while it runs."""

    daemon_threads = True
    got: list[Got]
    behaviour: Behaviour
    released: threading.Event

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A sender that hangs up is no fault here."""

    @property
    def host(self) -> str:
        """Where it listens, as the setting names it."""
        return f"127.0.0.1:{self.server_address[1]}"

    @property
    def url(self) -> str:
        """Where to send to."""
        return f"http://{self.host}/told"

    def ids(self) -> list[str]:
        """The ids that came, in order, however often each."""
        return [one.message_id for one in self.got]

    def wait_for(self, count: int, within_s: float = WAIT_MAX_S) -> list[Got]:
        """Wait until so many requests have come."""
        until(lambda: len(self.got) >= count, within_s)
        return list(self.got)


def until(holds: Callable[[], bool], within_s: float = WAIT_MAX_S) -> None:
    """Wait until something holds."""
    ends = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < ends, "it did not come to pass in time"
        time.sleep(0.01)


def fine(handler: Handler) -> None:
    """Take it."""
    handler.answer(204)


def failing(handler: Handler) -> None:
    """Fail."""
    handler.answer(503)


def hanging(handler: Handler) -> None:
    """Never answer, until the test ends."""
    handler.server.released.wait(60)
    handler.close_connection = True


def closing(handler: Handler) -> None:
    """Hang up in the middle of an answer."""
    handler.raw(b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nhalf")


def gone(handler: Handler) -> None:
    """Nobody is here any more."""
    handler.answer(410)


@contextmanager
def receiving(behaviour: Behaviour = fine, tls: SSLContext | None = None) -> Iterator[Listening]:
    """A receiver on a free port of this machine."""
    server = Listening(("127.0.0.1", 0), Handler)
    server.got, server.behaviour, server.released = [], behaviour, threading.Event()
    if tls is not None:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.released.set()
        server.shutdown()
        server.server_close()
        thread.join(10)
