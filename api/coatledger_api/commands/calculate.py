"""`coatledger calculate`: one number of the trade, worked out here without a service.

Each calculation of the core's table becomes a command; the fields it asks for become its options.
"""

from collections.abc import Callable, Mapping
from typing import Any, get_type_hints

import click
import msgspec
from coatledger.answers.calculations.calculation import Calculation
from coatledger.answers.calculations.table import CALCULATIONS, calculate
from coatledger.ledger.decode import typed
from coatledger.refusal import Refused

from coatledger_api.commands.log_fields import How, kinds_of, read_fields
from coatledger_api.commands.log_times import Wall
from coatledger_api.commands.log_units import SUFFIXES
from coatledger_api.commands.reach import Misused
from coatledger_api.commands.shown import Manner, say
from coatledger_api.commands.shown_numbers import tell


class Calculations(click.Group):
    """A command for each calculation of the table."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the calculations in the table's order."""
        return list(CALCULATIONS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Make one calculation's command."""
        found = CALCULATIONS.get(cmd_name)
        return None if found is None else _command(found)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table with its whole sentences."""
        with formatter.section("Commands"):
            formatter.write_dl([(one.name, one.does) for one in CALCULATIONS.values()])


@click.command("calculate", cls=Calculations)
def command() -> None:
    """Work out one number of the trade: no service, no history, its source beside it.

    Options take SI units, as the ends of their names say. The same option may be given in US units
    by another end: --air-f for --air-c, --wet-film-mil for --wet-film-um, --area-ft2 for --area-m2.
    """


def _command(calculation: Calculation) -> click.Command:
    options: list[click.Parameter] = [
        option
        for field in msgspec.structs.fields(calculation.asks)
        for option in _options(field, _described(calculation.asks, field.name))
    ]
    options.append(click.Option(["--us"], is_flag=True, help="Answer in US units."))
    options.append(click.Option(["--json", "as_json"], is_flag=True, help="Answer as JSON."))
    return click.Command(
        calculation.name,
        params=options,
        callback=_answering(calculation),
        help=f"{calculation.does}\n\nSource: {calculation.source}.",
    )


def _options(field: msgspec.structs.FieldInfo, says: str) -> list[click.Option]:
    """One option for the field, and hidden ones for the same in other units."""
    flag = "--" + field.name.replace("_", "-")
    if field.required:
        says = f"{says} Needed."
    elif isinstance(field.default, (str, int, float)):
        says = f"{says} Default: {_shown(field.default)}."
    options = [click.Option([flag, field.name], help=says, metavar="VALUE")]
    for suffix, unit in SUFFIXES.items():
        if field.name.endswith(unit.si):
            other = field.name.removesuffix(unit.si) + suffix
            options.append(
                click.Option(["--" + other.replace("_", "-"), other], hidden=True, metavar="VALUE")
            )
    return options


def _shown(default: str | float) -> str:
    if isinstance(default, bool):
        return "yes" if default else "no"
    return f"{default:g}" if isinstance(default, float) else str(default)


def _described(struct: type[msgspec.Struct], name: str) -> str:
    """Find the description in a field's annotation; a choice describes itself."""
    kind = msgspec.inspect.type_info(get_type_hints(struct, include_extras=True)[name])
    kinds = kind.types if isinstance(kind, msgspec.inspect.UnionType) else (kind,)
    for one in kinds:
        if isinstance(one, msgspec.inspect.Metadata):
            said: Mapping[str, Any] = one.extra_json_schema or {}
            return str(said.get("description", ""))
        if isinstance(one, msgspec.inspect.LiteralType):
            return f"{', '.join(map(str, one.values))}."
        if isinstance(one, msgspec.inspect.BoolType):
            return "yes or no."
        if isinstance(one, msgspec.inspect.StructType):
            return f"name=value pairs: {', '.join(kinds_of(one.cls))}."
    return ""


def _answering(calculation: Calculation) -> Callable[..., None]:
    def answer(*, us: bool, as_json: bool, **given: str | None) -> None:
        asked = _asked(calculation, {name: text for name, text in given.items() if text})
        try:
            told = calculate(calculation, asked)
        except Refused as refusal:
            raise Misused(f"{refusal.faults[0].detail}.") from None
        if as_json:
            say(msgspec.json.format(msgspec.json.encode(told)).decode())
            return
        tell(told, Manner(units="us" if us else "metric"))
        say(f"Source: {calculation.source}.")

    return answer


def _asked(calculation: Calculation, given: Mapping[str, str]) -> msgspec.Struct:
    how = How(text=True, wall=Wall(), faults=[])
    value = read_fields(given, kinds_of(calculation.asks), how, "")
    faults = {fault.pointer: fault.detail for fault in how.faults}
    try:
        asked: msgspec.Struct = typed(value, calculation.asks)
    except Refused as refusal:
        for fault in refusal.faults:
            faults.setdefault(fault.pointer, fault.detail)
    if faults:
        told = (f"  --{_flag(pointer)}: {detail}" for pointer, detail in faults.items())
        raise Misused("\n".join(("These options are wrong or missing:", *told)))
    return asked


def _flag(pointer: str) -> str:
    return pointer.lstrip("/").replace("_", "-").replace("/", " ")
