"""A service on loopback over a ledger in memory."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key
from coatledger_api.app import create_app
from coatledger_api.server import server_of
from coatledger_api.settings import Settings
from shell import SECRET, Running, call

EVENING = datetime(2026, 3, 2, 20, 0, tzinfo=UTC)


@pytest.fixture
def now() -> list[datetime]:
    """The service's clock: one value a test may change."""
    return [EVENING]


@pytest.fixture
def settings() -> Settings:
    """What whoever runs the service set; a test may say otherwise."""
    return Settings()


@pytest.fixture
def service(
    now: list[datetime], settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Running]:
    """Serve an empty ledger on a free port, its address and key in the environment."""
    store, keys = MemoryStore("trial"), MemoryKeys()
    token, kept = make_key(SECRET, "all", SCOPES, 0)
    keys.add(kept)
    app = create_app(store, keys, SECRET, lambda: now[0], settings)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        server = server_of(app, "127.0.0.1", port, settings)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.005)
        running = Running(f"http://127.0.0.1:{port}", token, store, keys)
        monkeypatch.setenv("COATLEDGER_URL", running.url)
        monkeypatch.setenv("COATLEDGER_KEY", running.key)
        yield running
        server.should_exit = True
        thread.join(10)


@pytest.fixture
def pieces(service: Running) -> Running:
    """The service with two shelves in its ledger."""
    line = (
        '{"type":"piece_started","occurred_at":"2026-03-02T08:00","pieces":"T-1 T-2",'
        '"kind":"shelf","species":"white_oak","coat_area_ft2":4,"use":"shelf"}'
    )
    assert call("record", told=line).exit_code == 0
    return service


@pytest.fixture
def alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """No service and no setting anywhere; returns the folder of the configuration file."""
    for name in ("COATLEDGER_URL", "COATLEDGER_KEY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    return tmp_path
