"""A service under test that listens on a port of this machine, as a browser needs it."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

import httpx
from bench import on_day
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Store
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key
from coatledger_api.app import create_app
from coatledger_api.server import server_of
from coatledger_api.settings import Settings
from served import SECRET, Served


@dataclass(frozen=True)
class Listening:
    """Where it listens, and the same service for short calls of the test's own."""

    url: str
    served: Served


@contextmanager
def listening(
    store: Store | None = None, *, clock: Callable[[], datetime] | None = None,
    settings: Settings | None = None,
) -> Iterator[Listening]:  # fmt: skip
    """Run a service. Its clock is the test's (`served.at`, `served.later`), unless one is given.

    A clock of the test's says no time in the header Date, where a browser would compare its own.
    """
    store = store or MemoryStore("trial")
    settings = settings or Settings()
    keys = MemoryKeys()
    token, kept = make_key(SECRET, "all", SCOPES, 0)
    keys.add(kept)
    served: Served | None = None

    def tests_clock() -> datetime:
        return on_day("1 07:00") if served is None else served.clock

    app = create_app(store, keys, SECRET, clock or tests_clock, settings)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port: int = listener.getsockname()[1]
        server = server_of(app, "127.0.0.1", port, settings)
        server.config.date_header = clock is not None
        thread = threading.Thread(target=server.run, args=([listener],), daemon=True)
        thread.start()
        while not server.started:
            assert thread.is_alive(), "the service ended before it served"
            time.sleep(0.005)
        url = f"http://127.0.0.1:{port}"
        try:
            with httpx.Client(base_url=url, trust_env=False) as client:
                served = Served(client, store, keys, token)
                yield Listening(url, served)
        finally:
            server.should_exit = True
            thread.join(10)
