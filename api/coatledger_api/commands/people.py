"""`coatledger people`: the names behind the words that stand for people in events."""

from pathlib import Path

import click
from coatledger_adapters.erasure import NAME_MAX, PersonNames

from coatledger_api.commands.home import housed, open_ledger
from coatledger_api.commands.reach import Misused
from coatledger_api.commands.shown import say, table


@click.command("people")
@click.option("--name", nargs=2, metavar="WORD NAME", help="Keep a person's name.")
@housed
def command(name: tuple[str, str] | None, home: Path, database: str | None, shop: str) -> None:
    """List the people whose names are kept, or keep one more; the service must be stopped.

    Events know people by opaque words only. Names lie apart, each under a key of its own in the
    file people.keys; `coatledger erase --person WORD` destroys the key.
    """
    if name is not None and not 0 < len(name[1]) <= NAME_MAX:
        raise Misused(f"A name has 1 to {NAME_MAX} characters.")
    ledger = open_ledger(home, database, shop)
    try:
        names = PersonNames(ledger.store, home)
        if name is not None:
            names.set(*name)
        known = names.all()
    finally:
        ledger.store.close()
    if not known:
        say("Nobody's name is kept.")
    table(("word", "name"), list(known.items()))
