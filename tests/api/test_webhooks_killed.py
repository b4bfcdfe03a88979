"""Messages and real processes: killed between sending and noting it, several on one database, and
told to stop while a receiver hangs."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest
from bench import made_id, on_day
from postgres_server import HASTY, Server, why_missing
from receiver import Handler, Listening, fine, hanging, receiving, until
from shell import call

SHOP = "dune-end"
PROGRAM = "from coatledger_api.commands.main import main; main()"
KILLS, BETWEEN = 3, 4


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

    def make_key(self) -> Process:
        """Make the ledger and a key of it."""
        scopes = [part for scope in ("record", "read", "admin") for part in ("--scope", scope)]
        made = call("key", "make", "both", *scopes, *self.options)
        self.token = made.stdout.strip().splitlines()[-1]
        return self

    def start(self) -> Process:
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


def told_events(receiver: Listening) -> list[str]:
    """What a receiver that keeps ids was told: each message once."""
    once = {got.message_id: got for got in receiver.got}
    return [str(got.event["data"]["event"]) for got in once.values()]


def test_killed_between_sending_and_noting_nothing_is_lost_nor_told_twice(tmp_path: Path) -> None:
    with receiving() as receiver:
        service = Process(tmp_path, receiver, timeout_s="0.5").make_key().start()
        service.have_told(receiver)
        killed: list[str] = []

        def killing(handler: Handler) -> None:
            # It has sent the message, and will never hear that it arrived.
            receiver.behaviour = fine
            killed.append(receiver.got[-1].message_id)
            service.end(signal.SIGKILL)

        recorded: list[str] = []
        for number in range(KILLS * BETWEEN):
            if number % BETWEEN == BETWEEN - 1:
                until(lambda: len(told_events(receiver)) >= len(recorded))
                kills = len(killed)
                receiver.behaviour = killing
                recorded.append(service.ship(number))
                until(lambda: len(killed) > kills)  # noqa: B023
                service.start()
            else:
                recorded.append(service.ship(number))
        until(lambda: set(told_events(receiver)) == set(recorded))
        for message_id in killed:
            until(lambda: receiver.ids().count(message_id) == 2)  # noqa: B023
        assert len(set(killed)) == KILLS
        assert sorted(told_events(receiver)) == sorted(recorded)
        for got in receiver.got:  # the same id is the same message, to the byte
            assert {o.body for o in receiver.got if o.message_id == got.message_id} == {got.body}
        until(lambda: service.ask("GET", "/v1/webhooks").json()["webhooks"][0]["waiting"] == 0)
        service.end(signal.SIGTERM)


def test_a_receiver_that_hangs_does_not_keep_the_service_from_going_down(tmp_path: Path) -> None:
    with receiving(hanging) as receiver:
        service = Process(tmp_path, receiver, timeout_s="30").make_key().start()
        service.have_told(receiver)
        event = service.ship(1)
        receiver.wait_for(1)
        assert service.end(signal.SIGTERM) < 3.0
        # Nobody knows whether it arrived: it waits, under the same id.
        receiver.behaviour = fine
        service.environment["COATLEDGER_WEBHOOK_TIMEOUT_S"] = "0.5"
        service.start()
        (waiting,) = service.ask("GET", "/v1/webhooks").json()["webhooks"]
        assert (waiting["waiting"], waiting["given_up"]) == (1, 0)
        path = f"/v1/webhooks/{waiting['webhook']}"
        assert service.ask("POST", f"{path}/resend", json={}).json()["messages"] == 1
        receiver.wait_for(2)
        assert len(set(receiver.ids())) == 1
        assert told_events(receiver) == [event]
        service.end(signal.SIGTERM)


@contextmanager
def two_on_postgresql(tmp_path: Path, receiver: Listening) -> Iterator[tuple[Process, Process]]:
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    try:
        database = ("--database", server.new_database())
        one = Process(tmp_path, receiver, *database, timeout_s="2").make_key().start()
        other = Process(tmp_path, receiver, *database, timeout_s="2")
        other.token = one.token
        yield one, other.start()
        for process in (one, other):
            process.end(signal.SIGTERM)
    finally:
        server.stop()


@pytest.mark.postgres
def test_two_processes_tell_each_thing_once(tmp_path: Path) -> None:
    with receiving() as receiver, two_on_postgresql(tmp_path, receiver) as both:
        both[0].have_told(receiver)
        recorded = [both[number % 2].ship(number) for number in range(30)]
        until(lambda: len(receiver.got) >= len(recorded))
        time.sleep(0.3)
        assert sorted(got.event["data"]["event"] for got in receiver.got) == sorted(recorded)
        assert len(set(receiver.ids())) == len(recorded)
