"""What each act asks for, written from the events themselves: the pages build their forms from it.

The contract says the same and much more; this is what a phone needs to show a form when there is no
signal, and it cannot differ from what the service takes.
"""

from collections.abc import Iterator, Mapping
from functools import cache
from inspect import getdoc
from typing import Any, Literal, get_args, get_origin, get_type_hints

import msgspec
from coatledger.events.catalogue import CORRECTIONS, SUBJECT_FIELDS, TAGS
from msgspec import inspect

# Stamped by the page, or the same in every form.
UNASKED = frozenset(("id", "occurred_at", "ended_at", "actor", "source"))


@cache
def act_forms() -> bytes:
    """Write the forms of all acts as JSON, by tag; a correction is made of the act it corrects."""
    forms = {
        tag: {"says": " ".join((getdoc(kind) or "").split()), "fields": _fields(kind)}
        for tag, kind in TAGS.items()
        if kind not in CORRECTIONS
    }
    return msgspec.json.encode(forms)


def _fields(kind: type[msgspec.Struct]) -> list[dict[str, Any]]:
    described = inspect.type_info(kind)
    assert isinstance(described, inspect.StructType)
    hints = get_type_hints(kind)
    fields = [one for one in described.fields if one.name not in UNASKED]
    return [_field(one, hints[one.name]) for one in fields]


def _field(one: inspect.Field, hint: Any) -> dict[str, Any]:
    told: dict[str, Any] = {"name": one.name, **_kind(one.type)}
    if "choices" in told:  # as they are written, not as they are sorted
        told["choices"] = list(_written(hint))
    if one.required:
        told["required"] = True
    elif one.default not in (None, msgspec.NODEFAULT):
        told["default"] = one.default
    if one.name in SUBJECT_FIELDS:
        told["subject"] = SUBJECT_FIELDS[one.name]
    return told


def _written(hint: Any) -> Iterator[Any]:
    """Yield a Literal's values wherever it stands in a hint."""
    if get_origin(hint) is Literal:
        yield from get_args(hint)
    else:
        for inner in get_args(hint):
            yield from _written(inner)


def _kind(given: inspect.Type) -> dict[str, Any]:
    """Say in one word what a field takes, with its bounds or choices."""
    if isinstance(given, inspect.Metadata):
        return _kind(given.type)
    if isinstance(given, inspect.UnionType):
        kinds = [one for one in given.types if not isinstance(one, inspect.NoneType)]
        return _kind(kinds[0])
    if isinstance(given, inspect.VarTupleType):
        inner = _kind(given.item_type)
        return {**inner, "many": True}
    if isinstance(given, inspect.StructType):
        return {"kind": "rows", "fields": _fields(given.cls)}
    if isinstance(given, inspect.LiteralType):
        return {"kind": "choice", "choices": list(given.values)}
    if isinstance(given, inspect.IntType | inspect.FloatType):
        return {"kind": "number", **_bounds(given)}
    if isinstance(given, inspect.StrType):
        length = {} if given.max_length is None else {"most": given.max_length}
        pattern = {} if given.pattern is None else {"pattern": given.pattern}
        return {"kind": "text", **length, **pattern}
    return {"kind": _PLAIN[type(given)]}


_PLAIN: Mapping[type[inspect.Type], str] = {
    inspect.BoolType: "flag",
    inspect.DateType: "day",
    inspect.DateTimeType: "moment",
    inspect.UUIDType: "event",
    inspect.DictType: "pairs",
}


def _bounds(given: inspect.IntType | inspect.FloatType) -> dict[str, Any]:
    told: dict[str, Any] = {"whole": True} if isinstance(given, inspect.IntType) else {}
    bounds = (("least", given.ge), ("above", given.gt), ("most", given.le))
    return {**told, **{name: value for name, value in bounds if value is not None}}
