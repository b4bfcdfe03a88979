"""A service that listens on loopback in a thread of its own, for what only a real server shows."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import NamedTuple

from coatledger.ledger.store import Store
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key
from coatledger_api.app import create_app
from coatledger_api.server import Server, server_of
from coatledger_api.settings import Settings
from served import SECRET


class Listening(NamedTuple):
    """A running service."""

    url: str
    token: str
    server: Server
    thread: threading.Thread

    @property
    def headers(self) -> dict[str, str]:
        """What a call carries."""
        return {"Authorization": f"Bearer {self.token}"}

    def stop(self) -> float:
        """Tell the server to stop and return how many seconds that took."""
        started = time.monotonic()
        self.server.should_exit = True
        self.thread.join(20)
        assert not self.thread.is_alive()
        return time.monotonic() - started


def now() -> datetime:
    """The system's clock."""
    return datetime.now(UTC)


@contextmanager
def listening(
    store: Store, settings: Settings | None = None, clock: Callable[[], datetime] = now
) -> Iterator[Listening]:
    """Serve a store on a free port until the block ends."""
    token, kept = make_key(SECRET, "all", SCOPES, 0)
    chosen = settings or Settings()
    app = create_app(store, MemoryKeys([kept]), SECRET, clock, chosen)
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port = listener.getsockname()[1]
        server = server_of(app, "127.0.0.1", port, chosen)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.005)
        one = Listening(f"http://127.0.0.1:{port}", token, server, thread)
        try:
            yield one
        finally:
            one.stop()
