"""The real service in a process of its own, on a ledger with a key we know."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID

from coatledger.ledger.record import micros
from coatledger_adapters.keys import make_key
from coatledger_adapters.self_check import self_check
from coatledger_adapters.sql_store import SqlStore
from coatledger_api.commands.home import open_ledger

SHOP = "shop"
SERVE = ("-c", "from coatledger_api.commands.main import main; main()", "serve")
COMES_UP_WITHIN_S = 60.0


def key_for(home: Path, database: str | None = None, scopes: Sequence[str] = ("record",)) -> str:
    """Make the ledger and a key of it, and return the token."""
    ledger = open_ledger(home, database, SHOP)
    try:
        token, key = make_key(ledger.secret, "drill", scopes, micros(datetime.now(UTC)))
        ledger.keys.add(key)
        return token
    finally:
        ledger.store.close()


def free_port() -> int:
    """Find a port of this machine that nobody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port: int = listener.getsockname()[1]
        return port


class Service:
    """One run of the service, from its command to its end."""

    def __init__(
        self, home: Path, database: str | None, port: int, program: Sequence[str] = SERVE,
        more: Mapping[str, str] | None = None,
    ) -> None:  # fmt: skip
        where = {"COATLEDGER_HOME": str(home), "COATLEDGER_SHOP": SHOP}
        # Sixteen devices of one key on one machine are not to be slowed down for it.
        limits = ("KEY_REQUESTS_PER_S", "KEY_BURST", "ADDRESS_REQUESTS_PER_S", "ADDRESS_BURST")
        where |= {f"COATLEDGER_{name}": "1000000" for name in limits}
        if database is not None:
            where["COATLEDGER_DATABASE"] = database
        self._process = subprocess.Popen(
            [sys.executable, *program, "--port", str(port)],
            env={**os.environ, **where, **(more or {})},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        ends = time.monotonic() + COMES_UP_WITHIN_S
        while not _listens(port):
            assert self._process.poll() is None, "the service ended before it served"
            assert time.monotonic() < ends, "the service did not come up"
            time.sleep(0.02)

    @property
    def pid(self) -> int:
        """Its process."""
        return self._process.pid

    def kill(self) -> None:
        """End it without warning: nothing it holds in memory is written any more."""
        self._process.kill()
        self._process.wait()

    def stop(self) -> None:
        """Let it end in good order."""
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGTERM)
            self._process.wait(30)


def missing(store: SqlStore, acknowledged: Iterable[UUID]) -> int:
    """Count the acknowledged facts that a ledger does not hold."""
    asked = list(acknowledged)
    with store.reading() as reader:
        return len(asked) - len(reader.by_id(asked))


def faults(store: SqlStore) -> int:
    """Count what is wrong with a ledger: positions, hashes, tree, and all that follows of them."""
    return len(self_check(store).wrong)


def tell(found: Mapping[str, float], *, as_json: bool) -> None:
    """Print what a drill came to, for machines or for people."""
    if as_json:
        print(json.dumps(found))
    else:
        print("\n".join(f"{name:<32}{value:>10,}" for name, value in found.items()))


def _listens(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), 0.2).close()
    except OSError:
        return False
    return True
