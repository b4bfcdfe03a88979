"""The demonstration shop under test: short questions to the service that shows it."""

from __future__ import annotations

from typing import Any

import msgspec
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import Row, recorded
from coatledger_adapters.keys import MemoryKeys
from coatledger_api.demo.player import Played
from litestar.testing import TestClient

SECRET = b"a demonstration " * 2


class Shown:
    """One played shop behind its service; what was asked once is remembered."""

    def __init__(
        self, client: TestClient[Any], store: MemoryStore, keys: MemoryKeys, token: str,
        first: Played,
    ) -> None:  # fmt: skip
        self.client = client
        self.store = store
        self.keys = keys
        self.token = token
        self.first = first
        self._answers: dict[str, Any] = {}

    def get(self, path: str) -> Any:
        """Ask, and return the answer read from JSON."""
        if path not in self._answers:
            answer = self.client.get(path, headers={"Authorization": f"Bearer {self.token}"})
            assert answer.status_code == 200, answer.text
            self._answers[path] = answer.json()
        return self._answers[path]

    def rows(self) -> tuple[Row, ...]:
        """Return everything recorded, in its order."""
        with self.store.reading() as reader:
            return tuple(reader.rows(0, 10_000))

    def piece(self, word: str) -> Any:
        """Ask for one piece."""
        return self.get(f"/v1/pieces/{word}")

    def codes(self, word: str) -> frozenset[str]:
        """Name the findings of one piece."""
        return frozenset(finding["code"] for finding in self.piece(word)["findings"])

    def history(self, word: str) -> list[dict[str, Any]]:
        """Tell everything recorded about one piece."""
        entries: list[dict[str, Any]] = self.get(f"/v1/pieces/{word}/history")["entries"]
        return entries

    def told(self, word: str, tag: str) -> list[dict[str, Any]]:
        """Return the facts of one type in a piece's history."""
        return [one["fact"] for one in self.history(word) if one["type"] == tag]

    def every(self, *tags: str) -> list[dict[str, Any]]:
        """Return the facts of some types in the order they were recorded."""
        rows = (row for row in self.rows() if row.type in tags)
        return [msgspec.to_builtins(recorded(row).event) for row in rows]
