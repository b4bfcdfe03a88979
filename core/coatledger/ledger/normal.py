"""The normal form: the one text of a fact, that is compared, stored and hashed.

Quantities have at most three decimals and a magnitude of at most a million, whole values are
written as integers, defaults are left out, times are UTC with microseconds and `Z`, keys are
sorted. In that subset msgspec's sorted encoder gives the bytes of RFC 8785 (a property test
holds it).
"""

import functools
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

import msgspec

from coatledger.refusal import Fault, Refused

QUANTITY_MAX = 10**6
# What arithmetic in doubles leaves behind (0.1 + 0.2), and far less than a fourth decimal.
NOISE = 1e-12
YEARS = range(1900, 2200)
_ENCODER = msgspec.json.Encoder(order="sorted")


def normal_form(fact: msgspec.Struct, pointer: str = "") -> bytes:
    """Write a fact in its normal form, or refuse naming each number that has none."""
    faults: list[Fault] = []
    tidy = _tidy(fact, pointer, faults)
    if faults:
        raise Refused(tuple(faults))
    return _ENCODER.encode(tidy)


def canonical(value: Mapping[str, Any]) -> bytes:
    """Write plain JSON values (no floats) in the normal form."""
    return _ENCODER.encode(value)


def utc_text(moment: datetime) -> str:
    """Write a time as UTC with microseconds and `Z`."""
    there = moment if moment.tzinfo is UTC else moment.astimezone(UTC)
    return there.isoformat(timespec="microseconds")[:-6] + "Z"  # where +00:00 stood


@functools.cache
def _fields(struct: type[msgspec.Struct]) -> tuple[tuple[str, object], ...]:
    found: list[tuple[str, object]] = []
    for field in msgspec.structs.fields(struct):
        default = field.default
        if field.default_factory is not msgspec.NODEFAULT:
            default = field.default_factory()
        found.append((field.name, default))
    return tuple(found)


def _tidy_struct(fact: msgspec.Struct, pointer: str, faults: list[Fault]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    config = fact.__struct_config__
    if config.tag_field is not None:
        out[config.tag_field] = config.tag
    for name, default in _fields(type(fact)):
        value = getattr(fact, name)
        if value is None or value == default:
            continue
        if type(value) is str:
            out[name] = value
            continue
        tidy = _tidy(value, f"{pointer}/{name}", faults)
        if type(value) is float and tidy == default:  # a default with float noise on it
            continue
        out[name] = tidy
    return out


def _tidy(value: Any, pointer: str, faults: list[Fault]) -> Any:
    kind = type(value)
    if kind is str or kind is bool or kind is int or value is None:
        return value
    if kind is float:
        return quantity(value, pointer, faults)
    if kind is UUID:
        return str(value)
    if kind is datetime:
        return _time(value, pointer, faults)
    if isinstance(value, msgspec.Struct):
        return _tidy_struct(value, pointer, faults)
    if kind is tuple or kind is list:
        return [
            item if type(item) is str else _tidy(item, f"{pointer}/{i}", faults)
            for i, item in enumerate(value)
        ]
    if kind is dict:
        return {key: _tidy(value[key], f"{pointer}/{key}", faults) for key in value}
    if isinstance(value, datetime):
        return _time(value, pointer, faults)
    if isinstance(value, date):
        return value.isoformat() if _within_years(value, pointer, faults) else ""
    if isinstance(value, UUID):
        return str(value)
    raise AssertionError(f"no normal form for {kind.__name__}")


def _within_years(value: date, pointer: str, faults: list[Fault]) -> bool:
    """One near the ends of the calendar could not be moved to UTC or corrected."""
    if value.year in YEARS:
        return True
    detail = f"a time lies in the years {YEARS.start} to {YEARS.stop - 1}"
    faults.append(Fault(rule="invalid", pointer=pointer, detail=detail))
    return False


def _time(value: datetime, pointer: str, faults: list[Fault]) -> str:
    if value.utcoffset() is None:
        faults.append(Fault(rule="invalid", pointer=pointer, detail="a time carries its offset"))
        return ""
    return utc_text(value) if _within_years(value, pointer, faults) else ""


def quantity(value: float, pointer: str, faults: list[Fault]) -> int | float:
    """Round away float noise, never a decimal that somebody wrote."""
    if not abs(value) <= QUANTITY_MAX:  # also true for NaN
        detail = f"a quantity lies within plus or minus {QUANTITY_MAX}"
        faults.append(Fault(rule="invalid", pointer=pointer, detail=detail))
        return 0
    rounded = round(value, 3)
    if abs(rounded - value) > NOISE * abs(value):
        detail = "a quantity has at most 3 decimals"
        faults.append(Fault(rule="invalid", pointer=pointer, detail=detail))
        return 0
    return int(rounded) if rounded.is_integer() else rounded
