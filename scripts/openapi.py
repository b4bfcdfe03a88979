"""Writes the contract: openapi/openapi.json, openapi/events.json, and the examples they show.

``--check`` writes nothing and tells which of the files differ from what the code says.
"""

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
GOLDENS = ROOT / "tests" / "golden" / "events"
EXAMPLES = ROOT / "api" / "coatledger_api" / "contract" / "examples.json"
CONTRACT = ROOT / "openapi" / "openapi.json"
EVENTS = ROOT / "openapi" / "events.json"


def text_of(value: Any) -> str:
    """Write JSON for people: the same value always gives the same text."""
    return json.dumps(value, indent=2, ensure_ascii=False) + "\n"


def examples() -> Mapping[str, Any]:
    """Take the first golden of each event as its example; notes are left out, there they are hashes
    already."""
    found = {
        path.stem: json.loads(path.read_text("utf-8"))
        for path in sorted(GOLDENS.glob("*.json"))
        if "." not in path.stem
    }
    for body in found.values():
        body.pop("note", None)
        body.get("replacement", {}).pop("note", None)
    return found


def events_schema(contract: Mapping[str, Any]) -> Mapping[str, Any]:
    """Cut the events out of the contract, as a JSON Schema that stands by itself."""
    schemas = contract["components"]["schemas"]
    needed: dict[str, Any] = {}
    open_names = ["Posted"]
    while open_names:
        name = open_names.pop()
        if name not in needed:
            needed[name] = schemas[name]
            open_names += referred(schemas[name])
    text = json.dumps({name: needed[name] for name in sorted(needed)})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What may be posted to coatledger",
        "$ref": "#/$defs/Posted",
        "$defs": json.loads(text.replace("#/components/schemas/", "#/$defs/")),
    }


def referred(schema: Any) -> list[str]:
    """Name the schemas that one refers to."""
    if isinstance(schema, list):
        return [name for item in schema for name in referred(item)]
    if not isinstance(schema, dict):
        return []
    found = [schema["$ref"].rpartition("/")[2]] if isinstance(schema.get("$ref"), str) else []
    return found + [name for value in schema.values() for name in referred(value)]


def main() -> int:
    """Write or check."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="write nothing, tell what differs")
    check = parser.parse_args().check
    stale = []

    def put(path: Path, text: str) -> None:
        if path.exists() and path.read_text("utf-8") == text:
            return
        stale.append(path.relative_to(ROOT))
        if not check:
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, "utf-8")

    put(EXAMPLES, text_of(examples()))
    if check and stale:
        print(f"{stale[0]} is not what tests/golden/events holds: run python scripts/openapi.py")
        return 1
    # The examples must be in place before the service reads them.
    from coatledger_api.app import contract

    document = json.loads(contract())
    put(CONTRACT, text_of(document))
    put(EVENTS, text_of(events_schema(document)))
    for path in stale:
        print(f"{path} {'differs: run python scripts/openapi.py' if check else 'written'}")
    return 1 if check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
