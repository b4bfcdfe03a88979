"""Two services without any state of their own, as processes of the system, on one PostgreSQL."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest
from bench import made_id, on_day
from coatledger.ledger.log_check import check_log
from coatledger_adapters.read_models import compare
from coatledger_adapters.shadow import shadow
from coatledger_adapters.sql_store import open_store
from postgres_server import HASTY, Server, why_missing
from shell import call

pytestmark = pytest.mark.postgres
SHOP = "dune-end"
FACTS, BOTH, CLIENTS = 60, 20, 4
PROGRAM = "from coatledger_api.commands.main import main; main()"


class Two(NamedTuple):
    """Where the services are, their database, and a key made beforehand."""

    urls: tuple[str, str]
    database: str
    token: str

    def ask(self, which: int, method: str, path: str, **given: Any) -> httpx.Response:
        """Ask one of them."""
        headers = {"Authorization": f"Bearer {given.pop('token', self.token)}"}
        return httpx.request(method, self.urls[which] + path, headers=headers, timeout=30, **given)


@contextmanager
def serving(database: str, home: Path) -> Iterator[str]:
    """A service in a process of its own; yields its address."""
    words = ["serve", "--port", "0", "--home", str(home), "--database", database, "--shop", SHOP]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *words],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "COATLEDGER_KEY_CACHE_S": "0"},
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line
        yield found[0]
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=20)


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    """Two services on one new database, with one folder as two machines would share its secret."""
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    home = tmp_path_factory.mktemp("home")
    try:
        database = server.new_database()
        options = ["--home", str(home), "--database", database, "--shop", SHOP]
        scopes = [part for scope in ("record", "read", "admin") for part in ("--scope", scope)]
        made = call("key", "make", "both", *scopes, *options)
        token = made.stdout.strip().splitlines()[-1]
        with serving(database, home) as one, serving(database, home) as other:
            yield Two((one, other), database, token)
    finally:
        server.stop()


def climate(number: int) -> dict[str, Any]:
    return {
        "type": "climate_read", "id": str(made_id(number, on_day("1 08:00"))), "room": "spray",
        "occurred_at": "2026-03-02T08:00:00Z", "readings": [{"air_c": 20, "rh_pct": 45}],
    }  # fmt: skip


def post(two: Two, which: int, facts: Sequence[dict[str, Any]], answers: list[Any]) -> None:
    headers = {"Authorization": f"Bearer {two.token}"}
    with httpx.Client(base_url=two.urls[which], headers=headers, timeout=30) as client:
        for fact in facts:
            answer = client.post("/v1/events", json=fact)
            answers.append((fact["id"], answer.status_code, answer.json()))


def test_both_append_at_once_and_the_ledger_is_one(two: Two) -> None:
    """Each has facts of its own; some are sent to both, as a phone does after a lost answer."""
    answers: list[Any] = []
    before = size(two)
    shared = [climate(number) for number in range(BOTH)]
    threads = []
    for client in range(CLIENTS):
        which = client % 2
        own = [climate(1_000 * (client + 1) + number) for number in range(FACTS)]
        facts = [*own[:10], *shared, *own[10:]]
        threads.append(threading.Thread(target=post, args=(two, which, facts, answers)))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)

    told: dict[str, int] = {}
    statuses: dict[str, list[int]] = {}
    for event, status, answer in answers:
        assert status in (200, 201), answer
        position = answer["events"][0]["position"]
        assert told.setdefault(event, position) == position, "one event, two positions"
        statuses.setdefault(event, []).append(status)
    total = CLIENTS * FACTS + BOTH
    assert sorted(told.values()) == list(
        range(before + 1, before + total + 1)
    )  # no gap, and nothing twice
    for fact in shared:
        assert sorted(statuses[fact["id"]]) == [200] * (CLIENTS - 1) + [201]

    feeds = [feed(two, which) for which in (0, 1)]
    assert feeds[0] == feeds[1]
    assert {feeds[0][position - 1]: position for position in told.values()} == told

    store = open_store(two.database, SHOP)
    try:
        with shadow() as beside, store.beside() as ledger:
            report = check_log(ledger, SHOP)
            assert (report.size, report.faults) == (before + total, ())
            assert compare(store, ledger, beside).none
    finally:
        store.close()


def size(two: Two) -> int:
    return int(two.ask(0, "GET", "/v1/events?limit=1").headers["coatledger-position"])


def feed(two: Two, which: int) -> list[str]:
    ids: list[str] = []
    cursor: str | None = None
    while True:
        query = {"limit": "100", **({"cursor": cursor} if cursor else {})}
        page = two.ask(which, "GET", "/v1/events", params=query).json()
        if not page["events"]:
            return ids
        ids += [one["event"]["id"] for one in page["events"]]
        cursor = page["cursor"]


def test_what_one_has_taken_in_the_other_answers_at_once(two: Two) -> None:
    start = {
        "type": "piece_started", "id": str(made_id(90_001, on_day("1 08:00"))),
        "occurred_at": "2026-03-02T08:00:00Z", "pieces": ["T-1"], "kind": "shelf",
        "species": "white-oak", "coat_area_m2": 0.7, "use": "shelf",
    }  # fmt: skip
    assert two.ask(0, "POST", "/v1/events", json=start).status_code == 201
    for number, stage in ((1, "prepared"), (2, "coated")):
        sanded = {"type": "sanded", "stage": "bare", "grit": 150}
        coated = {"type": "coat_applied", "lot": "can-1"}
        fact = {
            **(sanded if number == 1 else coated), "pieces": ["T-1"],
            "id": str(made_id(90_001 + number, on_day("1 08:00"))),
            "occurred_at": f"2026-03-02T{8 + number:02}:00:00Z",
        }  # fmt: skip
        # By turns: what either holds of the piece in memory is never used when the other wrote.
        assert two.ask(number % 2, "POST", "/v1/events", json=fact).status_code == 201
        for which in (0, 1):
            assert two.ask(which, "GET", "/v1/pieces/T-1").json()["stage"] == stage


def test_a_condition_broken_at_one_is_broken_at_the_other(two: Two) -> None:
    head = size(two)
    first, second = climate(91_001), climate(91_002)
    held = [{"subject": "room:spray", "after": head}]
    bodies = [{"type": "batch", "events": [one], "conditions": held} for one in (first, second)]
    assert two.ask(0, "POST", "/v1/events", json=bodies[0]).status_code == 201
    refused = two.ask(1, "POST", "/v1/events", json=bodies[1])
    assert refused.status_code == 409
    assert refused.json()["type"] == "/problems/condition_broken"


def test_a_key_made_at_one_opens_the_other_and_ends_at_both(two: Two) -> None:
    made = two.ask(0, "POST", "/v1/keys", json={"label": "office", "scopes": ["read"]})
    assert made.status_code == 201, made.text
    token, key_id = made.json()["token"], made.json()["key"]["key"]
    for which in (0, 1):
        assert two.ask(which, "GET", "/v1/pieces", token=token).status_code == 200
    assert two.ask(1, "DELETE", f"/v1/keys/{key_id}").status_code in (200, 204)
    for which in (0, 1):
        assert two.ask(which, "GET", "/v1/pieces", token=token).status_code == 401
