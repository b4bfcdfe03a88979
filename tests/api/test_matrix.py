"""Two shops side by side: every operation, by a key of every scope, asked for what is the other's.

On PostgreSQL both ledgers and both books of keys lie in the same tables; in memory they are apart.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, closing
from datetime import datetime
from typing import Any, NamedTuple

import pytest
from bench import made_id, on_day
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Store
from coatledger_adapters.keys import SCOPES, KeyBook, MemoryKeys, make_key
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_keys import SqlKeys
from coatledger_adapters.sql_store import open_store
from coatledger_api.app import OPERATIONS, create_app
from coatledger_api.operations import Operation
from httpx import Response
from litestar.testing import TestClient
from postgres_server import HASTY, Server, why_missing
from served import SECRET, refusal

OURS, THEIRS = "dune-end", "far-quay"
MARK = "theirs"  # every word of the other shop begins with it
NOW = on_day("1 12:00")
FACTS: tuple[dict[str, Any], ...] = (
    {"type": "room_described", "room": f"{MARK}-room", "air_min_c": 18, "air_max_c": 26},
    {"type": "gun_described", "gun": f"{MARK}-gun", "method": "hvlp"},
    {"type": "product_described", "product": f"{MARK}-clear", "kind": "water_borne"},
    {"type": "schedule_described", "schedule": f"{MARK}-steps", "steps": [{"act": "blow_off"}]},
    {"type": "lot_received", "lot": f"{MARK}-can", "product": f"{MARK}-clear", "amount_l": 1},
    {"type": "piece_started", "pieces": [f"{MARK}-1"], "kind": "bedside table", "species": "ash",
     "coat_area_m2": 0.5, "use": "decor"},
    {"type": "order_taken", "order": f"{MARK}-order", "lines": [{"line": "1"}]},
    {"type": "promise_made", "order": f"{MARK}-order", "ships_by": "2026-03-09", "level_pct": 80},
)  # fmt: skip


class Side(NamedTuple):
    """One shop's service."""

    client: TestClient[Any]
    store: Store
    keys: KeyBook
    tokens: Mapping[str, str]

    def ask(self, token: str, method: str, path: str, **given: Any) -> Response:
        """Call an address with a token."""
        headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
        return self.client.request(method, path, headers=headers, **given)

    @property
    def size(self) -> int:
        """How many events the ledger holds."""
        with self.store.reading() as reader:
            return reader.head().size


class Shops(NamedTuple):
    """Ours, theirs, and what each kind of id in an address is called there."""

    ours: Side
    theirs: Side
    ids: dict[str, str]


def side(stack: ExitStack, store: Store, keys: KeyBook) -> Side:
    """Serve a ledger, with a key of each scope alone."""
    tokens: dict[str, str] = {}
    for scope in SCOPES:
        tokens[scope], kept = make_key(SECRET, scope, (scope,), 0)
        keys.add(kept)

    def clock() -> datetime:
        return NOW

    app = create_app(store, keys, SECRET, clock)
    client = stack.enter_context(TestClient(app, raise_server_exceptions=False))
    return Side(client, store, keys, tokens)


@pytest.fixture(
    scope="module", params=["memory", pytest.param("postgresql", marks=pytest.mark.postgres)]
)
def shops(request: pytest.FixtureRequest) -> Iterator[Shops]:
    """Both shops; theirs holds one of everything that an address can name."""
    with ExitStack() as stack:
        if request.param == "memory":
            ours = side(stack, MemoryStore(OURS), MemoryKeys())
            theirs = side(stack, MemoryStore(THEIRS), MemoryKeys())
        else:
            if missing := why_missing():
                pytest.skip(missing)
            server = Server(*HASTY)
            stack.callback(server.stop)
            address = server.new_database()
            migrate(address)
            stores = [stack.enter_context(closing(open_store(address, s))) for s in (OURS, THEIRS)]
            ours, theirs = (side(stack, store, SqlKeys(store)) for store in stores)
        yield Shops(ours, theirs, filled(theirs))


def filled(theirs: Side) -> dict[str, str]:
    """Record their facts, and return the ids by the names they have in addresses."""
    facts = [
        {**fact, "id": str(made_id(number, NOW)), "occurred_at": NOW.isoformat()}
        for number, fact in enumerate(FACTS)
    ]
    for fact in facts:
        told = theirs.ask(theirs.tokens["record"], "POST", "/v1/events", content=json.dumps(fact))
        assert told.status_code == 201, told.text
    body = {"label": MARK, "url": f"https://{MARK}.example/", "kinds": ["shipped"]}
    made = theirs.ask(theirs.tokens["admin"], "POST", "/v1/webhooks", content=json.dumps(body))
    assert made.status_code == 201, made.text
    return {
        "piece": f"{MARK}-1", "room": f"{MARK}-room", "gun": f"{MARK}-gun",
        "product": f"{MARK}-clear", "schedule": f"{MARK}-steps", "event": str(facts[-1]["id"]),
        "key": theirs.tokens["read"][4:12], "webhook": made.json()["webhook"]["webhook"],
        "order": f"{MARK}-order", "hold": f"{MARK}-hold",
    }  # fmt: skip


def address(operation: Operation, ids: dict[str, str]) -> str:
    """An operation's address with their ids in it, in the query too."""
    path = re.sub(r"\{(\w+)\}", lambda found: ids[found.group(1)], operation.path)
    fields = operation.query.__struct_fields__
    asked = [f"{name}={ids[name]}" for name in ("room",) if name in fields and name not in path]
    if "subject" in fields:
        asked.append(f"subject=piece:{ids['piece']}")
    return path + ("?" + "&".join(asked) if asked and "{room}" not in operation.path else "")


GUARDED = [o for o in OPERATIONS if o.scope is not None and o.name != "stream_events"]


@pytest.mark.parametrize("operation", GUARDED, ids=lambda one: one.name)
def test_no_key_of_ours_reaches_what_is_theirs(shops: Shops, operation: Operation) -> None:
    before = shops.theirs.size, shops.theirs.keys.all()
    target = address(operation, shops.ids)
    for scope in SCOPES:
        answer = shops.ours.ask(shops.ours.tokens[scope], operation.method, target, content="{}")
        if scope != operation.scope:
            refusal(answer, 403, "forbidden")
        elif "{" in operation.path:
            refusal(answer, 404, "not_found")
        else:
            assert answer.status_code < 500, answer.text
        if answer.is_success:
            told = answer.text.replace(f"piece:{shops.ids['piece']}", "")
            assert MARK not in told
            assert THEIRS not in told
            assert all(key.key_id not in told for key in before[1])
    assert (shops.theirs.size, [k._replace(used_us=None) for k in shops.theirs.keys.all()]) == (
        before[0], [key._replace(used_us=None) for key in before[1]],
    )  # fmt: skip


@pytest.mark.parametrize("operation", GUARDED, ids=lambda one: one.name)
def test_no_key_of_theirs_opens_anything_of_ours(shops: Shops, operation: Operation) -> None:
    target = address(operation, shops.ids)
    for token in shops.theirs.tokens.values():
        refusal(shops.ours.ask(token, operation.method, target), 401, "unauthorized")
    assert shops.ours.size == 0


@pytest.mark.parametrize("operation", GUARDED, ids=lambda one: one.name)
def test_which_shop_is_meant_is_said_by_the_key_and_by_nothing_else(
    shops: Shops, operation: Operation
) -> None:
    assert operation.scope is not None
    target = address(operation, shops.ids)
    target += ("&" if "?" in target else "?") + f"shop={THEIRS}"
    answer = shops.ours.ask(
        shops.ours.tokens[operation.scope], operation.method, target, content="{}"
    )
    assert 400 <= answer.status_code < 500, answer.text
    assert MARK not in answer.text.replace(shops.ids["piece"], "")


def test_their_own_keys_do_reach_each_id_of_the_matrix(shops: Shops) -> None:
    # Else a misspelt id would make every refusal above hold for the wrong reason.
    for operation in GUARDED:
        if operation.method == "GET" and "{" in operation.path and operation.scope == "read":
            target = address(operation, shops.ids)
            answer = shops.theirs.ask(shops.theirs.tokens["read"], "GET", target)
            assert answer.status_code != 404, answer.text
