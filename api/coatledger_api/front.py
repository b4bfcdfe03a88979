"""What every request passes, whatever its address: its number, its address's share, its log line.

The line names the operation and not the address asked for, and the key's id and not who called:
what is logged holds no token, no network address and no word of the shop's.
"""

import logging
import random
import time

from litestar.types import ASGIApp, Message, Receive, Scope, Send

from coatledger_api.exchange import refuse
from coatledger_api.limits import UNKNOWN_COSTS, neighbourhood
from coatledger_api.problems import ProblemError
from coatledger_api.service import Service
from coatledger_api.visit import VISIT, Visit

LOG = logging.getLogger("coatledger.requests")
# A monitor that is told to come back later would tell that the service is down.
EXEMPT = "/health/"


async def admit(
    service: Service, inner: ASGIApp, scope: Scope, receive: Receive, send: Send
) -> None:
    """Serve one HTTP request by the application within."""
    # No secret, it only tells requests apart; one of the system's would have to be waited for.
    visit = Visit(f"{random.getrandbits(64):016x}")
    visit.headers["X-Request-Id"] = visit.request_id
    entered = VISIT.set(visit)
    started_s = time.perf_counter()
    method = _method(scope)
    if service.watchers:
        named = {n.decode("latin-1"): v.decode("latin-1") for n, v in scope["headers"]}
        for watcher in service.watchers:
            watcher.begun(visit, method, named)
    client = scope.get("client")
    host = neighbourhood(client[0]) if client else None
    status = 0

    async def sending(message: Message) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
            more = [(n.lower().encode(), v.encode()) for n, v in visit.headers.items()]
            message["headers"] = [*message["headers"], *more]
        await send(message)

    try:
        if host is not None and not scope["path"].startswith(EXEMPT):
            service.limits.of_address(host)
        await inner(scope, receive, sending)
    except ProblemError as error:
        await refuse(error, sending, head=scope.get("method") == "HEAD")
    finally:
        if (status == 401 or visit.guessed) and host is not None:
            service.limits.addresses.spill(host, UNKNOWN_COSTS)
        took_s = time.perf_counter() - started_s
        for watcher in service.watchers:
            watcher.asked(visit, method, status, took_s)
        if service.settings.log_requests:
            _log(visit, method, status, took_s)
        VISIT.reset(entered)


def _method(scope: Scope) -> str:
    """Return the method of a request, never at length and never in strange letters."""
    method = str(scope.get("method"))
    return method[:20] if method.isascii() and method.isalpha() else "?"


def _log(visit: Visit, method: str, status: int, took_s: float) -> None:
    operation = visit.operation or "none"
    fields = {
        "method": method,
        "operation": operation,
        "status": status,
        "took_ms": round(took_s * 1000, 2),
        "key": visit.key_id,
    }
    LOG.info("%s %s %s", method, operation, status, extra={"fields": fields})
