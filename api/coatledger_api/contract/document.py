"""The contract: an OpenAPI 3.1 document made of the operations and the types that decode.

What msgspec checks is what it documents, so a body that fits the document is one that is read. On
top come closed objects, examples, and the problems each operation may end in.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from coatledger_api.contract.examples import answer_examples, body_examples, parameter_example
from coatledger_api.contract.links import links_of
from coatledger_api.contract.messages import TYPES, webhooks_of
from coatledger_api.contract.schemas import REF, Components
from coatledger_api.negotiate import JSON
from coatledger_api.operations import Operation
from coatledger_api.problems import KINDS, MEDIA_TYPE, Problem, ProblemError

TAGS_OF_OPERATIONS: Mapping[str, str] = {
    "Events": "Facts in, and the feed of everything recorded out.",
    "Shop": "The shop as it was described.",
    "Pieces": "Where each piece stands, what dries, and what may come next.",
    "Promises": "When it ships: quoted, held for a customer, promised, and what it is worth now.",
    "Numbers": "What comes back, and how fast work leaves.",
    "Proofs": "What can be proven to a stranger: a piece's pack, and the ledger's signed head.",
    "Printed": "Labels, travellers, care cards and packing slips, to print.",
    "Calculations": "The trade's numbers, each beside its source; no history is needed.",
    "Keys": "Who may do what.",
    "Webhooks": "Who is told outside, of what, and how far each message got.",
    "Health": "Whether the service is well.",
    "Documents": "The contract, and what the problems mean.",
    "Pages": "The pages of the shop; they hold nothing of it until a paired device asks.",
}
_STATUS_SAYS: Mapping[int, str] = {
    200: "Here it is.", 201: "Recorded.", 204: "Done.", 304: "What you hold is still so.",
    503: "Not able to work.",
}  # fmt: skip
_OF_THE_LEDGER = ("Events", "Shop", "Pieces", "Numbers", "Printed")
_EVERYWHERE = ("bad_request", "not_acceptable", "internal")
_HEADERS: Mapping[str, Any] = {
    "Coatledger-Position": {
        "description": "The position of the ledger that the answer reflects.",
        "schema": {"type": "integer", "minimum": 0},
    },
    "ETag": {"description": "The hash of the answer.", "schema": {"type": "string"}},
    "Link": {
        "description": "RFC 8288: where the next page is.",
        "schema": {"type": "string"},
    },
    "RateLimit-Policy": {
        "description": "How many requests a key has at once (q), and in how many seconds they "
        "grow again (w).",
        "schema": {"type": "string"},
        "example": '"key";q=4000;w=20',
    },
    "RateLimit": {
        "description": "How many requests are left (r), and in how many seconds all are there "
        "again (t).",
        "schema": {"type": "string"},
        "example": '"key";r=3999;t=1',
    },
    "Retry-After": {
        "description": "RFC 9110: after how many seconds to ask again.",
        "schema": {"type": "integer", "minimum": 1},
    },
    "X-Request-Id": {
        "description": "The request's number, which stands in the service's log.",
        "schema": {"type": "string"},
    },
    "Preference-Applied": {
        "description": "RFC 7240: which preference was followed.",
        "schema": {"type": "string"},
    },
}


def document(operations: Sequence[Operation], version: str) -> dict[str, Any]:
    """Write the whole contract."""
    parameters = [o.query for o in operations if o.query.__struct_fields__]
    components = Components(_types(operations), tuple(dict.fromkeys(parameters)))
    paths: dict[str, dict[str, Any]] = {}
    for operation in operations:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _operation(
            operation, components
        )
    used = {operation.tag for operation in operations}
    assert used <= TAGS_OF_OPERATIONS.keys(), used - TAGS_OF_OPERATIONS.keys()
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "coatledger",
            "version": version,
            "summary": "The production ledger of a finishing shop",
            "description": "Record what happens at the bench as facts that are never changed, and "
            "ask what may be touched now, when it ships, why pieces come back, how fast work "
            "leaves, and what exactly was done to a piece.",
            "contact": {"name": "Whoever runs this service"},
            "license": {"name": "Apache License 2.0", "identifier": "Apache-2.0"},
        },
        "servers": [{"url": "/", "description": "This service."}],
        "tags": [
            {"name": name, "description": says}
            for name, says in TAGS_OF_OPERATIONS.items()
            if name in used
        ],
        "paths": paths,
        "webhooks": webhooks_of(components),
        "components": {
            "schemas": components.schemas,
            "headers": _HEADERS,
            "securitySchemes": {
                "key": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "A key of this shop: `Authorization: Bearer clk_…`.",
                },
                "password": {
                    "type": "http",
                    "scheme": "basic",
                    "description": "The same key as the password of HTTP Basic, with any user: "
                    "for calendar programs, which know no other way.",
                },
            },
        },
    }


def _types(operations: Sequence[Operation]) -> list[Any]:
    types: list[Any] = [Problem, *TYPES]
    for operation in operations:
        types += [kind for kind in operation.answers.values() if kind not in (str, dict)]
        types += [operation.body] if operation.body is not None else []
    return types


def _operation(operation: Operation, components: Components) -> dict[str, Any]:
    described: dict[str, Any] = {
        "operationId": operation.name,
        "tags": [operation.tag],
        "summary": operation.summary.rstrip("."),
        "description": operation.description or operation.summary,
    }
    if operation.deprecated is not None:
        described["deprecated"] = True
        described["description"] += f"\n\n{operation.deprecated.words()}"
    parameters = _parameters(operation, components)
    if parameters:
        described["parameters"] = parameters
    if operation.body is not None:
        described["requestBody"] = {
            "required": True,
            "content": {
                JSON: {
                    "schema": components.schema(operation.body),
                    "examples": body_examples(operation.name, operation.path),
                }
            },
        }
    described["responses"] = _responses(operation, components)
    described["security"] = [] if operation.scope is None else [{"key": []}]
    if operation.basic:
        described["security"].append({"password": []})
    if operation.scope is not None:
        described["description"] += f"\n\nNeeds a key with the scope `{operation.scope}`."
        described["x-scope"] = operation.scope
    return described


def _parameters(operation: Operation, components: Components) -> list[dict[str, Any]]:
    found = []
    schema = components.parameters_of(operation.query)
    for name, kind in schema["properties"].items():
        in_path = "{" + name + "}" in operation.path
        shown = {key: value for key, value in kind.items() if key not in ("default", "description")}
        parameter: dict[str, Any] = {
            "name": name,
            "in": "path" if in_path else "query",
            "required": in_path or name in schema.get("required", ()),
            "description": kind.get("description") or f"The {name.replace('_', ' ')}.",
            "schema": _without_null(shown),
        }
        example = _fitting(parameter_example(name), parameter["schema"])
        if example is not None:
            parameter["example"] = example
        found.append(parameter)
    if operation.name == "record_events":
        found.append(dict(_PREFER))
    return found


_PREFER: Mapping[str, Any] = {
    "name": "Prefer",
    "in": "header",
    "required": False,
    "description": "RFC 7240. `handling=lenient` records or refuses each fact by itself, "
    "`return=minimal` leaves findings out; what is not known is ignored.",
    "schema": {"type": "string"},
    "example": "return=minimal",
}


def _fitting(example: Any, schema: Mapping[str, Any]) -> Any:
    """Fit the example of a name to a parameter of that name: one of several, or of a few words."""
    if example is None:
        return None
    if "enum" in schema and example not in schema["enum"]:
        return schema["enum"][0]
    if schema.get("type") == "array" and not isinstance(example, list):
        return [_fitting(example, schema["items"])]
    return example


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """A parameter that may be left out is never the text `null`."""
    kinds = [kind for kind in schema.get("anyOf", ()) if kind != {"type": "null"}]
    if not kinds:
        return schema
    rest = {key: value for key, value in schema.items() if key != "anyOf"}
    return {**kinds[0], **rest} if len(kinds) == 1 else {**rest, "anyOf": kinds}


def _responses(operation: Operation, components: Components) -> dict[str, Any]:
    responses: dict[str, Any] = {}
    content: dict[str, Any] = {}
    for media_type, kind in operation.answers.items():
        content[media_type] = {"schema": components.schema(kind)}
        examples = answer_examples(operation.name, media_type)
        if examples:
            content[media_type]["examples"] = examples
    names = ["Coatledger-Position"] if operation.tag in _OF_THE_LEDGER else []
    names += ["ETag"] if operation.method == "GET" else ["Preference-Applied"]
    names += ["Link"] if operation.name == "read_feed" else []
    names += ["RateLimit-Policy", "RateLimit"] if operation.scope is not None else []
    names += ["X-Request-Id"]
    headers, links = _headers(names), links_of(operation.name)
    for status in operation.status:
        says = _STATUS_SAYS[status]
        responses[str(status)] = {"description": says, "headers": headers}
        if content:
            responses[str(status)]["content"] = content
        if links:
            responses[str(status)]["links"] = links
    if operation.method == "GET":
        responses["304"] = {"description": _STATUS_SAYS[304]}
    for status, kinds in sorted(_problems(operation).items()):
        responses.setdefault(str(status), _problem_response(kinds))
    return responses


def _problems(operation: Operation) -> dict[int, list[str]]:
    kinds = [*_EVERYWHERE, *operation.problems]
    if operation.scope is not None:
        kinds += ["unauthorized", "forbidden", "updating"]
    if operation.tag != "Health":
        kinds += ["too_many_requests"]
    if operation.reads is not None and operation.scope is not None:
        kinds += ["parked"]
    if operation.body is not None:
        kinds += ["unsupported_media_type", "too_large", "malformed", "invalid"]
    if operation.query.__struct_fields__ or operation.method == "GET":
        kinds += ["invalid"]
    if "{" in operation.path:
        kinds += ["not_found"]
    by_status: dict[int, list[str]] = {}
    for kind in dict.fromkeys(kinds):
        by_status.setdefault(KINDS[kind].status, []).append(kind)
    return by_status


def _problem_response(kinds: Sequence[str]) -> dict[str, Any]:
    names = ["X-Request-Id"]
    if "too_many_requests" in kinds:
        names = ["Retry-After", "RateLimit-Policy", "RateLimit", *names]
    return {
        "description": " ".join(f"{KINDS[kind].title}." for kind in kinds),
        "headers": _headers(names),
        "content": {
            MEDIA_TYPE: {
                "schema": {"$ref": REF.format(name="Problem")},
                "examples": {kind: {"value": _sample(kind)} for kind in kinds},
            }
        },
    }


def _headers(names: Sequence[str]) -> dict[str, Any]:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in names}


def _sample(kind: str) -> Any:
    epoch = "3f9c0a7d51b2e846" if kind == "feed_rewound" else None
    problem = ProblemError(kind, KINDS[kind].meaning, epoch=epoch).problem
    return msgspec.to_builtins(problem)
