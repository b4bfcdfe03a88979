"""As of when, and knowing what: the two axes on which every question is asked."""

from datetime import datetime

from msgspec import Struct

from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.view import View


class Asked(Struct, frozen=True, kw_only=True):
    """One question's place. `known` is the last position used; None means all there is.

    `now_us` is the moment for which clocks are read: `as_of`, or the service's now.
    """

    now_us: int
    as_of_us: int | None = None
    known: int | None = None

    @property
    def present(self) -> bool:
        """Whether the stored present answers: nothing is asked of the past."""
        return self.as_of_us is None and self.known is None

    def view(self, reader: Reader) -> View:
        """Look at the ledger from this place."""
        return View(reader, self.now_us, known=self.known)

    def position(self, reader: Reader) -> int:
        """Return the position the answer reflects."""
        return reader.head().size if self.known is None else self.known


def ask(
    reader: Reader, now: datetime, as_of: datetime | None = None, known_at: datetime | None = None
) -> Asked:
    """Put a question's times on the ledger's axes."""
    as_of_us = None if as_of is None else micros(as_of)
    return Asked(
        now_us=micros(now) if as_of_us is None else as_of_us,
        as_of_us=as_of_us,
        known=None if known_at is None else reader.position_at(micros(known_at)),
    )


def iso(us: int | None) -> datetime | None:
    """Write microseconds as a UTC time, or None."""
    return None if us is None else moment(us)
