"""What breaks a client is told as a break, and what does not is not."""

import copy
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"
OLD: dict[str, Any] = {
    "paths": {
        "/v1/cans": {
            "get": {
                "operationId": "list_cans",
                "x-scope": "read",
                "parameters": [
                    {"name": "limit", "in": "query", "required": False,
                     "schema": {"type": "integer", "minimum": 1, "maximum": 500}},
                ],
                "responses": {
                    "200": {"content": {"application/json": {
                        "schema": {"$ref": "#/components/schemas/Cans"}}}},
                },
            },
            "post": {
                "operationId": "add_can",
                "requestBody": {"required": True, "content": {"application/json": {
                    "schema": {"$ref": "#/components/schemas/Can"}}}},
                "responses": {"201": {"content": {"application/json": {
                    "schema": {"$ref": "#/components/schemas/Can"}}}}},
            },
        },
    },
    "components": {"schemas": {
        "Cans": {"type": "object", "required": ["cans", "more"], "properties": {
            "cans": {"type": "array", "items": {"$ref": "#/components/schemas/Can"}},
            "more": {"type": "boolean"}}},
        "Can": {"type": "object", "required": ["lot"], "properties": {
            "lot": {"type": "string", "maxLength": 40},
            "amount_l": {"anyOf": [{"type": "number", "minimum": 0}, {"type": "null"}]},
            "kind": {"enum": ["clear", "stain"], "type": "string"}}},
    }},
}  # fmt: skip
CAN = ("components", "schemas", "Can")
CANS = ("components", "schemas", "Cans")
GET = ("paths", "/v1/cans", "get")
POST = ("paths", "/v1/cans", "post")


@pytest.fixture
def compare(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """The comparison of two contracts."""
    monkeypatch.syspath_prepend(str(SCRIPTS))
    from contract_changes import changes

    yield changes
    sys.modules.pop("contract_changes", None)


def with_change(path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    """The old contract with one value put in, or taken out where it is None."""
    new = copy.deepcopy(OLD)
    place: Any = new
    for step in path[:-1]:
        place = place[step]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return new


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("paths", "/v1/cans"), None),
        (GET, None),
        ((*GET, "operationId"), "read_cans"),
        ((*GET, "x-scope"), "admin"),
        ((*GET, "parameters"), []),
        ((*GET, "parameters", 0, "required"), True),
        ((*GET, "parameters", 0, "schema", "maximum"), 100),
        ((*GET, "parameters", 0, "schema", "type"), "string"),
        ((*GET, "responses", "200"), None),
        ((*GET, "responses", "200", "content"), {}),
        ((*POST, "requestBody", "content"), {"text/csv": {"schema": {"type": "string"}}}),
        ((*CANS, "properties", "more"), None),
        ((*CANS, "required"), ["cans"]),
        ((*CANS, "properties", "more", "type"), "string"),
        ((*CAN, "required"), ["lot", "kind"]),
        ((*CAN, "properties", "lot", "maxLength"), 20),
        ((*CAN, "properties", "lot", "pattern"), "^L"),
        ((*CAN, "properties", "amount_l", "anyOf", 0, "minimum"), 1),
        ((*CAN, "properties", "amount_l"), {"type": "number", "minimum": 0}),
        ((*CAN, "properties", "kind", "enum"), ["clear"]),
    ],
    ids=str,
)
def test_a_change_that_a_client_stumbles_over_breaks(
    compare: Any, path: tuple[Any, ...], value: Any
) -> None:
    found = compare(OLD, with_change(path, value))
    assert any(change.breaks for change in found), found


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("paths", "/v1/guns"), {"get": {"operationId": "list_guns", "responses": {}}}),
        ((*GET, "deprecated"), True),
        ((*GET, "parameters", 0, "schema", "maximum"), 1000),
        ((*GET, "parameters", 1), {"name": "room", "in": "query", "schema": {"type": "string"}}),
        ((*GET, "responses", "429"), {"content": {}}),
        ((*CAN, "properties", "room"), {"type": "string"}),
        ((*CAN, "properties", "lot", "maxLength"), 80),
        ((*CAN, "properties", "kind", "enum"), ["clear", "stain", "toner"]),
        ((*CAN, "description"), "A can of finish."),
    ],
    ids=str,
)
def test_a_change_that_no_client_stumbles_over_does_not(
    compare: Any, path: tuple[Any, ...], value: Any
) -> None:
    new = copy.deepcopy(OLD)
    place: Any = new
    for step in path[:-1]:
        place = place[step]
    if isinstance(place, list):
        place.append(value)
    else:
        place[path[-1]] = value
    found = compare(OLD, new)
    assert not any(change.breaks for change in found), found
    assert found or path[-1] == "description"


def test_one_more_kind_of_event_in_an_answer_is_news_and_no_break(compare: Any) -> None:
    def contract(*names: str) -> dict[str, Any]:
        made = copy.deepcopy(OLD)
        schemas = made["components"]["schemas"]
        for name in names:
            schemas[name] = {"type": "object", "properties": {"type": {"enum": [name]}}}
        refs = [{"$ref": f"#/components/schemas/{name}"} for name in names]
        schemas["Cans"]["properties"]["cans"]["items"] = {"oneOf": refs}
        return made

    more = compare(contract("Opened"), contract("Opened", "Stirred"))
    assert [(change.breaks, change.says) for change in more] == [(False, "can also be Stirred")]
    assert any(change.breaks for change in compare(contract("Opened"), contract("Stirred"))) is (
        False
    )  # an answer without a kind surprises nobody


def test_the_contract_is_no_change_of_itself(compare: Any) -> None:
    assert compare(OLD, copy.deepcopy(OLD)) == []
