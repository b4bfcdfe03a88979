"""A service under test: an application in process, a clock the test moves, and short calls."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import msgspec
from bench import made_id, on_day
from coatledger.ledger.store import Store
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key
from coatledger_api.app import create_app
from coatledger_api.settings import Settings
from httpx import Client, Response
from litestar.testing import TestClient

SECRET = b"under test" * 4


class Served:
    """One service under test. Calls carry a key of every scope unless told otherwise."""

    def __init__(self, client: Client, store: Store, keys: MemoryKeys, token: str) -> None:
        self.client = client
        self.store = store
        self.keys = keys
        self.token = token
        self.clock = on_day("1 07:00")
        self.count = 0

    def at(self, words: str) -> Served:
        """Let the service's clock say "day hh:mm"."""
        self.clock = on_day(words)
        return self

    def later(self, **much: float) -> Served:
        """Let time pass."""
        self.clock += timedelta(**much)
        return self

    def key(self, *scopes: str, **fields: Any) -> str:
        """Make a key of these scopes and return its token."""
        token, kept = make_key(SECRET, "a key", scopes, 0, **fields)
        self.keys.add(kept)
        return token

    def fact(self, tag: str, **fields: Any) -> dict[str, Any]:
        """Write a fact of the present moment; fields given replace these."""
        self.count += 1
        given = {
            "type": tag,
            "id": str(made_id(self.count, self.clock)),
            "occurred_at": self.clock.isoformat(),
        }
        return {**given, **fields}

    def ask(self, method: str, path: str, **given: Any) -> Response:
        """Call an address; `token` None leaves the key out."""
        headers = dict(given.pop("headers", {}))
        token = given.pop("token", self.token)
        if token is not None:
            headers.setdefault("Authorization", f"Bearer {token}")
        return self.client.request(method, path, headers=headers, **given)

    def get(self, path: str, **given: Any) -> Response:
        """Read an address."""
        return self.ask("GET", path, **given)

    def post(self, body: Any, **given: Any) -> Response:
        """Post a body to the ledger: bytes as they are, anything else as JSON."""
        content = body if isinstance(body, bytes) else msgspec.json.encode(body)
        headers = {"Content-Type": "application/json", **given.pop("headers", {})}
        return self.ask("POST", "/v1/events", content=content, headers=headers, **given)

    def record(self, tag: str, **fields: Any) -> dict[str, Any]:
        """Record a fact, which must be taken, and return it."""
        fact = self.fact(tag, **fields)
        answer = self.post(fact)
        assert answer.status_code == 201, answer.text
        return fact

    def batch(self, *facts: Mapping[str, Any], **fields: Any) -> dict[str, Any]:
        """Write a batch."""
        return {"type": "batch", "events": list(facts), **fields}

    def pieces(self, *words: str) -> dict[str, Any]:
        """Start pieces."""
        return self.record(
            "piece_started", pieces=words, kind="bedside table", species="ash",
            coat_area_m2=0.5, use="decor",
        )  # fmt: skip

    @property
    def size(self) -> int:
        """How many events the ledger holds."""
        with self.store.reading() as reader:
            return reader.head().size

    def holds(self, event: str) -> bool:
        """Whether the ledger holds an event of this id."""
        with self.store.reading() as reader:
            return bool(reader.by_id((UUID(event),)))


@contextmanager
def serving(store: Store, settings: Settings | None = None) -> Iterator[Served]:
    """Run the application on a store."""
    keys = MemoryKeys()
    token, kept = make_key(SECRET, "all", SCOPES, 0)
    keys.add(kept)
    served: Served | None = None

    def clock() -> datetime:
        return on_day("1 07:00") if served is None else served.clock

    app = create_app(store, keys, SECRET, clock, settings)
    with TestClient(app, raise_server_exceptions=False) as client:
        served = Served(client, store, keys, token)
        yield served


def refusal(answer: Response, status: int, kind: str) -> list[tuple[str, str]]:
    """Hold a refusal to its form and return the (rule, place) of its faults."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["type"] == f"/problems/{kind}"
    assert problem["status"] == status
    assert problem["title"]
    assert problem["detail"]
    return [
        (fault["rule"], fault.get("pointer", fault.get("parameter", "")))
        for fault in problem.get("faults", ())
    ]
