"""From the cells of a day log to the fields of a fact, read by the types the ledger declares.

A cell of a table is text, so its field's type says how to read it; a value of a JSON line is taken
as it is, but for times, for lists written as one text, and for US units. The readings, lines,
parents, hours or steps inside a fact are written as `name=value` pairs with `;` between one and
the next, or, when there is one only, as columns of their own.
"""

import functools
import re
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, NamedTuple

import msgspec
from coatledger.events.catalogue import TAGS
from coatledger.refusal import Fault
from msgspec import inspect

from coatledger_api.commands.log_times import Unreadable, Wall, read_time
from coatledger_api.commands.log_units import converted, meant

Kinds = Mapping[str, inspect.Type]
YES_NO: Mapping[str, bool] = {"yes": True, "true": True, "no": False, "false": False}
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
ITEMS = re.compile(r"[;\s]+")


class How(NamedTuple):
    """How a line is read: `text` when every value is the text of a cell, and by which clock."""

    text: bool
    wall: Wall
    faults: list[Fault]

    def fault(self, place: str, detail: str) -> None:
        """Note one fault of the line."""
        self.faults.append(Fault(rule="invalid", pointer=place, detail=detail))


@functools.cache
def kinds_of(struct: type[msgspec.Struct]) -> Kinds:
    """Return the fields of a struct with their types."""
    info = inspect.type_info(struct)
    assert isinstance(info, inspect.StructType)
    return {field.name: bare(field.type) for field in info.fields}


def bare(kind: inspect.Type) -> inspect.Type:
    """Take bounds and `or nothing` off a type."""
    if isinstance(kind, inspect.Metadata):
        return bare(kind.type)
    if isinstance(kind, inspect.UnionType):
        left = [k for k in kind.types if not isinstance(k, inspect.NoneType)]
        return bare(left[0]) if len(left) == 1 else kind
    return kind


def read_fact(given: Mapping[str, object], how: How, place: str = "") -> dict[str, object]:
    """Read one fact's fields. What no event has is left for the ledger's decoder to name."""
    tag = given.get("type")
    struct = TAGS.get(tag) if isinstance(tag, str) else None
    if struct is None:
        return dict(given)
    own = {key: value for key, value in given.items() if key != "type"}
    # The day of the fact is the day of every clock time inside it.
    began = _began(own, how)
    inner = how if began is None else how._replace(wall=how.wall._replace(day=began.date()))
    return {"type": tag, **read_fields(own, kinds_of(struct), inner, place)}


def _began(given: Mapping[str, object], how: How) -> datetime | None:
    text = given.get("occurred_at")
    if not isinstance(text, str):
        return None
    try:
        moment = read_time(text, how.wall)
    except Unreadable:
        return None
    return moment if how.wall.zone is None else moment.astimezone(how.wall.zone)


def read_fields(
    given: Mapping[str, object], kinds: Kinds, how: How, place: str
) -> dict[str, object]:
    """Read the fields of a fact, or of a struct inside it."""
    out: dict[str, object] = {}
    only = _only_struct_list(kinds)
    spread: dict[str, object] = {}
    for column, value in given.items():
        name = meant(column, kinds)
        if name is None and only is not None and meant(column, only[1]) is not None:
            spread[column] = value
            continue
        if name is None:
            out[column] = value
            continue
        where = f"{place}/{name.field}"
        if name.field in out:
            how.fault(where, f"{name.field} is given twice")
        read = read_value(value, kinds[name.field], how, where)
        out[name.field] = read if name.convert is None else converted(read, name.convert)
    if spread and only is not None:
        if only[0] in out:
            how.fault(f"{place}/{only[0]}", f"{', '.join(spread)} and {only[0]} are both given")
        out[only[0]] = [read_fields(spread, only[1], how, f"{place}/{only[0]}/0")]
    return out


def _only_struct_list(kinds: Kinds) -> tuple[str, Kinds] | None:
    """Name the one field that holds structs, with the fields of these."""
    found = []
    for name, kind in kinds.items():
        item = bare(kind.item_type) if isinstance(kind, inspect.VarTupleType) else None
        if isinstance(item, inspect.StructType):
            found.append((name, kinds_of(item.cls)))
    return found[0] if len(found) == 1 else None


def read_value(value: object, kind: inspect.Type, how: How, place: str) -> object:
    """Read one value by its type; what cannot be read is left as it is, and its fault noted."""
    try:
        return _read(value, kind, how, place)
    except Unreadable as fault:
        how.fault(place, str(fault))
        return value


def _read(value: object, kind: inspect.Type, how: How, place: str) -> object:
    if how.text and isinstance(value, str) and value[:1] in ("[", "{") and not _is_text(kind):
        value = _json(value)
        how = how._replace(text=False)
    if isinstance(kind, inspect.DateTimeType) and isinstance(value, str):
        return read_time(value, how.wall).isoformat()
    if isinstance(kind, inspect.VarTupleType):
        return _read_list(value, bare(kind.item_type), how, place)
    if isinstance(kind, inspect.StructType) and how.text and isinstance(value, str):
        value = _pairs(value.replace(";", " "))
    if isinstance(kind, inspect.StructType) and isinstance(value, dict):
        return read_fields(value, kinds_of(kind.cls), how, place)
    if isinstance(kind, inspect.UnionType) and isinstance(value, dict):
        return read_fact(value, how, place)
    if not how.text or not isinstance(value, str):
        return value
    if isinstance(kind, inspect.DictType):
        return _read_pairs(value, bare(kind.value_type), how, place)
    reader = CELLS.get(type(kind))
    return value if reader is None else reader(value)


def _read_list(value: object, item: inspect.Type, how: How, place: str) -> object:
    if isinstance(item, inspect.StructType):
        if isinstance(value, str):
            texts = [text.strip() for text in value.split(";") if text.strip()]
            rows: object = [_pairs(text) for text in texts]
            how = how._replace(text=True)
        else:
            rows = value
    else:
        rows = ITEMS.split(value.strip(" ;\t")) if isinstance(value, str) else value
        how = how._replace(text=how.text or isinstance(value, str))
    if not isinstance(rows, list):
        return value
    return [read_value(row, item, how, f"{place}/{i}") for i, row in enumerate(rows)]


def _read_pairs(text: str, kind: inspect.Type, how: How, place: str) -> dict[str, object]:
    """Read `name=value` pairs; several values of one name are written with `|` between."""
    pairs = _pairs(text.replace(";", " "))
    if isinstance(kind, inspect.VarTupleType):
        return {key: value.split("|") for key, value in pairs.items()}
    return {key: read_value(value, kind, how, f"{place}/{key}") for key, value in pairs.items()}


def _pairs(text: str) -> dict[str, str]:
    out: dict[str, str] = {}
    for pair in text.split():
        key, equals, value = pair.partition("=")
        if not equals or not key or not value:
            raise Unreadable(f"{pair!r} is no name=value pair, such as air_c=21")
        if key in out:
            raise Unreadable(f"{key} is given twice; write `;` between one item and the next")
        out[key] = value
    return out


def _json(text: str) -> Any:
    try:
        return msgspec.json.decode(text.encode())
    except msgspec.DecodeError as fault:
        raise Unreadable(f"begins as JSON and is none: {fault}") from None


def _is_text(kind: inspect.Type) -> bool:
    return isinstance(kind, inspect.StrType)


def _number(text: str) -> float:
    if not NUMBER.fullmatch(text):
        raise Unreadable(f"{text!r} is no number, such as 21.5")
    return float(text)


def _whole(text: str) -> int:
    if not NUMBER.fullmatch(text) or "." in text:
        raise Unreadable(f"{text!r} is no whole number")
    return int(text)


def _yes_or_no(text: str) -> bool:
    if text.lower() not in YES_NO:
        raise Unreadable(f"{text!r} is neither yes nor no")
    return YES_NO[text.lower()]


CELLS: Mapping[type[inspect.Type], Callable[[str], object]] = {
    inspect.FloatType: _number,
    inspect.IntType: _whole,
    inspect.BoolType: _yes_or_no,
}
