"""`coatledger restore`: put a copy in the ledger's place; readers of the feed will notice."""

from datetime import UTC, datetime
from pathlib import Path

import click
from coatledger_adapters.addresses import DatabaseError, shown
from coatledger_adapters.backup import BackupError, Restored, check_backup, restore
from coatledger_adapters.backup_server import restore_to_server
from coatledger_adapters.lock_file import InUseError

from coatledger_api.commands.home import housed, sqlite_file
from coatledger_api.commands.reach import Failed, Misused
from coatledger_api.commands.shown import count, say


@click.command("restore")
@click.argument("file", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--yes", is_flag=True, help="Do not ask.")
@housed
def command(file: Path, yes: bool, home: Path, database: str | None, shop: str) -> None:
    """Put the backup FILE in the place of this ledger; its service must be stopped.

    A file that is replaced is moved aside, not deleted; into PostgreSQL it goes only where nothing
    is yet: make an empty database and name that. The ledger begins a new life (another epoch): who
    reads its feed is told so, and heads signed from now on have another origin. What was erased
    since the copy is erased again.
    """
    try:
        manifest = check_backup(file)
        if manifest.shop != shop:
            raise Misused(f"This is the ledger of {manifest.shop}: say --shop {manifest.shop}.")
        if not yes:
            what = f"{count(manifest.size, 'event')} up to {manifest.made_at}"
            where = shown(database) if database else home / "ledger.db"
            click.confirm(f"Put {what} in the place of {where}?", abort=True)
        home.mkdir(parents=True, exist_ok=True)
        done = _restored(file, home, database)
    except (BackupError, InUseError, DatabaseError) as fault:
        raise Failed(f"{fault}.") from None
    say(f"Restored {count(manifest.size, 'event')}; the ledger's epoch is now {done.epoch}.")
    if done.replaced is not None:
        say(f"What it replaced is kept in {done.replaced}.")
    if done.lost is None:
        say("That file could not be read, so what it had beyond the copy is not known.", aside=True)
    elif done.lost:
        only = count(done.lost, "event")
        says = f"{only} recorded after the copy are only there: record again what is still true."
        say(says, aside=True)
    if done.erased:
        say(f"Carried out again: {count(done.erased, 'erasure')}.")


def _restored(file: Path, home: Path, database: str | None) -> Restored:
    place = sqlite_file(home, database)
    if place is None:
        assert database is not None
        return restore_to_server(file, database, home)
    return restore(file, place, home, datetime.now(UTC))
