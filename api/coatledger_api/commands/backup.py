"""`coatledger backup`: a checked copy of a ledger, while its service goes on."""

import shutil
import tempfile
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import click
from coatledger_adapters.addresses import DatabaseError
from coatledger_adapters.backup import Backup, BackupError, back_up, check_backup
from coatledger_adapters.backup_server import back_up_server
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.self_check import self_check
from coatledger_adapters.sql_store import open_store

from coatledger_api.commands.home import housed, sqlite_file
from coatledger_api.commands.reach import Failed
from coatledger_api.commands.self_check import told
from coatledger_api.commands.shown import count, say


@click.command("backup")
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--check", "only", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE",
              help="Take no copy, but check this one again.")  # fmt: skip
@click.option("--quick", is_flag=True, help="Leave out the rebuild of everything kept beside.")
@housed
def command(
    folder: Path, only: Path | None, quick: bool, home: Path, database: str | None, shop: str
) -> None:
    """Copy the ledger into FOLDER and check the copy; the service may go on running.

    The copy is one file, also of a ledger in PostgreSQL; `coatledger restore` puts it back into
    either. A server's own tools (pg_basebackup, archived logs) lose less and are worth having, too.
    Checked are the file, the positions, the hashes and, unless --quick, everything that is worked
    out from the events. The shop's keys (secret, signing.key, people.keys) are not in the copy:
    keep them elsewhere.
    """
    try:
        if only is None:
            path, manifest = _copied(home, database, shop, folder)
        else:
            path, manifest = Backup(only, check_backup(only))
        if not quick:
            _check_all(path, manifest.shop)
    except BackupError as fault:
        raise Failed(f"{fault}.") from None
    say(f"{path}: {count(manifest.size, 'event')} of {manifest.shop}, root {manifest.root[:16]}….")
    say(
        "Checked: file, positions, hashes" + ("." if quick else ", and all that follows from them.")
    )


def _copied(home: Path, database: str | None, shop: str, folder: Path) -> Backup:
    file = sqlite_file(home, database)
    if file is not None:
        return back_up(file, folder, datetime.now(UTC))
    assert database is not None
    try:
        with closing(open_store(database, shop)) as store:
            return back_up_server(store, folder, datetime.now(UTC))
    except (UnfitError, DatabaseError) as fault:
        raise Failed(f"The ledger cannot be copied: {fault}") from None


def _check_all(path: Path, shop: str) -> None:
    """Open a copy of the copy, because opening a ledger changes its file."""
    with tempfile.TemporaryDirectory(prefix="coatledger-") as folder:
        trial = Path(folder) / "ledger.db"
        shutil.copyfile(path, trial)
        try:
            store = open_store(f"sqlite:///{trial}", shop)
        except UnfitError as fault:
            raise Failed(f"{path} cannot be opened: {fault}") from None
        try:
            report = self_check(store)
        finally:
            store.close()
    if not report.is_whole:
        raise Failed("\n".join([f"{path} is not whole.", *told(report)]))
