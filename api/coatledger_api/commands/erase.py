"""`coatledger erase`: delete free words or a name for good; every proof stays as it was."""

from pathlib import Path
from uuid import UUID

import click
from coatledger_adapters.erasure import NotErasedError, PersonNames, erase_note

from coatledger_api.commands.home import housed, open_ledger
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.shown import say


@click.command("erase")
@click.option("--note", type=click.UUID, metavar="EVENT", help="The words told with this event.")
@click.option("--person", metavar="WORD", help="The name behind this word.")
@housed
def command(
    note: UUID | None, person: str | None, home: Path, database: str | None, shop: str
) -> None:
    """Erase the words of a note, or a person's name; the service must be stopped.

    Events hold neither, only a salted hash and an opaque word, so their proofs still verify. Older
    backups still hold a note until they are thrown away; putting one back erases it again.
    """
    if (note is None) == (person is None):
        raise click.UsageError("Name either --note or --person.")
    ledger = open_ledger(home, database, shop)
    try:
        if note is not None:
            done, what = erase_note(ledger.store, home, note), f"the words of event {note}"
        else:
            assert person is not None
            done, what = PersonNames(ledger.store, home).erase(person), f"the name of {person}"
    except NotErasedError as fault:
        raise Failed(f"Not erased: {fault}.") from None
    finally:
        ledger.store.close()
    if not done:
        raise Failed(f"There are none: {what}.")
    say(f"Erased: {what}.")
