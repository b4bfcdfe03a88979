"""One service a SQLite file: a lock beside it that the system drops when its process ends.

SQLite lets several processes write one file. We do not: versions before 3.51.3 can lose committed
work when two connections write and checkpoint at once, and only one head may count positions.
"""

import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class InUseError(Exception):
    """Another process, or another store of this one, has the ledger open."""


class LockFile:
    """Held from its making until it is closed or its process ends, however it ends."""

    def __init__(self, database: Path) -> None:
        # The resolved path, so that two names of one file meet in one lock.
        self._path = Path(f"{database.resolve()}.lock")
        self._file = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take(self._file)
        except OSError as error:
            holder = os.read(self._file, 32).decode("ascii", "replace").strip()
            os.close(self._file)
            raise InUseError(
                f"{database} is open for writing in another process"
                f"{f' ({holder})' if holder else ''}; a SQLite ledger has one service, so stop "
                "that one first or go through it"
            ) from error
        os.ftruncate(self._file, 0)
        os.write(self._file, f"process {os.getpid()}\n".encode("ascii"))

    def close(self) -> None:
        """Give the lock back. The file stays, because removing it would let two locks exist."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def _take(file: int) -> None:
    if sys.platform == "win32":
        # Beyond what is written, because Windows forbids others to read a locked byte.
        os.lseek(file, 1024, os.SEEK_SET)
        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        os.lseek(file, 0, os.SEEK_SET)
    else:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
