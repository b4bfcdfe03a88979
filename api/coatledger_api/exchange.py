"""One HTTP exchange: who calls, what for, in which form; then the operation, then its answer."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from coatledger.ledger.store import Reader
from coatledger.refusal import Refused
from coatledger.subjects.parked import ParkedError
from coatledger_adapters.keys import ApiKey
from coatledger_adapters.room import CannotWriteError
from coatledger_adapters.sql_reader import StaleFoldsError
from litestar.types import Receive, Scope, Send
from msgspec import Struct

from coatledger_api import origins
from coatledger_api.kept import Question
from coatledger_api.negotiate import choose, etag_of, is_known, require_json
from coatledger_api.operations import ENCODER, Call, Operation, Reply, Streaming
from coatledger_api.parameters import read_parameters
from coatledger_api.problems import (
    MEDIA_TYPE,
    Problem,
    ProblemError,
    body_of_problem,
    problem_of,
)
from coatledger_api.rendering import for_people, shop_zone
from coatledger_api.sent import require_room, send_reply, send_stream
from coatledger_api.service import Service
from coatledger_api.visit import VISIT

LOG = logging.getLogger(__name__)
# What was answered is about one shop and may be wrong a second later: keep it, but ask again.
_CACHE = "private, no-cache"


class Disconnected(Exception):  # noqa: N818 - nothing is wrong, the client left
    """The client went away before its request was whole."""


async def exchange(
    service: Service, operations: Mapping[str, Operation], scope: Scope, receive: Receive,
    send: Send,
) -> None:  # fmt: skip
    """Serve one request to an address, of which `operations` are the methods."""
    head = scope["method"] == "HEAD"  # type: ignore[typeddict-item]
    try:
        answer = await _answer(service, operations, scope, receive)
    except Disconnected:
        return
    except Refused as refusal:
        answer = _reply_of(problem_of(refusal.faults))
    except ProblemError as error:
        answer = _reply_of(error.problem, error.headers)
    except ParkedError as parked:
        LOG.error("set apart: %s", parked.says, exc_info=parked)
        answer = _reply_of(ProblemError("parked", parked.says).problem)
    except CannotWriteError as full:
        answer = _reply_of(ProblemError("no_room", str(full)).problem)
    except StaleFoldsError as stale:
        after = {"Retry-After": str(service.settings.retry_after_s)}
        answer = _reply_of(ProblemError("updating", str(stale)).problem, after)
    except Exception:
        LOG.exception("%s %s failed", scope["method"], scope["path"])  # type: ignore[typeddict-item]
        answer = _reply_of(ProblemError("internal", "the service logged what went wrong").problem)
    if isinstance(answer, Streaming):
        await send_stream(service, answer, receive, send, head=head)
    else:
        await send_reply(answer, send, head=head)


async def refuse(error: ProblemError, send: Send, *, head: bool) -> None:
    """Answer with a problem before an operation was looked for."""
    await send_reply(_reply_of(error.problem, error.headers), send, head=head)


async def _answer(
    service: Service, operations: Mapping[str, Operation], scope: Scope, receive: Receive
) -> Reply | Streaming:
    method = scope["method"]  # type: ignore[typeddict-item]
    operation = operations.get("GET" if method == "HEAD" else method)
    if method == "OPTIONS":
        return Reply(b"", 204, "", _leave(service, operations, scope))
    if operation is None:
        raise _not_allowed(operations)
    visit = VISIT.get()
    if visit is not None:
        visit.operation = operation.name
        if operation.deprecated is not None:
            visit.headers.update(operation.deprecated.headers())
    headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
    key = None
    if operation.scope is not None:
        key = service.keyring.recognise(
            _authorization(service, operation, headers, scope["query_string"]), operation.scope,
            method, basic=operation.basic,
        )  # fmt: skip
        if operation.front:
            origins.require_no_secret(key, headers.get("origin"))
        _note_use(service, key)
        if visit is not None:
            visit.key_id = key.key_id
            visit.headers.update(service.limits.of_key(key.key_id))
    media_type = choose(headers.get("accept"), tuple(operation.answers))
    known = headers.get("if-none-match")
    if operation.kept and service.kept.keeps:
        question = (scope["path"], scope["query_string"], media_type)

        async def work() -> Reply:
            query = read_parameters(operation.query, scope["path_params"], scope["query_string"])
            call = Call(service, query, headers, media_type, key)
            return _tagged(await _run(operation, call), operation)

        return _unless_known(await _kept(service, question, work), known)
    body = b""
    if operation.body is not None:
        require_json(headers.get("content-type"), headers.get("content-encoding"))
        body = await _body(receive, headers.get("content-length"), service.settings.body_bytes_max)
    query = read_parameters(operation.query, scope["path_params"], scope["query_string"])
    call = Call(service, query, headers, media_type, key, body)
    reply = await _run(operation, call)
    if isinstance(reply, Streaming):
        require_room(service)
    elif operation.method == "GET" and reply.status == 200:
        return _unless_known(_tagged(reply, operation), known)
    return reply


def _authorization(
    service: Service, operation: Operation, headers: Mapping[str, str], query: bytes
) -> str | None:
    """Return what the caller shows; a page of an allowed origin may read whatever comes of it."""
    if not operation.front:
        return headers.get("authorization")
    visit = VISIT.get()
    if visit is not None:
        allowed = service.settings.storefront_origins
        visit.headers.update(origins.answer_headers(allowed, headers.get("origin")))
    return origins.authorization_of(headers.get("authorization"), query)


def _leave(
    service: Service, operations: Mapping[str, Operation], scope: Scope
) -> Mapping[str, str]:
    """Tell the methods there are, and a browser whether its page may use them."""
    allow = {"Allow": _allowed(operations)}
    if not any(operation.front for operation in operations.values()):
        return allow
    origin = dict(scope["headers"]).get(b"origin")
    named = None if origin is None else origin.decode("latin-1")
    return {**allow, **origins.leave_headers(service.settings.storefront_origins, named)}


async def _kept(
    service: Service, question: Question, work: Callable[[], Awaitable[Reply]]
) -> Reply:
    """Answer with what is kept, unless something was recorded: this process knows what it wrote
    itself, and asks when others may write, too."""
    if not service.writes_alone:
        head = await service.read(lambda reader: reader.head())
        service.kept.at(head.epoch, head.size)
    kept: Reply = await service.kept.answer(question, work)
    return kept


async def _run(operation: Operation, call: Call[Any]) -> Reply | Streaming:
    if operation.runs is not None:
        return await operation.runs(call)
    assert operation.reads is not None
    reads = operation.reads

    def read(reader: Reader) -> Struct | Reply:
        answer = reads(call, reader)
        if isinstance(answer, Reply):
            return answer
        shown: Struct = for_people(answer, shop_zone(reader, call.service.clock()))
        return shown

    answer = await call.service.read(read)
    if isinstance(answer, Reply):
        return answer
    position = getattr(answer, "position", None)
    headers = {} if position is None else {"Coatledger-Position": str(position)}
    return Reply(ENCODER.encode(answer), media_type=call.media_type, headers=headers)


def _tagged(reply: Reply | Streaming, operation: Operation) -> Reply:
    """Give an answer its entity tag and say who may keep it."""
    assert isinstance(reply, Reply)
    vary = "Accept" if operation.scope is None else "Accept, Authorization"
    kept = {"ETag": etag_of(reply.body), "Cache-Control": _CACHE, "Vary": vary}
    return Reply(reply.body, reply.status, reply.media_type, {**kept, **reply.headers})


def _unless_known(reply: Reply, if_none_match: str | None) -> Reply:
    """Leave the body out when the client holds it."""
    if reply.status == 200 and is_known(if_none_match, reply.headers["ETag"]):
        return Reply(b"", 304, "", reply.headers)
    return reply


def _note_use(service: Service, key: ApiKey) -> None:
    at_us = service.keyring.to_note(key)
    if at_us is not None:
        asyncio.get_running_loop().run_in_executor(
            None, service.keyring.book.used, key.key_id, at_us
        )


async def _body(receive: Receive, declared: str | None, most: int) -> bytes:
    """Read the body, but never more of it than is taken."""
    detail = f"a body has at most {most} bytes"
    if declared is not None and declared.isdigit() and int(declared) > most:
        raise ProblemError("too_large", detail, headers={"Connection": "close"})
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise Disconnected
        part = message.get("body", b"")
        size += len(part)
        if size > most:
            raise ProblemError("too_large", detail, headers={"Connection": "close"})
        parts.append(part)
        if not message.get("more_body", False):
            return parts[0] if len(parts) == 1 else b"".join(parts)


def _allowed(operations: Mapping[str, Operation]) -> str:
    return ", ".join(sorted({*operations, "OPTIONS", *(("HEAD",) if "GET" in operations else ())}))


def _not_allowed(operations: Mapping[str, Operation]) -> ProblemError:
    allowed = _allowed(operations)
    return ProblemError("method_not_allowed", f"allowed: {allowed}", headers={"Allow": allowed})


def _reply_of(problem: Problem, headers: Mapping[str, str] | None = None) -> Reply:
    kept = {"Cache-Control": "no-store", **(headers or {})}
    return Reply(body_of_problem(problem), problem.status, MEDIA_TYPE, kept)
