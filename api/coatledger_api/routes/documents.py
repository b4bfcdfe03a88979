"""The contract, the documentation made of it, and what each problem means."""

from collections.abc import Mapping
from html import escape
from typing import Annotated, Any

import msgspec
from coatledger.refusal import RULES
from msgspec import Meta, Struct

from coatledger_api.contract.docs_page import docs_page
from coatledger_api.negotiate import JSON
from coatledger_api.operations import Call, Operation, Reply, running
from coatledger_api.pages import HEADERS, inline, page, table
from coatledger_api.parameters import Nothing
from coatledger_api.problems import KINDS, ProblemError, type_of

HTML = "text/html"


class ProblemKind(Struct, frozen=True, kw_only=True):
    """What a kind of problem is, why it arises and what to do."""

    type: str
    title: str
    status: int
    meaning: str
    remedy: str


class OneKind(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which kind of problem."""

    kind: Annotated[str, Meta(pattern="^[a-z_]{3,40}$", description="The kind of problem.")]


@running("GET", "/openapi.json", tag="Documents", scope=None, answers={JSON: dict})
async def read_contract(call: Call[Nothing]) -> Reply:
    """Read this contract, an OpenAPI 3.1 document."""
    return Reply(call.service.contract())


@running("GET", "/docs", tag="Documents", scope=None, answers={HTML: str})
async def read_docs(call: Call[Nothing]) -> Reply:
    """Read the documentation as a page that needs no network."""
    document: Mapping[str, Any] = msgspec.json.decode(call.service.contract())
    body = await call.service.in_thread(lambda: docs_page(document))
    return Reply(body, media_type="text/html; charset=utf-8", headers=HEADERS)


@running("GET", "/problems", tag="Documents", scope=None, answers={HTML: str})
async def list_problems(call: Call[Nothing]) -> Reply:
    """List every kind of problem this service tells."""
    rows = (
        (f'<a href="{type_of(kind)}">{kind}</a>', str(rule.status), inline(rule.title))
        for kind, rule in KINDS.items()
    )
    body = "<h1>Problems</h1>" + table(("kind", "status", "title"), rows)
    return _html(page("coatledger: problems", body))


@running("GET", "/problems/{kind}", tag="Documents", scope=None,
         answers={HTML: str, JSON: ProblemKind}, problems=("not_found",))  # fmt: skip
async def read_problem(call: Call[OneKind]) -> Reply:
    """Read what a kind of problem means, why it arises and what to do."""
    kind = call.query.kind
    rule = KINDS.get(kind)
    if rule is None:
        raise ProblemError("not_found", f"no problem is called {kind}")
    if call.media_type == JSON:
        told = ProblemKind(
            type=type_of(kind),
            title=rule.title,
            status=rule.status,
            meaning=rule.meaning,
            remedy=rule.remedy,
        )
        return Reply(msgspec.json.encode(told))
    whose = "A fact was refused" if kind in RULES else "A request was refused"
    body = (
        f"<h1>{escape(rule.title)}</h1><p class=quiet><code>{type_of(kind)}</code>, "
        f"HTTP status {rule.status}. {whose}; nothing was recorded by it.</p>"
        f"<dl><dt>What it means and why it arises</dt><dd>{inline(rule.meaning)}</dd>"
        f"<dt>What to do</dt><dd>{inline(rule.remedy)}</dd></dl>"
        "<p>What was wrong this time stands in the answer itself: <code>detail</code> in a "
        "sentence, <code>faults</code> one by one, each with its place. "
        '<a href="/problems">Every kind of problem</a>.</p>'
    )
    return _html(page(f"coatledger: {rule.title}", body))


OPERATIONS: tuple[Operation, ...] = (read_contract, read_docs, list_problems, read_problem)


def _html(body: bytes) -> Reply:
    return Reply(body, media_type="text/html; charset=utf-8", headers=HEADERS)
