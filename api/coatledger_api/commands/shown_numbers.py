"""Any struct of numbers shown as lines of name and value, the unit by the end of the name."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import msgspec

from coatledger_api.commands.shown import Manner, Quantity, say, table, words

# The shop's own units, then units that are the same everywhere. Longest first.
SHOPS: Mapping[str, Quantity] = {
    "_mm": "mm", "_um": "um", "_m2": "m2", "_kpa": "kpa", "_l": "l", "_c": "c",
}  # fmt: skip
SAME: Mapping[str, str] = {
    "_m2_per_l": "m²/L", "_g_per_l": "g/L", "_kg_m3": "kg/m³", "_mm2_s": "mm²/s", "_m3_s": "m³/s",
    "_mm_s": "mm/s", "_l_min": "L/min", "_g_per_h": "g/h", "_g_kg": "g/kg", "_mpa_s": "mPa·s",
    "_m_s": "m/s", "_pct": "%", "_min": "min", "_kj": "kJ", "_pa": "Pa", "_h": "h", "_g": "g",
    "_s": "s",
}  # fmt: skip
# Temperatures that are differences: a margin of 3 °C is 5.4 °F and not 37.4.
DIFFERENCES = ("margin_c", "wet_bulb_depression_c")
F_PER_C = 1.8
AS_IT_IS = ("steps_to_record",)  # to be copied into a log
RANGE = ("low", "likely", "high")


def tell(value: msgspec.Struct, manner: Manner) -> None:
    """Tell a struct, the structs inside it below their names."""
    _tell(msgspec.to_builtins(value, builtin_types=(datetime,)), manner, "")


def _tell(value: Mapping[str, Any], manner: Manner, indent: str) -> None:
    for name, one in value.items():
        if isinstance(one, Mapping) and tuple(one) != RANGE:
            say(f"{indent}{named(name)}:")
            _tell(one, manner, indent + "  ")
        elif isinstance(one, Sequence) and one and isinstance(one[0], Mapping):
            say(f"{indent}{named(name)}:")
            _rows(one, manner)
        elif name in ("cautions", "notes"):
            for text in one:
                say(f"{indent}Mind: {text}")
        else:
            say(f"{indent}{named(name)}: {shown(name, one, manner)}")


def _rows(rows: Sequence[Mapping[str, Any]], manner: Manner) -> None:
    """Tell structs of one kind as a table, without columns that say nothing."""
    columns = [name for name in rows[0] if any(row[name] not in _NOTHING for row in rows)]
    table(
        [named(name) for name in columns],
        [[shown(name, row[name], manner) for name in columns] for row in rows],
    )


_NOTHING: tuple[object, ...] = (None, "", (), [], False)


def named(name: str) -> str:
    """Take the unit off a name."""
    return words(name.removesuffix(_suffix(name)))


def shown(name: str, value: object, manner: Manner) -> str:
    """Show a value with the unit its name ends in."""
    if name in AS_IT_IS:
        return str(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping) and tuple(value) == RANGE:
        low, likely, high = (shown(name, one, manner) for one in value.values())
        return f"{likely} likely, {low} to {high}"
    if isinstance(value, list | tuple):
        return " ".join(shown(name, one, manner) for one in value) or "-"
    if isinstance(value, datetime):
        return manner.time(value)
    if isinstance(value, Mapping):
        unit = name if _suffix(name) else ""
        return ", ".join(
            f"{words(key)} {shown(unit or key, one, manner)}" for key, one in value.items()
        )
    if not isinstance(value, int | float):
        return words(value)
    if name in DIFFERENCES:
        us = manner.units == "us"
        return f"{value * F_PER_C:.1f} °F" if us else f"{value:.1f} °C"
    suffix = _suffix(name)
    if suffix in SAME:
        return f"{value:.4g} {SAME[suffix]}"
    if suffix in SHOPS:
        return manner.quantity(float(value), SHOPS[suffix])
    return f"{value:.4g}"


def _suffix(name: str) -> str:
    return next((end for end in (*SAME, *SHOPS) if name.endswith(end)), "")
