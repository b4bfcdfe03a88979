"""Everything wrong with plain JSON values, measured against the annotations of a type.

The strict decoder stops at the first fault; this looks at all of them, each with its RFC 6901 JSON
Pointer. Structs, arrays and maps are walked here; every leaf is judged by msgspec itself, so both
always agree. Integral floats where an integer is wanted are mended on the way: JSON knows only
numbers, and 60.0 is a valid 60.
"""

import contextlib
import difflib
import functools
import types
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Literal, NoReturn, Union, get_args, get_origin, get_type_hints

import msgspec

from coatledger.ledger.normal import quantity
from coatledger.refusal import Fault

FAULTS_MAX = 100
_WORD_SHOWN_MAX = 60
_KINDS: Mapping[type, str] = {
    dict: "an object", list: "an array", str: "a string", bool: "a boolean", int: "an integer",
    float: "a number", type(None): "null",
}  # fmt: skip


class Full(Exception):  # noqa: N818 - it only ends the search
    """As many faults as anyone will read have been found."""


class Look:
    """One look at one value: `faults` is filled as the value is walked."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def value(self, value: Any, kind: Any, pointer: str) -> Any:
        """Walk a value and return it mended; what is wrong with it is added to the faults."""
        bare, metas = _bare(kind)
        members = _members(bare)
        if members is not None:
            return self._union(value, members, pointer)
        if get_origin(bare) is Literal:
            return self._literal(value, get_args(bare), pointer)
        if isinstance(bare, type) and issubclass(bare, msgspec.Struct):
            return self._struct(value, bare, pointer)
        if get_origin(bare) is tuple:
            return self._array(value, get_args(bare)[0], metas, pointer)
        if isinstance(get_origin(bare), type) and issubclass(get_origin(bare), Mapping):
            return self._map(value, get_args(bare), metas, pointer)
        return self._leaf(value, kind, bare, pointer)

    def fault(self, pointer: str, detail: str) -> None:
        """Add one fault; a body full of them is not read to its end."""
        self.faults.append(Fault(rule="invalid", pointer=pointer, detail=detail))
        if len(self.faults) >= FAULTS_MAX:
            self._full()

    def _full(self) -> NoReturn:
        raise Full

    def _union(self, value: Any, members: tuple[Any, ...], pointer: str) -> Any:
        kinds = tuple(m for m in members if m is not type(None))
        if value is None and len(kinds) < len(members):
            return None
        if len(kinds) == 1:
            return self.value(value, kinds[0], pointer)
        if not isinstance(value, dict):
            self.fault(pointer, f"an object is wanted, not {_kind_of(value)}")
            return value
        tags = {str(k.__struct_config__.tag): k for k in kinds}
        tag = value.get("type")
        if isinstance(tag, str) and tag in tags:
            return self._struct(value, tags[tag], pointer)
        if "type" not in value:
            self.fault(f"{pointer}/type", "this is missing: it names the kind of fact")
        elif not isinstance(tag, str):
            self.fault(f"{pointer}/type", f"a string is wanted, not {_kind_of(tag)}")
        else:
            self.fault(f"{pointer}/type", f"no type is called {_shown(tag)}{_close(tag, tags)}")
        return value

    def _struct(self, value: Any, struct: type[msgspec.Struct], pointer: str) -> Any:
        if not isinstance(value, dict):
            self.fault(pointer, f"an object is wanted, not {_kind_of(value)}")
            return value
        config = struct.__struct_config__
        fields = _fields(struct)
        for name, (_, required) in fields.items():
            if required and name not in value:
                self.fault(f"{pointer}/{name}", "this is missing")
        mended = {}
        for name, item in value.items():
            place = f"{pointer}/{escaped(name)}"
            if name in fields:
                mended[name] = self.value(item, fields[name][0], place)
            elif name == config.tag_field:
                mended[name] = item
                if item != config.tag:
                    self.fault(place, f"{config.tag} is wanted")
            elif config.forbid_unknown_fields:
                self.fault(place, f"no field is called {_shown(name)}{_close(name, fields)}")
        return mended

    def _array(self, value: Any, item: Any, metas: tuple[Any, ...], pointer: str) -> Any:
        if not isinstance(value, list):
            self.fault(pointer, f"an array is wanted, not {_kind_of(value)}")
            return value
        if metas and not self._fits(value, Annotated[tuple[Any, ...], *metas], pointer):
            return value
        return [self.value(one, item, f"{pointer}/{i}") for i, one in enumerate(value)]

    def _map(self, value: Any, kinds: tuple[Any, ...], metas: tuple[Any, ...], pointer: str) -> Any:
        if not isinstance(value, dict):
            self.fault(pointer, f"an object is wanted, not {_kind_of(value)}")
            return value
        if metas and not self._fits(value, Annotated[dict[str, Any], *metas], pointer):
            return value
        mended = {}
        for name, item in value.items():
            place = f"{pointer}/{escaped(name)}"
            if self._fits(name, kinds[0], place):
                mended[name] = self.value(item, kinds[1], place)
        return mended

    def _literal(self, value: Any, allowed: tuple[Any, ...], pointer: str) -> Any:
        if not isinstance(value, str):
            self.fault(pointer, f"a string is wanted, not {_kind_of(value)}")
        elif value not in allowed:
            self.fault(pointer, f"{_shown(value)} is not one of {', '.join(map(str, allowed))}")
        return value

    def _leaf(self, value: Any, kind: Any, bare: Any, pointer: str) -> Any:
        if bare is int and type(value) is float and value.is_integer():
            value = int(value)
        if self._fits(value, kind, pointer) and type(value) is float and _in_thousandths(kind):
            found: list[Fault] = []
            quantity(value, pointer, found)
            for fault in found:
                self.fault(fault.pointer, fault.detail)
        return value

    def _fits(self, value: Any, kind: Any, pointer: str) -> bool:
        try:
            msgspec.convert(value, kind)
        except msgspec.ValidationError as fault:
            self.fault(pointer, said(fault)[0])
            return False
        return True


def faults_of(value: Any, kind: Any, pointer: str = "") -> tuple[Any, tuple[Fault, ...]]:
    """Return the value mended, and everything wrong with it (at most 100 faults)."""
    look = Look()
    with contextlib.suppress(Full):
        value = look.value(value, kind, pointer)
    return value, tuple(look.faults)


def said(error: msgspec.ValidationError) -> tuple[str, str]:
    """Split msgspec's message into what it says and where, as a JSON Pointer."""
    says, _, path = str(error).partition(" - at `")
    steps = path.removesuffix("`").replace("[", ".").replace("]", "").split(".")[1:]
    return says, "".join(f"/{escaped(step)}" for step in steps)


def escaped(name: str) -> str:
    """Write a name as one step of a JSON Pointer (RFC 6901, section 3)."""
    return name[:200].replace("~", "~0").replace("/", "~1")


@functools.cache
def _fields(struct: type[msgspec.Struct]) -> Mapping[str, tuple[Any, bool]]:
    """Name each field's annotation, and whether it must be there."""
    hints = get_type_hints(struct, include_extras=True)
    return {
        field.encode_name: (hints[field.name], field.required)
        for field in msgspec.structs.fields(struct)
    }


def _bare(kind: Any) -> tuple[Any, tuple[Any, ...]]:
    """Take the annotations off a type, but keep them."""
    if get_origin(kind) is Annotated:
        bare, *metas = get_args(kind)
        return bare, tuple(metas)
    return kind, ()


def _in_thousandths(kind: Any) -> bool:
    """Whether a number is a quantity, which has at most three decimals."""
    _, metas = _bare(kind)
    return any("multipleOf" in (getattr(meta, "extra_json_schema", None) or {}) for meta in metas)


def _members(kind: Any) -> tuple[Any, ...] | None:
    return get_args(kind) if get_origin(kind) in (Union, types.UnionType) else None


def _kind_of(value: Any) -> str:
    return _KINDS.get(type(value), "this")


def _shown(word: str) -> str:
    return f"`{word[:_WORD_SHOWN_MAX]}`"


def _close(word: str, known: Iterable[str]) -> str:
    """Name the known word somebody probably meant."""
    close = difflib.get_close_matches(word[:_WORD_SHOWN_MAX], list(known), n=1, cutoff=0.75)
    return f"; did you mean `{close[0]}`?" if close else ""
