"""Any valid event, drawn from the types themselves, so that a new field is drawn as soon as it is
there. Bounds are respected; what two fields must say together is not."""

import math
from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import msgspec
from coatledger.events.base import Fact
from coatledger.events.catalogue import EVENT_TYPES
from coatledger.ledger.normal import QUANTITY_MAX, YEARS
from hypothesis import strategies as st
from msgspec import inspect

MANY = 3  # of a list's items; what holds for three holds for three hundred
TEXT = st.characters(codec="utf-8")  # a lone surrogate is no text
_ZONES = (UTC, timezone(timedelta(hours=14)), timezone(-timedelta(hours=9, minutes=30)))
# The ends of the calendar are refused, and a year's first hours lie in another one elsewhere.
_FIRST, _LAST = datetime(YEARS.start, 1, 2), datetime(YEARS.stop - 1, 12, 30)  # noqa: DTZ001


def struct(kind: type[msgspec.Struct]) -> st.SearchStrategy[Any]:
    """Draw one struct; fields that have a default are sometimes left to it."""
    info = inspect.type_info(kind)
    assert isinstance(info, inspect.StructType)
    needed = {f.name: of_type(f.type) for f in info.fields if f.required}
    optional = {f.name: of_type(f.type) for f in info.fields if not f.required}
    given = st.fixed_dictionaries(needed, optional=optional)
    return given.map(lambda fields: kind(**fields))


def of_type(kind: inspect.Type) -> st.SearchStrategy[Any]:
    """Draw one value of a type as msgspec describes it."""
    match kind:
        case inspect.Metadata():
            return of_type(kind.type)
        case inspect.UnionType():
            return st.one_of([of_type(t) for t in kind.types])
        case inspect.StructType():
            return struct(kind.cls)
        case inspect.VarTupleType():
            most = min(MANY, MANY if kind.max_length is None else kind.max_length)
            items = st.lists(of_type(kind.item_type), min_size=kind.min_length or 0, max_size=most)
            return items.map(tuple)
        case inspect.DictType():
            return st.dictionaries(of_type(kind.key_type), of_type(kind.value_type), max_size=MANY)
        case inspect.LiteralType():
            return st.sampled_from(kind.values)
        case inspect.FloatType():
            return _quantity(kind)
        case inspect.IntType():
            return st.integers(_lowest(kind.ge), _highest(kind.le))
        case inspect.StrType():
            return _text(kind)
        case _:
            return _PLAIN[type(kind)]


ANY_MOMENT = st.datetimes(_FIRST, _LAST, timezones=st.sampled_from(_ZONES))
_PLAIN: Mapping[type, st.SearchStrategy[Any]] = {
    inspect.BoolType: st.booleans(),
    inspect.NoneType: st.none(),
    inspect.UUIDType: st.uuids(),
    inspect.DateType: st.dates(date(1900, 1, 1), date(2199, 12, 31)),
    inspect.DateTimeType: ANY_MOMENT,
}


def _quantity(kind: inspect.FloatType) -> st.SearchStrategy[float]:
    low = -QUANTITY_MAX if kind.ge is None and kind.gt is None else (kind.ge or kind.gt or 0)
    high = QUANTITY_MAX if kind.le is None else kind.le
    first = math.ceil(low * 1000) + (kind.gt is not None)
    thousandths = st.integers(first, math.floor(high * 1000)).map(lambda n: n / 1000)
    whole = st.integers(math.ceil(first / 1000), math.floor(high)).map(float)
    # Minus nought, and the noise that a sum leaves behind.
    noisy = thousandths.map(lambda x: y if low <= (y := x * (1 + 2**-52)) <= high else x)
    minus_nought = st.just(-0.0) if low <= 0 and kind.gt is None else whole
    return st.one_of(thousandths, whole, noisy, minus_nought)


def _text(kind: inspect.StrType) -> st.SearchStrategy[str]:
    if kind.pattern is None:
        return st.text(TEXT, min_size=kind.min_length or 0, max_size=min(kind.max_length or 9, 9))
    drawn = st.from_regex(kind.pattern.replace(r"(?!\n)$", ""), fullmatch=True)
    return drawn.filter(lambda s: s.isascii() and len(s) <= (kind.max_length or len(s)))


def _lowest(bound: int | None) -> int:
    return -(10**6) if bound is None else bound


def _highest(bound: int | None) -> int:
    return 10**6 if bound is None else bound


ANY_STRUCT: Mapping[type[Fact], st.SearchStrategy[Any]] = {
    kind: struct(kind) for kind in EVENT_TYPES
}
ANY_EVENT: st.SearchStrategy[Any] = st.one_of(*ANY_STRUCT.values())
