"""A place beside the live state, in memory, for what a rebuild works out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from coatledger.ledger.store import ClimateRow, StoredFold


class MemoryBeside:
    """A place in memory that counts how often it was asked."""

    def __init__(self) -> None:
        self.kept: dict[str, StoredFold] = {}
        self.climate: list[ClimateRow] = []
        self.counts: dict[tuple[str, str], float] = {}
        self.fetched = 0

    def folds(self, subjects: Iterable[str]) -> Mapping[str, StoredFold]:
        found = {subject: self.kept[subject] for subject in subjects if subject in self.kept}
        self.fetched += len(found)
        return found

    def put(self, folds: Sequence[StoredFold]) -> None:
        self.kept.update((fold.subject, fold) for fold in folds)

    def count(self, more: Mapping[tuple[str, str], float]) -> None:
        for key, value in more.items():
            self.counts[key] = self.counts.get(key, 0) + value

    def add_climate(self, rows: Sequence[ClimateRow]) -> None:
        self.climate.extend(rows)

    def end_climate(self, position: int, gone_at: int) -> None:
        self.climate = [
            row._replace(gone_at=gone_at)
            if row.position == position and row.gone_at is None
            else row
            for row in self.climate
        ]
