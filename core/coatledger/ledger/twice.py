"""Names given twice in one JSON object: which of them counts is anybody's guess, so neither does.

*Reference:* RFC 8259, section 4, calls what a receiver makes of such an object unpredictable;
RFC 7493 (I-JSON), section 2.3, forbids it.
"""

import json
from collections.abc import Iterator
from typing import Any

from coatledger.refusal import Fault, Refused


class _TwiceError(Exception):
    """A name stands twice in one object."""


def refuse_twice(body: bytes) -> None:
    """Refuse a body that is JSON already when a name stands twice in one of its objects.

    The first look only asks whether; the places are worked out for a body that is refused anyway.
    """
    try:
        json.loads(body, object_pairs_hook=_once, parse_int=_number, parse_float=_number)
    except _TwiceError:
        pairs = json.loads(body, object_pairs_hook=_Pairs, parse_int=_number, parse_float=_number)
        raise Refused(tuple(_faults(pairs, ""))) from None


def _once(pairs: list[tuple[str, Any]]) -> None:
    if len(dict(pairs)) != len(pairs):
        raise _TwiceError


def _number(_: str) -> None:
    """No number is of interest, and the longest takes no time this way."""


class _Pairs(tuple[tuple[str, Any], ...]):
    """An object with all its names, in their order."""

    __slots__ = ()


def _faults(value: Any, pointer: str) -> Iterator[Fault]:
    if isinstance(value, list):
        for place, item in enumerate(value):
            yield from _faults(item, f"{pointer}/{place}")
    if not isinstance(value, _Pairs):
        return
    seen: set[str] = set()
    for name, inner in value:
        place_of = f"{pointer}/{name.replace('~', '~0').replace('/', '~1')}"
        if name in seen:
            says = "this name stands twice in one object"
            yield Fault(rule="invalid", pointer=place_of, detail=says)
        seen.add(name)
        yield from _faults(inner, place_of)
