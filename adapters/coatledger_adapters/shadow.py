"""Where rebuilt state waits beside the live one: a throw-away SQLite file, whatever the engine."""

import sqlite3
import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from coatledger.ledger.store import ClimateRow, StoredFold

KEYS_AT_ONCE = 500
PAGE = 4_000
_TABLES = """
CREATE TABLE fold (subject TEXT PRIMARY KEY, version INTEGER, position INTEGER, folded_at INTEGER,
  shelf TEXT, state BLOB);
CREATE TABLE climate (room TEXT, at INTEGER, position INTEGER, air_c REAL, rh_pct REAL,
  surface_c REAL, gone_at INTEGER);
CREATE TABLE tally (name TEXT, key TEXT, value REAL, PRIMARY KEY (name, key)) WITHOUT ROWID;
CREATE INDEX climate_position ON climate (position);
"""


class Shadow:
    """A place beside the live state. It is deleted with its folder."""

    def __init__(self, file: sqlite3.Connection) -> None:
        self._file = file

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        """Return what was put here for these subjects."""
        found: dict[str, StoredFold] = {}
        wanted = list(subjects)
        for start in range(0, len(wanted), KEYS_AT_ONCE):
            keys = wanted[start : start + KEYS_AT_ONCE]
            marks = ", ".join("?" * len(keys))
            rows = self._file.execute(f"SELECT * FROM fold WHERE subject IN ({marks})", keys)
            found.update((row[0], StoredFold._make(row)) for row in rows)
        return found

    def put(self, folds: Sequence[StoredFold]) -> None:
        """Keep folds; the last one of a subject counts."""
        self._file.executemany("INSERT OR REPLACE INTO fold VALUES (?, ?, ?, ?, ?, ?)", folds)

    def count(self, more: Mapping[tuple[str, str], float]) -> None:
        """Add to counts."""
        self._file.executemany(
            "INSERT INTO tally VALUES (?, ?, ?) "
            "ON CONFLICT (name, key) DO UPDATE SET value = value + excluded.value",
            [(*key, value) for key, value in more.items()],
        )

    def counts(self) -> Iterator[tuple[str, str, float]]:
        """Yield the counts kept here, in order."""
        return iter(self._file.execute("SELECT name, key, value FROM tally ORDER BY name, key"))

    def add_climate(self, rows: Sequence[ClimateRow]) -> None:
        """Keep readings."""
        self._file.executemany("INSERT INTO climate VALUES (?, ?, ?, ?, ?, ?, ?)", rows)

    def end_climate(self, position: int, gone_at: int) -> None:
        """Take back the readings of one event that nothing took back before."""
        self._file.execute(
            "UPDATE climate SET gone_at = ? WHERE position = ? AND gone_at IS NULL",
            (gone_at, position),
        )

    def subjects(self) -> Iterator[Sequence[str]]:
        """Yield the subjects kept here, page by page."""
        after = ""
        while True:
            query = "SELECT subject FROM fold WHERE subject > ? ORDER BY subject LIMIT ?"
            page = [row[0] for row in self._file.execute(query, (after, PAGE))]
            if not page:
                return
            yield page
            after = page[-1]

    def climate(self) -> Iterator[ClimateRow]:
        """Yield the readings kept here in the order of all their columns but the last."""
        query = "SELECT * FROM climate ORDER BY room, at, position, rowid"
        return (ClimateRow._make(row) for row in self._file.execute(query))

    def climate_of(self, position: int) -> tuple[ClimateRow, ...]:
        """Return the readings of one event, in its own order."""
        query = "SELECT * FROM climate WHERE position = ? ORDER BY rowid"
        return tuple(ClimateRow._make(row) for row in self._file.execute(query, (position,)))


@contextmanager
def shadow() -> Iterator[Shadow]:
    """Make a place and throw it away at the end."""
    with (
        tempfile.TemporaryDirectory(prefix="coatledger-") as folder,
        closing(sqlite3.connect(Path(folder) / "shadow.db", isolation_level=None)) as file,
    ):
        file.execute("PRAGMA journal_mode = OFF")
        file.execute("PRAGMA synchronous = OFF")
        file.executescript(_TABLES)
        file.execute("BEGIN")
        yield Shadow(file)
