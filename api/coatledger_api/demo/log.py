"""The demonstration's day log: facts as they are written down, when and on which device."""

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, NamedTuple, TypeVar
from uuid import UUID

from coatledger.events.base import Fact
from coatledger.ledger.record import micros

F = TypeVar("F", bound=Fact)
POSTED_AFTER = timedelta(minutes=1)


def seeded_id(rng: random.Random, at: datetime) -> UUID:
    """Make a UUIDv7 of a fact's own time and bits of the seed, the same on every run."""
    ms = micros(at) // 1000
    return UUID(int=(ms << 80) | (7 << 76) | (0b10 << 62) | rng.getrandbits(62))


class Entry(NamedTuple):
    """One fact on its way to the ledger."""

    post_at: datetime
    number: int
    device: str
    fact: Any


@dataclass
class Log:
    """Everything written down so far, in the order it was written."""

    rng: random.Random
    entries: list[Entry] = field(default_factory=list)

    def note(
        self, kind: type[F], at: datetime, /, *, sent_by: str = "", post_at: datetime | None = None,
        **fields: Any,
    ) -> F:  # fmt: skip
        """Write a fact down; it is sent a minute after it ended unless told otherwise."""
        told = {name: value for name, value in fields.items() if value is not None}
        told.setdefault("id", seeded_id(self.rng, at))
        fact = kind(occurred_at=at, **told)
        sent = post_at or (fact.ended_at or at) + POSTED_AFTER
        who = sent_by or fact.actor or "office"
        self.entries.append(Entry(sent, len(self.entries), who, fact))
        return fact

    def done_by(self, now: datetime) -> tuple[Entry, ...]:
        """Return what was sent by now, in the order it was sent."""
        sent = [e for e in self.entries if e.post_at <= now]
        return tuple(sorted(sent, key=lambda e: (e.post_at, e.number)))

    def replace(self, changed: Iterable[Entry]) -> None:
        """Write some entries anew, told apart by their number."""
        for entry in changed:
            self.entries[entry.number] = entry
