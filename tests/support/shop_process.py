"""A service in a process of its own, to be killed, and a receiver it may send to."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, Self

import httpx
from bench import made_id, on_day
from receiver import Listening
from shell import call

SHOP = "dune-end"
PROGRAM = "from coatledger_api.commands.main import main; main()"


class Process:
    """A service in a process of its own, on a folder and perhaps a database."""

    def __init__(self, home: Path, receiver: Listening, *options: str, timeout_s: str) -> None:
        self.home = home
        self.options = ["--home", str(home), "--shop", SHOP, *options]
        self.environment = {
            **os.environ, "COATLEDGER_WEBHOOK_HOSTS": receiver.host,
            "COATLEDGER_WEBHOOK_TIMEOUT_S": timeout_s, "COATLEDGER_WEBHOOK_POLL_S": "0.1",
        }  # fmt: skip
        self.token = ""
        self.url = ""
        self._process: subprocess.Popen[str] | None = None

    def make_key(self) -> Self:
        """Make the ledger and a key of it."""
        scopes = [part for scope in ("record", "read", "admin") for part in ("--scope", scope)]
        made = call("key", "make", "both", *scopes, *self.options)
        self.token = made.stdout.strip().splitlines()[-1]
        return self

    def start(self) -> Self:
        """Serve."""
        self._process = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, "serve", "--port", "0", *self.options],
            stdout=subprocess.PIPE, text=True, env=self.environment,
        )  # fmt: skip
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line
        self.url = found[0]
        return self

    def end(self, how: signal.Signals) -> float:
        """End it and return how long that took."""
        assert self._process is not None
        began = time.monotonic()
        self._process.send_signal(how)
        self._process.communicate(timeout=20)
        return time.monotonic() - began

    def ask(self, method: str, path: str, **given: Any) -> httpx.Response:
        """Ask it."""
        headers = {"Authorization": f"Bearer {self.token}"}
        return httpx.request(method, self.url + path, headers=headers, timeout=30, **given)

    def have_told(self, receiver: Listening) -> dict[str, Any]:
        """Make a webhook of the receiver's."""
        body = {"label": "web shop", "url": receiver.url, "kinds": ["shipped"]}
        made = self.ask("POST", "/v1/webhooks", json=body)
        assert made.status_code == 201, made.text
        told: dict[str, Any] = made.json()["webhook"]
        return told

    def ship(self, number: int) -> str:
        """Record that one more piece left, and return the event's id."""
        word, at = f"p-{number}", "2026-03-02T09:00:00Z"
        born: dict[str, Any] = {
            "type": "piece_started", "id": str(made_id(2 * number, on_day("1 08:00"))),
            "occurred_at": at, "pieces": [word], "kind": "shelf", "species": "ash",
            "coat_area_m2": 0.5, "use": "decor",
        }  # fmt: skip
        left = {
            "type": "shipped", "id": str(made_id(2 * number + 1, on_day("1 08:00"))),
            "occurred_at": at, "pieces": [word],
        }  # fmt: skip
        answer = self.ask("POST", "/v1/events", json={"type": "batch", "events": [born, left]})
        assert answer.status_code in (200, 201), answer.text
        return str(left["id"])
