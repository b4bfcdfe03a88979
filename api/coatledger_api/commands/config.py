"""`coatledger config`: what is set for a service on this machine, and every fault in it at once."""

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import click
import msgspec

from coatledger_api.commands.home import housed
from coatledger_api.commands.reach import Misused
from coatledger_api.commands.shown import say
from coatledger_api.logs import set_up
from coatledger_api.settings import Settings, SettingsError, settings_from, strangers, variable

PORT = 8700


class Line(NamedTuple):
    """One setting as it stands."""

    name: str
    value: str
    is_set: bool


@click.command("config")
@click.option("--json", "as_json", is_flag=True, help="Write it as JSON.")
@housed
def command(as_json: bool, home: Path, database: str | None, shop: str) -> None:
    """Show every setting, what it is and whether the environment sets it; nothing is opened.

    Passwords and keys are masked. Ends with 2 when the service would not start as it is set, and
    names everything that is wrong.
    """
    faults = list(_faults_of_place(home, database))
    settings = Settings()
    try:
        settings = settings_from(os.environ)
    except SettingsError as error:
        faults += error.faults
    unknown = strangers(os.environ)
    if not faults:
        lines = [*_place(home, database, shop), *_lines(settings)]
        if as_json:
            say(msgspec.json.encode({line.name: line.value for line in lines}).decode())
        else:
            for line in lines:
                say(f"{line.name:<36}{line.value}{'' if line.is_set else '  (default)'}")
    for fault in unknown:
        say(f"Mind: {fault}.", aside=True)
    if faults:
        raise Misused(_told(faults))


def settings_here() -> Settings:
    """Read the settings from the environment and begin to log by them, or say all that is wrong."""
    try:
        settings = settings_from(os.environ)
    except SettingsError as error:
        raise Misused(_told(error.faults)) from None
    if settings.print_font is not None and not Path(settings.print_font).is_file():
        raise Misused(_told((f"{variable('print_font')}={settings.print_font}: no such file",)))
    for fault in strangers(os.environ):
        say(f"Mind: {fault}.", aside=True)
    set_up(settings)
    return settings


def masked(address: str) -> str:
    """Show a database's address without its password, wherever that stands in it."""
    address = re.sub(r"(//[^:/@?]*):.*@", r"\1:•••@", address)
    return re.sub(r"(password=)[^&]*", r"\1•••", address)


def _told(faults: list[str] | tuple[str, ...]) -> str:
    return "\n".join(("These settings cannot be used:", *(f"  {fault}" for fault in faults)))


def _faults_of_place(home: Path, database: str | None) -> Iterator[str]:
    if database is not None and not database.startswith(("sqlite:///", "postgresql")):
        yield "COATLEDGER_DATABASE: it begins with neither sqlite:/// nor postgresql://"
    nearest = next(folder for folder in (home, *home.absolute().parents) if folder.exists())
    if not nearest.is_dir():
        yield f"COATLEDGER_HOME={home}: {nearest} is no folder"
    elif not os.access(nearest, os.W_OK):
        yield f"COATLEDGER_HOME={home}: nothing may be written in {nearest}"


def _place(home: Path, database: str | None, shop: str) -> Iterator[Line]:
    address = database or f"sqlite:///{home / 'ledger.db'}"
    yield _line("HOME", str(home))
    yield _line("DATABASE", masked(address))
    yield _line("SHOP", shop)
    if "COATLEDGER_URL" in os.environ:
        yield _line("URL", os.environ["COATLEDGER_URL"])
    if "COATLEDGER_KEY" in os.environ:
        yield _line("KEY", os.environ["COATLEDGER_KEY"][:12] + "•••")


def _line(name: str, value: str) -> Line:
    return Line(variable(name), value, variable(name) in os.environ)


def _lines(settings: Settings) -> Iterator[Line]:
    for field in msgspec.structs.fields(Settings):
        value = getattr(settings, field.name)
        if field.name == "port" and value is None:
            value = PORT
        shown = str(value).lower() if isinstance(value, bool) else f"{value}"
        yield _line(field.name, shown)
