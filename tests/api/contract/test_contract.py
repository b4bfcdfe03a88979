"""The contract as generators and linters meet it: names, links and examples that lead somewhere."""

import json
from collections.abc import Iterator
from typing import Any

import pytest
from coatledger_api.app import contract
from coatledger_api.contract.links import LINKS


@pytest.fixture(scope="module")
def document() -> Any:
    """The contract."""
    return json.loads(contract())


def operations(document: Any) -> dict[str, Any]:
    return {one["operationId"]: one for path in document["paths"].values() for one in path.values()}


def test_every_link_leads_to_a_parameter_that_is_there(document: Any) -> None:
    known = operations(document)
    assert LINKS.keys() <= known.keys()
    for name, links in LINKS.items():
        assert len({link.name for link in links}) == len(links)
        for link in links:
            there = {one["name"] for one in known[link.leads_to].get("parameters", ())}
            assert link.parameters.keys() <= there, (name, link)


def test_every_link_begins_at_a_field_that_is_there(document: Any) -> None:
    known = operations(document)
    for name, links in LINKS.items():
        for link in links:
            for expression in link.parameters.values():
                source, _, pointer = expression.partition("#/")
                if source == "$request.body":
                    content = known[name]["requestBody"]["content"]["application/json"]
                else:
                    good = known[name]["responses"]
                    content = good.get("200", good.get("201"))["content"]["application/json"]
                found = list(reached(document, content["schema"], pointer.split("/")))
                assert found, (name, link.name, expression)


def reached(document: Any, schema: Any, steps: list[str]) -> Iterator[Any]:
    """Every schema that a pointer may reach."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        yield from reached(document, document["components"]["schemas"][name], steps)
        return
    for one in (*schema.get("anyOf", ()), *schema.get("oneOf", ())):
        yield from reached(document, one, steps)
    if not steps:
        yield schema
    elif steps[0].isdigit():
        if "items" in schema:
            yield from reached(document, schema["items"], steps[1:])
    elif steps[0] in schema.get("properties", {}):
        yield from reached(document, schema["properties"][steps[0]], steps[1:])


def test_every_schema_has_a_name_of_its_own_that_a_generator_can_use(document: Any) -> None:
    schemas = document["components"]["schemas"]
    assert all(name.isidentifier() for name in schemas)
    titles = [schema["title"] for schema in schemas.values() if "title" in schema]
    assert len(set(titles)) == len(titles)


def test_numbers_of_examples_pass_a_checker_that_divides_in_binary(document: Any) -> None:
    def floats(value: Any) -> Iterator[float]:
        if isinstance(value, dict):
            for inner in value.values():
                yield from floats(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from floats(inner)
        elif isinstance(value, float):
            yield value

    post = document["paths"]["/v1/events"]["post"]["requestBody"]["content"]["application/json"]
    shown = list(floats(post["examples"]))
    assert len(shown) > 20
    assert all((number / 0.001).is_integer() for number in shown)
