"""The copy of a PostgreSQL ledger: one shop, as it was at one moment, in a file like any other.

The file is a SQLite ledger, so it is checked, kept and read as one, and it can be put back into
either kind of database. The server's own tools copy whole servers; they are for what this is not.
"""

import tempfile
from contextlib import closing
from datetime import datetime
from pathlib import Path

from coatledger_adapters.backup import (
    Backup,
    BackupError,
    Restored,
    check_backup,
    in_one_file,
    kept_copy,
    put_into_another_life,
)
from coatledger_adapters.engines import UnfitError
from coatledger_adapters.migrate import migrate
from coatledger_adapters.move import MoveError, copied, move, refuse_unless_empty
from coatledger_adapters.read_models import without_pauses
from coatledger_adapters.sql_store import SqlStore, open_store


def back_up_server(source: SqlStore, folder: Path, now: datetime) -> Backup:
    """Copy one shop's ledger into a file, from one state, beside services that go on writing."""

    def copy(part: Path) -> None:
        # In a folder of its own: an open ledger has files beside it.
        with tempfile.TemporaryDirectory(dir=part.parent, prefix=".") as beside:
            file = Path(beside) / "ledger.db"
            migrate(f"sqlite:///{file}")
            try:
                with closing(open_store(f"sqlite:///{file}", source.shop)) as target:
                    _copy(source, target)
            except MoveError as error:
                raise BackupError(str(error)) from error
            in_one_file(file)
            file.rename(part)

    return kept_copy(copy, folder, now)


def restore_to_server(path: Path, address: str, home: Path) -> Restored:
    """Put a copy into an empty PostgreSQL database, under a new epoch.

    A server's database is not moved aside as a file is: make an empty one, and drop the old one
    when nobody misses it any more.
    """
    manifest = check_backup(path)
    with tempfile.TemporaryDirectory(prefix="coatledger-") as folder:
        part = Path(folder) / "ledger.db"
        epoch, erased = put_into_another_life(path, part, manifest, home)
        migrate(f"sqlite:///{part}")
        migrate(address)
        try:
            with (
                closing(open_store(f"sqlite:///{part}", manifest.shop, moved_too=True)) as source,
                closing(open_store(address, manifest.shop, moved_too=True)) as target,
            ):
                move(source, target)
        except (MoveError, UnfitError) as error:
            raise BackupError(str(error)) from error
    return Restored(manifest, epoch, None, 0, erased)


def _copy(source: SqlStore, target: SqlStore) -> None:
    with target.tending() as there, without_pauses():
        refuse_unless_empty(target, there)
        with source.beside() as here:
            copied(source, target, here, there)
