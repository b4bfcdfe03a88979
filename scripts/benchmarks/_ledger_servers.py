"""The services that are measured, each in a process of its own: ours, a bare one, and a rival.

All three run under the same server with the same settings, check the same key and decode the body
with the same strict decoder. The bare one stores nothing. The rival keeps each body as one event of
a new aggregate with the library `eventsourcing`, saved in the loop or, as blocking work usually is,
in the framework's threads.
"""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import uvicorn
from coatledger.answers.pieces import PieceAnswer, piece_answer
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.decode import posted
from coatledger.subjects.asked import ask
from coatledger_adapters.keys import ApiKey, MemoryKeys
from coatledger_adapters.sql_store import open_store
from coatledger_api.app import create_app
from coatledger_api.keys import Keyring
from coatledger_api.rendering import for_people, shop_zone
from coatledger_api.routes.recording import Outcome, Recording
from coatledger_api.server import quiet_collector, server_of
from coatledger_api.settings import Settings
from litestar import Litestar, Request, get, post
from litestar.params import FromPath

SECRET = b"measured" * 4
KINDS = ("ours", "bare", "rival_loop", "rival_threads")


def key_of(told: str) -> ApiKey:
    """The one key, handed over by whoever started this process."""
    key_id, token_hash, scope = told.split(":")
    return ApiKey(key_id, "measure", frozenset({scope}), bytes.fromhex(token_hash), 0)


def now() -> datetime:
    """The system's clock."""
    return datetime.now(UTC)


def bare(keyring: Keyring) -> Litestar:
    """A handler as anybody would write it: who calls, what is said, an answer of the usual size."""

    @post("/v1/events")
    async def take(request: Request[Any, Any, Any]) -> Recording:
        keyring.recognise(request.headers.get("authorization"), "record")
        return answer(posted(await request.body()), 1)

    return Litestar([take], openapi_config=None)


def bare_reader(keyring: Keyring, address: str) -> Litestar:
    """A handler that holds the answer about one piece: who calls, and the struct as JSON."""
    store = open_store(address, "dune-end")
    with store.reading() as reader:
        word = next(iter(reader.shelf("piece", None, "", 1))).subject.partition(":")[2]
        held = piece_answer(reader, word, ask(reader, now()))
        assert held is not None
        told: PieceAnswer = for_people(held, shop_zone(reader, now()))
    store.close()

    @get("/v1/pieces/{piece:str}")
    async def read(request: Request[Any, Any, Any], piece: FromPath[str]) -> PieceAnswer:
        keyring.recognise(request.headers.get("authorization"), "read")
        return told

    return Litestar([read], openapi_config=None)


def rival(keyring: Keyring, save: Callable[[AnyEvent], int], *, threads: bool) -> Litestar:
    """The same handler, with one event saved before it answers."""

    def saved(authorization: str | None, body: bytes) -> Recording:
        keyring.recognise(authorization, "record")
        fact = posted(body)
        assert not isinstance(fact, tuple)
        return answer(fact, save(fact))  # type: ignore[arg-type]

    if threads:

        @post("/v1/events", sync_to_thread=True)
        def take(request: Request[Any, Any, Any], body: bytes) -> Recording:
            return saved(request.headers.get("authorization"), body)

        return Litestar([take], openapi_config=None)

    @post("/v1/events")
    async def take_in_loop(request: Request[Any, Any, Any]) -> Recording:
        return saved(request.headers.get("authorization"), await request.body())

    return Litestar([take_in_loop], openapi_config=None)


def answer(fact: Any, position: int) -> Recording:
    """What a client is told."""
    told = Outcome(id=fact.id, position=position, recorded_at=now())
    return Recording(position=position, cursor=f"measured.{position}", events=(told,))


def main(kind: str, port: int, address: str, told: str) -> None:
    """Serve until told to stop."""
    key = key_of(told)
    # A crowd of devices shares one key and one address here, and is not to be slowed down for it.
    settings = Settings(
        key_requests_per_s=1e6, key_burst=10**7, address_requests_per_s=1e6, address_burst=10**7
    )
    with socket.create_server(("127.0.0.1", port)) as listener:
        if kind in ("ours", "read_ours"):
            store = open_store(address, "dune-end")
            app = create_app(store, MemoryKeys([key]), SECRET, now, settings)
            server_of(app, "127.0.0.1", port, settings).run(sockets=[listener])
            store.close()
            return
        keyring = Keyring(MemoryKeys([key]), SECRET, now, settings.key_cache_s)
        if kind == "bare":
            app = bare(keyring)
        elif kind == "read_bare":
            app = bare_reader(keyring, address)
        else:
            from _ledger_rival import saver

            app = rival(keyring, saver(address), threads=kind == "rival_threads")
        config = uvicorn.Config(
            app, host="127.0.0.1", port=port, log_level="warning", access_log=False,
            server_header=False,
        )  # fmt: skip
        quiet_collector()
        uvicorn.Server(config).run(sockets=[listener])


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4])
