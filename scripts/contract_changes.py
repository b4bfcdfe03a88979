"""Says whether the contract breaks: the one now, beside the one of the last commit or release.

A client that was right must stay right: no operation, parameter, answer or field may go; what may
be sent may only grow wider, and what is answered only narrower. A new kind of event in an answer is
told as news and not as a break, for the versioning policy lets the vocabulary grow.
"""

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
CONTRACT = Path("openapi") / "openapi.json"
MISSING = 77
# Bounds by which way they close: a bound that rises closes from below.
RISES = ("minimum", "exclusiveMinimum", "minLength", "minItems")
FALLS = ("maximum", "exclusiveMaximum", "maxLength", "maxItems")


class Change(NamedTuple):
    """One difference: whether it breaks a client, where and what."""

    breaks: bool
    place: str
    says: str


def changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> list[Change]:
    """Return every difference that a client could notice."""
    return list(_Comparison(old, new).all())


class _Comparison:
    """Two contracts side by side. A pair of schemas is looked at once for each direction."""

    def __init__(self, old: Mapping[str, Any], new: Mapping[str, Any]) -> None:
        self._old = old
        self._new = new
        self._seen: set[tuple[str, str, bool]] = set()

    def all(self) -> Iterator[Change]:
        """Go through every operation."""
        for place, was in _operations(self._old).items():
            now = _operations(self._new).get(place)
            if now is None:
                yield Change(True, place, "the operation is gone")
                continue
            if was["operationId"] != now["operationId"]:
                yield Change(True, place, f"{was['operationId']} is called {now['operationId']}")
            if now.get("deprecated") and not was.get("deprecated"):
                yield Change(False, place, "the operation is deprecated")
            if was.get("x-scope") != now.get("x-scope"):
                yield Change(True, place, f"needs {now.get('x-scope')}, not {was.get('x-scope')}")
            yield from self._parameters(place, was, now)
            yield from self._body(place, was, now)
            yield from self._answers(place, was, now)
        for place in _operations(self._new).keys() - _operations(self._old).keys():
            yield Change(False, place, "the operation is new")

    def _parameters(
        self, place: str, was: Mapping[str, Any], now: Mapping[str, Any]
    ) -> Iterator[Change]:
        before = {(p["in"], p["name"]): p for p in was.get("parameters", ())}
        after = {(p["in"], p["name"]): p for p in now.get("parameters", ())}
        for key, parameter in before.items():
            if key not in after:
                yield Change(True, f"{place} {key[1]}", "the parameter is gone")
            else:
                yield from self._schema(
                    f"{place} {key[1]}", parameter["schema"], after[key]["schema"], sent=True
                )
        for key, parameter in after.items():
            needed = parameter.get("required", False)
            if needed and not before.get(key, {}).get("required", False):
                yield Change(True, f"{place} {key[1]}", "the parameter must be given now")
            elif key not in before:
                yield Change(False, f"{place} {key[1]}", "the parameter is new")

    def _body(self, place: str, was: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[Change]:
        before, after = was.get("requestBody"), now.get("requestBody")
        if before is None and after is not None and after.get("required"):
            yield Change(True, place, "a body must be sent now")
        if before is None:
            return
        for media_type, content in before["content"].items():
            if after is None or media_type not in after["content"]:
                yield Change(True, place, f"a body in {media_type} is no longer taken")
            else:
                schema = after["content"][media_type]["schema"]
                yield from self._schema(f"{place} body", content["schema"], schema, sent=True)

    def _answers(
        self, place: str, was: Mapping[str, Any], now: Mapping[str, Any]
    ) -> Iterator[Change]:
        for status, before in was["responses"].items():
            after = now["responses"].get(status)
            if after is None:
                yield Change(status < "300", f"{place} {status}", "the answer is gone")
                continue
            for media_type, content in before.get("content", {}).items():
                found = after.get("content", {}).get(media_type)
                where = f"{place} {status}"
                if found is None:
                    yield Change(True, where, f"no longer answered in {media_type}")
                else:
                    yield from self._schema(where, content["schema"], found["schema"], sent=False)
        for status in now["responses"].keys() - was["responses"].keys():
            yield Change(False, f"{place} {status}", "the answer is new")

    def _schema(self, place: str, was: Any, now: Any, *, sent: bool) -> Iterator[Change]:
        """Compare two schemas; what is sent may grow wider, what is answered narrower."""
        named = (was.get("$ref", ""), now.get("$ref", ""))
        if named[0] and named[1]:
            if (*named, sent) in self._seen:
                return
            self._seen.add((*named, sent))
            place = f"{_name(was)} ({'sent' if sent else 'answered'})"
        before = _alternatives(self._old, _resolved(self._old, was))
        after = _alternatives(self._new, _resolved(self._new, now))
        if "number" in after and "integer" not in after and sent:
            after["integer"] = after["number"]  # a whole number is a number, too
        for name in sorted(before.keys() - after.keys()):
            yield Change(sent, place, f"can no longer be {name}")
        for name in sorted(after.keys() - before.keys()):
            # One more kind of event in an answer is news, another type of value is a break.
            breaks = not sent and "$ref" not in after[name]
            if name != "integer" or "number" not in before:
                yield Change(breaks, place, f"can also be {name}")
        for name in sorted(before.keys() & after.keys()):
            if "$ref" in before[name]:
                yield from self._schema(place, before[name], after[name], sent=sent)
            else:
                yield from self._leaf(place, before[name], after[name], sent=sent)

    def _leaf(self, place: str, was: Any, now: Any, *, sent: bool) -> Iterator[Change]:
        yield from _bounds(place, was, now, sent=sent)
        yield from _words(place, was, now, sent=sent)
        yield from self._fields(place, was, now, sent=sent)
        for name in ("items", "additionalProperties"):
            if isinstance(was.get(name), dict) and isinstance(now.get(name), dict):
                yield from self._schema(f"{place}[]", was[name], now[name], sent=sent)

    def _fields(self, place: str, was: Any, now: Any, *, sent: bool) -> Iterator[Change]:
        before, after = was.get("properties", {}), now.get("properties", {})
        if not before and not after:
            return
        for name, schema in before.items():
            if name not in after:
                yield Change(True, f"{place}.{name}", "the field is gone")
            else:
                yield from self._schema(f"{place}.{name}", schema, after[name], sent=sent)
        for name in after.keys() - before.keys():
            yield Change(False, f"{place}.{name}", "the field is new")
        needed, need = set(was.get("required", ())), set(now.get("required", ()))
        for name in sorted(need - needed if sent else (needed - need) & after.keys()):
            says = "the field must be given now" if sent else "the field may be missing now"
            yield Change(True, f"{place}.{name}", says)


def _words(place: str, was: Any, now: Any, *, sent: bool) -> Iterator[Change]:
    """Compare lists of words: less may not be sent, and more is news in an answer."""
    before, after = was.get("enum"), now.get("enum")
    if before is None and after is not None and sent:
        yield Change(True, place, f"is only one of {after} now")
    if before is None or after is None:
        return
    for word in before:
        if word not in after:
            yield Change(sent, place, f"can no longer be {word!r}")
    for word in after:
        if word not in before:
            yield Change(False, place, f"can also be {word!r}")


def _bounds(place: str, was: Any, now: Any, *, sent: bool) -> Iterator[Change]:
    for name in (*RISES, *FALLS):
        before, after = was.get(name), now.get(name)
        if before == after:
            continue
        closer = before is None or (
            after is not None and (after > before if name in RISES else after < before)
        )
        says = f"{name} was {before} and is {after}"
        yield Change(sent and closer, place, says)
    for name in ("pattern", "format", "multipleOf"):
        if was.get(name) != now.get(name):
            breaks = sent and now.get(name) is not None
            yield Change(breaks, place, f"{name} was {was.get(name)} and is {now.get(name)}")


def _alternatives(contract: Mapping[str, Any], schema: Any) -> dict[str, Any]:
    """Name what a value may be: types by their words, structs of a union by their names."""
    found: dict[str, Any] = {}
    for one in schema.get("oneOf", schema.get("anyOf", ())):
        inner = _resolved(contract, one)
        if "$ref" in one and "properties" in inner:
            found[_name(one)] = one
        else:
            found |= _alternatives(contract, inner)
    kinds = schema.get("type", "any" if not found else ())
    for kind in (kinds,) if isinstance(kinds, str) else kinds:
        found.setdefault(kind, schema)
    return found


def _name(schema: Any) -> str:
    name: str = schema["$ref"].rpartition("/")[2]
    return name


def _resolved(contract: Mapping[str, Any], schema: Any) -> Any:
    while "$ref" in schema:
        schema = contract["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    return schema


def _operations(contract: Mapping[str, Any]) -> dict[str, Any]:
    return {
        f"{method.upper()} {path}": operation
        for path, methods in contract["paths"].items()
        for method, operation in methods.items()
    }


def last_release() -> str | None:
    """Return the newest tag of a release, None before the first."""
    done = subprocess.run(
        ["git", "describe", "--tags", "--abbrev=0", "--match", "v*"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stdout.strip() or None


def contract_of(commit: str) -> Mapping[str, Any] | None:
    """Return the contract as it was committed then; None where there is no such thing."""
    done = subprocess.run(
        ["git", "show", f"{commit}:{CONTRACT.as_posix()}"],
        cwd=ROOT, capture_output=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        return None
    read: Mapping[str, Any] = json.loads(done.stdout)
    return read


def main() -> int:
    """Tell the changes; ends with 1 when something released breaks."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--since", help="compare with this commit, not with the last release")
    asked = parser.parse_args()
    since = asked.since or last_release()
    old = contract_of(since or "HEAD")
    if old is None:
        print(f"there is no contract in {since or 'HEAD'}, or no git")
        return MISSING
    found = changes(old, json.loads((ROOT / CONTRACT).read_text("utf-8")))
    for change in sorted(found, key=lambda change: (not change.breaks, change.place)):
        print(f"{'BREAKS' if change.breaks else 'new   '} {change.place}: {change.says}")
    breaks = sum(change.breaks for change in found)
    print(f"{breaks} changes break a client, {len(found) - breaks} do not, since {since or 'HEAD'}")
    if since is None:
        print("nothing is released yet, so nothing is promised yet")
    return 1 if breaks and since is not None else 0


if __name__ == "__main__":
    sys.exit(main())
