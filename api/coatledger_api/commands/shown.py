"""How answers are shown to people: sentences and tables, in the shop's own zone and units.

On a terminal tables are fitted to its width; anywhere else they are plain columns, so that other
programs and quick eyes can read them.
"""

import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

import click
import msgspec
from coatledger import units

from coatledger_api.commands.reach import Refusal, Service

NOTHING = "-"
FORBIDDEN = 403


class Unit(NamedTuple):
    """How one kind of quantity is shown: its unit, decimals, and conversion from SI."""

    name: str
    decimals: int
    convert: Callable[[float], float]


def _same(value: float) -> float:
    return value


Quantity = Literal["c", "um", "l", "m2", "mm", "kpa"]
SHOWN: Mapping[str, Mapping[Quantity, Unit]] = {
    "metric": {
        "c": Unit("°C", 1, _same),
        "um": Unit("µm", 0, _same),
        "l": Unit("L", 2, _same),
        "m2": Unit("m²", 2, _same),
        "mm": Unit("mm", 1, _same),
        "kpa": Unit("kPa", 0, _same),
    },
    "us": {
        "c": Unit("°F", 1, units.f_from_c),
        "um": Unit("mil", 1, units.mil_from_um),
        "l": Unit("fl oz", 1, units.fl_oz_from_l),
        "m2": Unit("ft²", 1, units.ft2_from_m2),
        "mm": Unit("in", 2, units.in_from_mm),
        "kpa": Unit("psi", 1, units.psi_from_kpa),
    },
}


class Manner(NamedTuple):
    """The shop's zone and units."""

    zone: ZoneInfo = ZoneInfo("UTC")
    units: str = "metric"

    def time(self, text: str | datetime | None) -> str:
        """Write a moment as day and clock in the shop's zone."""
        if text is None:
            return NOTHING
        moment = datetime.fromisoformat(text) if isinstance(text, str) else text
        return f"{moment.astimezone(self.zone):%a %Y-%m-%d %H:%M}"

    def clock(self, moment: datetime) -> str:
        """Write the clock alone."""
        return f"{moment.astimezone(self.zone):%H:%M}"

    def soon(self, moment: datetime | None, now: datetime | None) -> str:
        """Write a moment near to another: the clock alone on the same day."""
        if moment is None:
            return NOTHING
        local = moment.astimezone(self.zone)
        if now is None:
            return self.time(moment)
        if local.date() == now.astimezone(self.zone).date():
            return f"{local:%H:%M}"
        return f"{local:%a} {local.day} {local:%b %H:%M}"

    def quantity(self, value: float | None, kind: Quantity) -> str:
        """Write a quantity in the shop's unit."""
        if value is None:
            return NOTHING
        unit = SHOWN[self.units][kind]
        return f"{unit.convert(value):.{unit.decimals}f} {unit.name}"


def words(value: object) -> str:
    """Write one of the ledger's words as people say it."""
    return NOTHING if value in (None, "", (), []) else str(value).replace("_", " ")


def count(number: int, what: str) -> str:
    """Write how many of something there are."""
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def percent(share: float | None) -> str:
    """Write a share of one as percent."""
    return NOTHING if share is None else f"{share * 100:.1f} %"


def number(value: float | None, decimals: int = 1) -> str:
    """Write a number, or a dash for none."""
    return NOTHING if value is None else f"{value:.{decimals}f}"


def wait(later: timedelta) -> str:
    """Write a length of time as somebody at the bench would say it."""
    minutes = round(later.total_seconds() / 60)
    if minutes <= 0:
        return "now"
    days, rest = divmod(minutes, 24 * 60)
    hours, minutes = divmod(rest, 60)
    if days >= 2:
        return f"in {days} d {hours} h"
    hours += days * 24
    return f"in {hours} h {minutes:02d} min" if hours else f"in {minutes} min"


def say(text: str = "", *, aside: bool = False) -> None:
    """Say a sentence; an aside goes where it does not mix with the answer."""
    click.echo(text, err=aside)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Write a table, fitted to the terminal when there is one."""
    if sys.stdout.isatty():
        _on_terminal(headings, rows)
        return
    widths = [max(len(row[i]) for row in (headings, *rows)) for i in range(len(headings))]
    for row in (headings, *rows):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        click.echo("  ".join(cells).rstrip())


def manner_of(service: Service) -> Manner:
    """Ask the service for the shop's zone and units; a key that may not read the shop is told times
    of UTC."""
    try:
        shop = msgspec.json.decode(service.get("/v1/shop"))
    except Refusal as refused:
        if refused.status != FORBIDDEN:
            raise
        return Manner()
    return Manner(ZoneInfo(shop["zone"]), shop["units"])


def _on_terminal(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    sheet = Table(box=None, pad_edge=False, header_style="underline")
    for heading in headings:
        sheet.add_column(heading)
    for row in rows:
        sheet.add_row(*(Text(cell) for cell in row))
    Console(highlight=False).print(sheet)
