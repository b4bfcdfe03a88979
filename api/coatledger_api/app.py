"""The service as one ASGI application: every address of every operation, and what HTTP asks for.

Litestar routes, starts and stops; each address goes to `exchange`, which treats all of them alike.
"""

import functools
import logging
import re
from collections.abc import AsyncIterator, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from datetime import datetime
from importlib.metadata import version
from typing import Any

import msgspec
from coatledger.ledger.store import Store
from coatledger_adapters.checkpoints import CheckpointBook, MemoryCheckpoints
from coatledger_adapters.keys import KeyBook
from coatledger_adapters.signing import signer_of
from coatledger_adapters.sql_store import SqlStore
from coatledger_adapters.webhooks.book import WebhookBook
from coatledger_adapters.webhooks.memory_book import MemoryWebhooks
from coatledger_adapters.webhooks.sending import Sender
from coatledger_adapters.webhooks.sql_book import SqlWebhooks
from litestar import Litestar, Request, Response, asgi
from litestar.exceptions import HTTPException
from litestar.handlers import HTTPRouteHandler
from litestar.handlers.base import BaseRouteHandler
from litestar.types import ASGIApp, Receive, Scope, Send

from coatledger_api.contract.document import document
from coatledger_api.exchange import exchange
from coatledger_api.front import admit
from coatledger_api.observing import watch
from coatledger_api.operations import Operation
from coatledger_api.problems import MEDIA_TYPE, ProblemError, body_of_problem
from coatledger_api.routes import (
    calculations,
    day_plan,
    documents,
    feed,
    findings,
    flat,
    health,
    holds,
    keys,
    labels,
    life,
    numbers,
    pairing,
    pieces,
    printed,
    promise_score,
    promises,
    proofs,
    quality,
    recording,
    reports,
    rooms,
    schedules,
    shop,
    shop_pages,
    storefront,
    stream,
    watched,
    webhook_messages,
    webhooks,
)
from coatledger_api.selling.watch import PromiseWatch
from coatledger_api.service import Service
from coatledger_api.settings import Settings

LOG = logging.getLogger(__name__)
OPERATIONS: tuple[Operation, ...] = (
    *recording.OPERATIONS,
    *feed.OPERATIONS,
    *stream.OPERATIONS,
    *shop.OPERATIONS,
    *rooms.OPERATIONS,
    *schedules.OPERATIONS,
    *pieces.OPERATIONS,
    *life.OPERATIONS,
    *findings.OPERATIONS,
    *promise_score.OPERATIONS,
    *promises.OPERATIONS,
    *holds.OPERATIONS,
    *storefront.OPERATIONS,
    *day_plan.OPERATIONS,
    *numbers.OPERATIONS,
    *quality.OPERATIONS,
    *flat.OPERATIONS,
    *reports.OPERATIONS,
    *labels.OPERATIONS,
    *printed.OPERATIONS,
    *proofs.OPERATIONS,
    *calculations.OPERATIONS,
    *keys.OPERATIONS,
    *pairing.OPERATIONS,
    *webhooks.OPERATIONS,
    *webhook_messages.OPERATIONS,
    *health.OPERATIONS,
    *watched.OPERATIONS,
    *documents.OPERATIONS,
    *shop_pages.OPERATIONS,
)
# An address with one parameter, which is all of its last part.
ENDING = re.compile(r"([^{]*)/\{(\w+)\}$")
_KIND_OF_STATUS: Mapping[int, str] = {
    400: "bad_request", 404: "not_found", 405: "method_not_allowed",
}  # fmt: skip


class App(Litestar):
    """The application; every request passes the front first, those to no address too.

    What is asked of a whole address as it is written needs no router: that spares a fifth. Nor
    does one whose last part alone is a parameter: `ending` names it by what stands before.
    """

    service: Service
    whole: Mapping[str, ASGIApp]
    ending: Mapping[str, tuple[str, ASGIApp]]

    async def __call__(self, scope: Any, receive: Any, send: Any) -> None:
        """Serve one connection."""
        if scope["type"] != "http":
            await super().__call__(scope, receive, send)
            return
        found = self.whole.get(scope["path"])
        if found is None:
            found = self._ending_of(scope) or super().__call__
        await admit(self.service, found, scope, receive, send)

    def _ending_of(self, scope: Any) -> ASGIApp | None:
        start, _, last = scope["path"].rpartition("/")
        if not last or start not in self.ending:
            return None
        name, found = self.ending[start]
        scope["path_params"] = {name: last}
        return found


def create_app(
    store: Store, keys: KeyBook, secret: bytes, clock: Callable[[], datetime],
    settings: Settings | None = None, heads: CheckpointBook | None = None,
    sender: Sender | None = None,
) -> Litestar:  # fmt: skip
    """Make the application of one shop's ledger.

    `clock` is the system's, in UTC; only tests and the demonstration give another. `secret` is what
    tokens are hashed under. Without a book of signed `heads` one is kept in memory and signed with
    a key made of the secret, as trials do. Tests give a `sender` of webhooks that resolves names
    its own way. The running service stands in `app.state.service`.
    """
    heads = heads or MemoryCheckpoints(store, signer_of(secret, store.shop))
    settings, book = settings or Settings(), _webhooks_of(store)
    service = Service(store, keys, secret, clock, settings, contract, heads, book, sender)

    watch(service)
    if service.settings.watch_every_s:
        service.followers.append(PromiseWatch(service, service.watched).run)

    @asynccontextmanager
    async def life(app: Litestar) -> AsyncIterator[None]:
        service.start()
        try:
            yield
        finally:
            await service.stop()

    by_path = _by_path(OPERATIONS)
    app = App(
        route_handlers=[_handler(service, path, methods) for path, methods in by_path.items()],
        lifespan=[life],
        exception_handlers={HTTPException: _http_problem, Exception: _failed},
        openapi_config=None,
        logging_config=None,
    )
    app.state.service = app.service = service
    served = {path: _plain(service, methods) for path, methods in by_path.items()}
    app.whole = {path: one for path, one in served.items() if "{" not in path}
    app.ending = {m[1]: (m[2], one) for path, one in served.items() if (m := ENDING.match(path))}
    return app


def _webhooks_of(store: Store) -> WebhookBook:
    return SqlWebhooks(store) if isinstance(store, SqlStore) else MemoryWebhooks(store.shop)


@functools.cache
def contract() -> bytes:
    """Write the OpenAPI document of all operations."""
    return msgspec.json.encode(document(OPERATIONS, version("coatledger")))


def _by_path(operations: Sequence[Operation]) -> Mapping[str, Mapping[str, Operation]]:
    by_path: dict[str, dict[str, Operation]] = {}
    for operation in operations:
        assert operation.method not in by_path.get(operation.path, {}), operation
        by_path.setdefault(operation.path, {})[operation.method] = operation
    return by_path


def _plain(service: Service, methods: Mapping[str, Operation]) -> ASGIApp:
    """Serve an address, without asking the framework for anything."""

    async def plain(scope: Scope, receive: Receive, send: Send) -> None:
        scope.setdefault("path_params", {})
        await exchange(service, methods, scope, receive, send)

    return plain


def _handler(service: Service, path: str, methods: Mapping[str, Operation]) -> BaseRouteHandler:
    """Give an address to Litestar: bare ASGI where it can, which is twice as quick."""
    if "{" not in path:
        return asgi(path, copy_scope=False)(_plain(service, methods))

    async def answering(request: Request[Any, Any, Any]) -> ASGIApp:
        async def answer(scope: Scope, receive: Receive, send: Send) -> None:
            await exchange(service, methods, scope, receive, send)

        return answer

    allowed = [*methods, *(("HEAD",) if "GET" in methods else ())]
    typed = path.replace("}", ":str}")
    return HTTPRouteHandler(typed, http_method=allowed, status_code=200)(answering)


def _http_problem(_: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """Tell what the router refuses as a problem."""
    kind = _KIND_OF_STATUS.get(error.status_code, "bad_request")
    allowed = (error.headers or {}).get("allow")
    detail = error.detail if kind == "bad_request" else _DETAILS[kind]
    return _response(ProblemError(kind, detail, headers={"Allow": allowed} if allowed else None))


_DETAILS: Mapping[str, str] = {
    "not_found": "there is no such address",
    "method_not_allowed": "see the Allow header",
}


def _failed(request: Request[Any, Any, Any], error: Exception) -> Response[bytes]:
    LOG.error("%s %s failed", request.method, request.url.path, exc_info=error)
    return _response(ProblemError("internal", "the service logged what went wrong"))


def _response(error: ProblemError) -> Response[bytes]:
    return Response(
        body_of_problem(error.problem),
        status_code=error.problem.status,
        media_type=MEDIA_TYPE,
        headers={**error.headers, "Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"},
    )
