"""`coatledger move`: a ledger goes to another database, and its root is the same after."""

import sys

import click
from coatledger_adapters.addresses import DatabaseError, file_of, same_place, shown
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.lock_file import InUseError
from coatledger_adapters.migrate import migrate
from coatledger_adapters.move import Moved, MoveError, move
from coatledger_adapters.sql_store import SqlStore, open_store

from coatledger_api.commands.reach import Failed, Misused
from coatledger_api.commands.shown import count, say


@click.command("move")
@click.option("--from", "source", required=True, metavar="URL",
              help="The ledger as it is: sqlite:///file or postgresql://…")  # fmt: skip
@click.option("--to", "target", required=True, metavar="URL",
              help="An empty database: sqlite:///file or postgresql://…")  # fmt: skip
@click.option("--shop", envvar="COATLEDGER_SHOP", default="shop", show_default=True,
              help="The shop's own word.")  # fmt: skip
@click.option("--again", is_flag=True, help="Take up a move that was cut short.")
def command(source: str, target: str, shop: str, again: bool) -> None:
    """Move a ledger between SQLite and PostgreSQL; its service must be stopped.

    Every event keeps its position and its bytes, so the root of the history is the same after; it
    is worked out from what the other database then holds. Positions, cursors and signed heads go
    on (the epoch stays). Notes, names, keys and signed heads go along; what follows from the events
    is worked out again there. The old ledger is kept, but closed. The folder with the keys' secret
    and the signing key is not touched: serve with the same one.
    """
    if same_place(source, target):
        raise Misused("The ledger is there already.")
    _refuse_a_missing_file(source)
    opened: list[SqlStore] = []
    try:
        for address in (source, target):
            migrate(address)
            opened.append(open_store(address, shop, moved_too=True))
        moved = _moved(*opened, again=again)
    except (UnfitError, InUseError, MoveError, DatabaseError, OSError) as fault:
        raise Failed(f"Nothing was moved: {fault}.") from None
    finally:
        for store in opened:
            store.close()
    _tell(moved, shop, target)


def _moved(source: SqlStore, target: SqlStore, *, again: bool) -> Moved:
    with source.beside() as ledger:
        size = ledger.head().size
    with click.progressbar(length=size, label="Events", file=sys.stderr) as bar:
        return move(source, target, again=again, progress=bar.update)


def _tell(moved: Moved, shop: str, target: str) -> None:
    parts = ", ".join(f"{number} {name}" for name, number in moved.copied.items())
    say(f"Moved the ledger of {shop}: {count(moved.head.size, 'event')}, {parts}.")
    say(f"Root before: {moved.root_before.hex()}")
    say(f"Root after:  {moved.root_after.hex()}")
    say(f"The epoch {moved.head.epoch} stays: positions, cursors and signed heads go on.")
    if moved.parked:
        say(f"Set apart, as it cannot be folded: {', '.join(moved.parked)}.", aside=True)
    where = shown(target)
    say(f"Serve it now with --database {where} and the same --home; the old one stays closed.")


def _refuse_a_missing_file(address: str) -> None:
    file = file_of(address)
    if file is not None and not file.is_file():
        raise Misused(f"There is no file {file}.")
