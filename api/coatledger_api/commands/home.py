"""Where a ledger lives on this machine: its folder, its database, its keys and their secret."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import click
from coatledger_adapters.addresses import file_of
from coatledger_adapters.checkpoints import CheckpointBook, SqlCheckpoints
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.fold_versions import bring_up_to_date
from coatledger_adapters.keys import KeyBook, secret_in
from coatledger_adapters.lock_file import InUseError
from coatledger_adapters.migrate import migrate
from coatledger_adapters.signing import KeyFileError, signer_in
from coatledger_adapters.sql_keys import SqlKeys
from coatledger_adapters.sql_store import SqlStore, open_store

from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import count, say

F = TypeVar("F", bound=Callable[..., Any])


class Ledger(NamedTuple):
    """A ledger that is open: its store, its keys, the secret they are hashed under, and the book of
    its signed heads."""

    store: SqlStore
    keys: KeyBook
    secret: bytes
    heads: CheckpointBook


def housed(command: F) -> F:
    """Give a command the options that say which ledger on this machine it is about."""
    command = click.option(
        "--shop",
        envvar="COATLEDGER_SHOP",
        default="shop",
        show_default=True,
        help="The shop's own word; it stands in every event's proof.",
    )(command)
    command = click.option(
        "--database",
        envvar="COATLEDGER_DATABASE",
        help="sqlite:///file or postgresql://… Default: ledger.db in the folder.",
    )(command)
    return click.option(
        "--home",
        envvar="COATLEDGER_HOME",
        type=click.Path(path_type=Path, file_okay=False),
        default=".coatledger",
        show_default=True,
        help="Folder of the ledger and of the secret its keys rest on.",
    )(command)


def open_ledger(home: Path, database: str | None, shop: str) -> Ledger:
    """Bring the tables up to date and open the ledger; what is not there yet is made."""
    address = database or f"sqlite:///{home / 'ledger.db'}"
    try:
        home.mkdir(parents=True, exist_ok=True)
        migrate(address)
        store = open_store(address, shop)
        renewed = bring_up_to_date(store)
        if renewed is not None:
            told = f"{count(renewed.size, 'event')}, {count(renewed.folds, 'state')} changed"
            say(f"Worked out again for this version what follows from {told}.", aside=True)
        heads = SqlCheckpoints(store, signer_in(home, shop))
        return Ledger(store, SqlKeys(store), secret_in(home / "secret"), heads)
    except (UnfitError, InUseError, KeyFileError, OSError) as fault:
        raise Failed(f"The ledger cannot be opened: {fault}") from None


def sqlite_file(home: Path, database: str | None) -> Path | None:
    """Name the file of a SQLite ledger; None for one on a server."""
    return home / "ledger.db" if database is None else file_of(database)
