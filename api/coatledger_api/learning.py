"""What the clocks have learned, kept from question to question until day or past changes."""

from collections.abc import Mapping
from threading import Lock

from coatledger.clocks.overnight import Overnight, disturbs
from coatledger.computations.drying import Spread
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked

PAGE = 1_000


class Learning:
    """The factors of one shop's last midnight. Every answer is the same as without this."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._midnight_us = 0
        self._looked_to = 0
        self._kept: dict[str, Spread] = {}

    def factors(self, reader: Reader, asked: Asked) -> Mapping[str, Spread]:
        """Return the factors for a question; one about the past learns for itself."""
        view = asked.view(reader)
        if not asked.present:
            return Overnight(view)
        fresh = Overnight(view)
        head = reader.head().size
        with self._lock:
            if head < self._looked_to:  # this reader looks at an older state than another did
                return fresh
            if fresh.midnight_us != self._midnight_us or self._is_disturbed(reader, head):
                self._kept = {}
            self._midnight_us, self._looked_to = fresh.midnight_us, head
            return Overnight(view, self._kept)

    def _is_disturbed(self, reader: Reader, head: int) -> bool:
        """Look through what was recorded since; much at once is not looked through."""
        if head - self._looked_to > PAGE:
            return True
        return disturbs(reader.rows(self._looked_to, PAGE), self._midnight_us)
