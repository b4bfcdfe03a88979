"""The parameters of an address: one struct an operation, read from its path and query strictly.

A struct's fields are the parameters, so checking, documentation and use are one definition. A name
nobody knows, a value given twice, a number in other letters: all are told, each by its name.
"""

import functools
import re
from collections.abc import Iterator, Mapping
from datetime import date
from typing import Annotated, Any, TypeVar, get_args, get_origin, get_type_hints
from urllib.parse import unquote_to_bytes
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import msgspec
from coatledger.events.base import Moment
from coatledger.ledger.faults import faults_of
from coatledger.ledger.normal import YEARS
from msgspec import Struct

from coatledger_api.problems import ProblemError, ProblemFault

Q = TypeVar("Q", bound=Struct)
PARAMETERS_MAX = 250
_WHOLE = re.compile(r"-?(0|[1-9][0-9]{0,17})")
_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,20})?([eE][+-]?[0-9]{1,3})?")
_TRUTH: Mapping[str, bool] = {"true": True, "false": False}


Week = Annotated[
    str,
    msgspec.Meta(
        pattern=r"^(19|20|21)[0-9]{2}-W(0[1-9]|[1-4][0-9]|5[0-3])$",
        description="An ISO 8601 week.",
    ),
]


Zone = Annotated[
    str,
    msgspec.Meta(
        pattern=r"^[A-Za-z_]+(/[A-Za-z0-9_+-]+)*$",
        max_length=60,
        description="An IANA time zone; without it, that of the shop.",
    ),
]


# Numbers of a question. Unlike those of a fact they are never stored, so any decimal will do.
AskedC = Annotated[float, msgspec.Meta(ge=-60, le=120, description="degrees Celsius")]
AskedPct = Annotated[float, msgspec.Meta(ge=0, le=100, description="percent")]
AskedM2 = Annotated[float, msgspec.Meta(ge=0.001, le=1000, description="square metres")]
AskedUm = Annotated[float, msgspec.Meta(ge=0.1, le=5000, description="micrometres")]


def known_zone(name: str | None) -> str:
    """Return a zone that is known here, "" where none is asked for, or refuse it."""
    try:
        return "" if name is None else ZoneInfo(name).key
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ProblemError("not_found", f"no time zone {name} is known here") from error


class Nothing(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """No parameters."""


class AsOf(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The two axes of every question: what was true when, and known when."""

    as_of: Annotated[Moment | None, msgspec.Meta(description="Answer as of this time.")] = None
    known_at: Annotated[
        Moment | None, msgspec.Meta(description="Use only what was recorded by then.")
    ] = None


def read_parameters(kind: type[Q], path: Mapping[str, str], query: bytes) -> Q:
    """Read a request's parameters, or refuse naming each one that is wrong."""
    if not query and not path and _may_be_left_out(kind):
        return msgspec.convert({}, kind)
    given: dict[str, Any] = {}
    twice: list[ProblemFault] = []
    hints = _hints(kind)
    for name, text in _pairs(query):
        if name in path or (name in given and not _is_many(hints.get(name))):
            twice.append(_fault(name, "this is given more than once"))
        elif _is_many(hints.get(name)):
            given.setdefault(name, []).append(text)
        else:
            given[name] = _value(text, hints.get(name))
    _, in_path = faults_of(dict(path), kind)
    wrong = [fault for fault in in_path if fault.pointer[1:] in path]
    if wrong:
        raise ProblemError("not_found", f"{wrong[0].pointer[1:]}: {wrong[0].detail}")
    mended, found = faults_of({**path, **given}, kind)
    faults = [*twice, *(_fault(*_named(f.pointer, f.detail)) for f in found)]
    if not faults:
        read = msgspec.convert(mended, kind)
        faults = list(_beyond_years(read))
        if not faults:
            return read
    named = ", ".join(dict.fromkeys(fault.parameter or "" for fault in faults))
    raise ProblemError("invalid", f"wrong in the query: {named}", faults=faults)


def _beyond_years(read: Struct) -> Iterator[ProblemFault]:
    """A time near the ends of the calendar could not be moved to UTC; facts have none there."""
    for name in read.__struct_fields__:
        value = getattr(read, name)
        if isinstance(value, date) and value.year not in YEARS:
            yield _fault(name, f"a time lies in the years {YEARS.start} to {YEARS.stop - 1}")


@functools.cache
def _may_be_left_out(kind: type[Struct]) -> bool:
    """Whether nothing need be given. It is asked of each request, and dear to find out."""
    return not any(field.required for field in msgspec.structs.fields(kind))


@functools.cache
def _hints(kind: type[Struct]) -> Mapping[str, Any]:
    return get_type_hints(kind, include_extras=True)


def _pairs(query: bytes) -> Iterator[tuple[str, str]]:
    parts = [part for part in query.split(b"&") if part]
    if len(parts) > PARAMETERS_MAX:
        raise ProblemError("bad_request", f"more than {PARAMETERS_MAX} parameters")
    try:
        for part in parts:
            name, _, value = part.partition(b"=")
            yield _text(name), _text(value)
    except UnicodeDecodeError as error:
        raise ProblemError("bad_request", "the query is not in UTF-8") from error


def _text(raw: bytes) -> str:
    return unquote_to_bytes(raw.replace(b"+", b" ")).decode("utf-8")


def _value(text: str, kind: Any) -> Any:
    """A query knows only texts: give whole numbers and truth values their own kind."""
    kinds = set(_kinds(kind))
    if int in kinds and _WHOLE.fullmatch(text):
        return int(text)
    if float in kinds and _NUMBER.fullmatch(text):
        return float(text)
    return _TRUTH.get(text, text) if bool in kinds else text


def _kinds(kind: Any) -> Iterator[Any]:
    if get_origin(kind) is Annotated:
        yield from _kinds(get_args(kind)[0])
    elif isinstance(kind, type) or kind is None:
        yield kind
    else:
        for member in get_args(kind):
            yield from _kinds(member)


def _is_many(kind: Any) -> bool:
    bare = get_args(kind)[0] if get_origin(kind) is Annotated else kind
    return get_origin(bare) is tuple


def _named(pointer: str, detail: str) -> tuple[str, str]:
    name = pointer.split("/")[1].replace("~1", "/").replace("~0", "~")
    detail = detail.replace("no field is", "no parameter is")
    if "datetime" in detail:
        detail += "; write a + in an address as %2B"
    return name, detail


def _fault(name: str, detail: str) -> ProblemFault:
    return ProblemFault(rule="invalid", detail=detail, parameter=name)
