"""US customary columns of a day log: which suffix means which unit, and its exact conversion.

A converted value is rounded to the ledger's three decimals: a thousandth of a degree, of a
micrometre or of a litre.
"""

from collections.abc import Callable, Collection, Mapping
from typing import NamedTuple

from coatledger import units

DECIMALS = 3


class Customary(NamedTuple):
    """A US unit: the suffix it stands for in the ledger, and the conversion."""

    si: str
    convert: Callable[[float], float]


# Longest first, so that `_fl_oz` is not taken for anything shorter.
SUFFIXES: Mapping[str, Customary] = {
    "_fl_oz": Customary("_l", units.l_from_fl_oz),
    "_floz": Customary("_l", units.l_from_fl_oz),
    "_gal": Customary("_l", units.l_from_gal),
    "_ft2": Customary("_m2", units.m2_from_ft2),
    "_ft3": Customary("_m3", units.m3_from_ft3),
    "_mil": Customary("_um", units.um_from_mil),
    "_psi": Customary("_kpa", units.kpa_from_psi),
    "_in": Customary("_mm", units.mm_from_in),
    "_f": Customary("_c", units.c_from_f),
}


class Name(NamedTuple):
    """The ledger's field a column means, and the conversion its values need."""

    field: str
    convert: Callable[[float], float] | None = None


def meant(column: str, fields: Collection[str]) -> Name | None:
    """Return the field a column means, or None when there is no such field."""
    if column in fields:
        return Name(column)
    for suffix, unit in SUFFIXES.items():
        field = column.removesuffix(suffix) + unit.si
        if column.endswith(suffix) and field in fields:
            return Name(field, unit.convert)
    return None


def converted(value: object, convert: Callable[[float], float]) -> object:
    """Convert a number; anything else is left for the decoder to refuse."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return round(convert(float(value)), DECIMALS)
