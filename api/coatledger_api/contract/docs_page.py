"""The documentation as one page, written from the OpenAPI document; it needs no network."""

import json
from collections.abc import Iterator, Mapping
from html import escape
from typing import Any

from coatledger_api.pages import inline, page, paragraphs, table

_ABOUT = (
    '<p>Made of <a href="/openapi.json">the OpenAPI document</a>. What went wrong is told as '
    '<a href="/problems">problems</a>. Every address but those open to all asks for '
    "<code>Authorization: Bearer clk_…</code>.</p>"
)
# What may change is said where those look who must live with it.
_VERSIONS = (
    "<h2 id=versions>Versions</h2><p>Addresses of the ledger begin with the version of the "
    "contract, <code>/v1</code>. Within it no address, parameter, field or word goes, nothing more "
    "must be sent, and nothing is refused that was taken. Addresses, fields, words, kinds of "
    "events and of problems may be added: pass over what you do not know. Before version 1.0 of "
    "the program even that may change with the second number; the list of changes says so.</p>"
    "<p>What is to go is told half a year before, here and in each answer of its address: "
    "<code>Deprecation</code> (RFC 9745) says since when, <code>Sunset</code> (RFC 8594) when it "
    "ends, <code>Link</code> what comes instead.</p>"
)
_METHODS = ("get", "post", "put", "patch", "delete")


def docs_page(document: Mapping[str, Any]) -> bytes:
    """Write the page."""
    info = document["info"]
    parts = [
        f"<h1>{escape(info['title'])} <span class=quiet>{escape(info['version'])}</span></h1>",
        paragraphs(info["description"]),
        _ABOUT,
        _VERSIONS,
        _contents(document),
    ]
    for tag in document["tags"]:
        parts.append(f"<h2>{escape(tag['name'])}</h2><p>{inline(tag['description'])}</p>")
        parts += [
            _operation(method, path, one)
            for method, path, one in _operations(document)
            if tag["name"] in one["tags"]
        ]
    parts.append("<h2>Forms</h2><p>Every object, in order of name.</p>")
    parts += [_schema(name, one) for name, one in document["components"]["schemas"].items()]
    return page("coatledger: the addresses and the forms", "\n".join(parts))


def _operations(document: Mapping[str, Any]) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    for path, methods in document["paths"].items():
        for method in _METHODS:
            if method in methods:
                yield method.upper(), path, methods[method]


def _contents(document: Mapping[str, Any]) -> str:
    links = "".join(
        f'<li><a href="#{one["operationId"]}"><code>{method} {escape(path)}</code></a></li>'
        for method, path, one in _operations(document)
    )
    return f"<nav aria-label=Addresses><ul>{links}</ul></nav>"


def _operation(method: str, path: str, one: Mapping[str, Any]) -> str:
    parts = [
        f'<h3 id="{one["operationId"]}">{inline(one["summary"])}</h3>',
        f"<p class=at><b>{method}</b> {escape(path)}</p>",
        paragraphs(one["description"]),
        table(
            ("parameter", "in", "form", "what"),
            (
                (
                    f"<code>{escape(p['name'])}</code>{'' if p['required'] else ' (optional)'}",
                    p["in"],
                    _form(p["schema"]),
                    inline(p["description"]),
                )
                for p in one.get("parameters", ())
            ),
        ),
    ]
    if "requestBody" in one:
        parts += _contents_of("Body", one["requestBody"]["content"])
    parts.append(
        table(
            ("status", "when"),
            ((code, inline(answer["description"])) for code, answer in one["responses"].items()),
        )
    )
    for code, answer in one["responses"].items():
        if code.startswith("2"):
            parts += _contents_of(f"Answer {code}", answer.get("content", {}))
    return "".join(parts)


def _contents_of(what: str, content: Mapping[str, Any]) -> Iterator[str]:
    for media_type, given in content.items():
        yield f"<p>{what}, <code>{escape(media_type)}</code>: {_form(given['schema'])}</p>"
        for name, example in given.get("examples", {}).items():
            shown = example["value"]
            text = shown if isinstance(shown, str) else json.dumps(shown, indent=2)
            title = escape(example.get("summary", name.replace("_", " ")))
            yield f"<details><summary>Example: {title}</summary><pre>{escape(text)}</pre></details>"


def _schema(name: str, schema: Mapping[str, Any]) -> str:
    needed = schema.get("required", ())
    rows = (
        (
            f"<code>{escape(field)}</code>{'' if field in needed else ' (optional)'}",
            _form(kind),
            inline(_description(kind)),
        )
        for field, kind in schema.get("properties", {}).items()
    )
    fields = table(("field", "form", "what"), rows)
    if not fields:
        fields = f"<p>{_form(schema)}</p>"
    described = paragraphs(schema.get("description", ""))
    return f'<h3 id="form-{escape(name)}">{escape(name)}</h3>{described}{fields}'


def _description(kind: Mapping[str, Any]) -> str:
    own = str(kind.get("description", ""))
    inner = (_description(k) for k in kind.get("anyOf", ()) if isinstance(k, Mapping))
    return own or next((text for text in inner if text), "")


def _form(schema: Mapping[str, Any]) -> str:
    """Say in words what a schema takes."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f'<a href="#form-{escape(name)}">{escape(name)}</a>'
    for key in ("anyOf", "oneOf"):
        if key in schema:
            return " or ".join(_form(one) for one in schema[key])
    if "enum" in schema:
        return ", ".join(f"<code>{escape(str(value))}</code>" for value in schema["enum"])
    if schema.get("type") == "array":
        items = _form(schema.get("items", {}))
        return f"array of {items}{_bounds(schema, 'minItems', 'maxItems')}"
    if "additionalProperties" in schema and isinstance(schema["additionalProperties"], Mapping):
        return f"object, each value {_form(schema['additionalProperties'])}"
    kind = schema.get("format") or schema.get("type") or "anything"
    bounds = _bounds(schema, "minimum", "maximum") + _bounds(schema, "minLength", "maxLength")
    default = ""
    if "default" in schema:
        default = f", else <code>{escape(json.dumps(schema['default']))}</code>"
    return f"{escape(str(kind))}{bounds}{default}"


def _bounds(schema: Mapping[str, Any], low: str, high: str) -> str:
    least = schema.get(low, schema.get("exclusiveMinimum") if low == "minimum" else None)
    most = schema.get(high)
    if least is None and most is None:
        return ""
    more_than = "more than " if low not in schema and least is not None else ""
    return f" ({more_than}{'' if least is None else least}…{'' if most is None else most})"
