"""The library `eventsourcing` in its fastest set-up on SQLite: frozen msgspec events, a mapper that
encodes them in one call, one event a save.

Its file is in WAL mode with synchronous=FULL, so that what it saved is as durable as ours. It keeps
an aggregate's number, version, topic and state; no hashes, subjects, folds or findings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import msgspec
from coatledger.events.catalogue import AnyEvent
from eventsourcing.application import Application
from eventsourcing.domain import datetime_now_with_tzinfo
from eventsourcing.persistence import Mapper, StoredEvent, Transcoder
from eventsourcing.utils import get_topic, resolve_topic


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """One fact, as an event of an aggregate."""

    originator_id: UUID
    originator_version: int
    timestamp: datetime = msgspec.field(default_factory=datetime_now_with_tzinfo)
    fact: AnyEvent


class Heard:
    """What an aggregate makes of its facts: how many, and what was last."""

    __slots__ = ("count", "last_at", "originator_id", "stage")

    def __init__(self, originator_id: UUID) -> None:
        self.originator_id = originator_id
        self.count = 0
        self.stage = ""
        self.last_at: datetime | None = None


class OneCall(Mapper[UUID]):
    """Events to bytes and back, each in one call of msgspec."""

    def to_stored_event(self, domain_event: Any) -> StoredEvent:
        """Encode."""
        return StoredEvent(
            originator_id=domain_event.originator_id,
            originator_version=domain_event.originator_version,
            topic=get_topic(type(domain_event)),
            state=msgspec.json.encode(domain_event),
        )

    def to_domain_event(self, stored_event: StoredEvent) -> Any:
        """Decode."""
        kind = resolve_topic(stored_event.topic)
        return msgspec.json.decode(stored_event.state, type=kind)


class NoTranscoder(Transcoder):
    """The library asks for one; the mapper above never uses it."""

    def encode(self, obj: object) -> bytes:
        """Encode nothing."""
        return b""

    def decode(self, data: bytes) -> None:
        """Decode nothing."""


def application(file: str, engine: Mapping[str, str] | None = None) -> Application[UUID]:
    """An application on a SQLite file, or on another engine of the library."""
    own = {"PERSISTENCE_MODULE": "eventsourcing.sqlite", "SQLITE_DBNAME": file}
    fast = {"MAPPER_TOPIC": get_topic(OneCall), "TRANSCODER_TOPIC": get_topic(NoTranscoder)}
    return Application({**(engine or own), **fast})


def saver(file: str) -> Callable[[AnyEvent], int]:
    """Save a fact as the first event of a new aggregate, and return the number it got."""
    rival = application(file)

    def save(fact: AnyEvent) -> int:
        told = Told(originator_id=uuid4(), originator_version=1, fact=fact)
        return int(rival.save(told)[0].notification.id)

    return save


def heard(state: Heard | None, events: Iterable[Any]) -> Heard | None:
    """Make an aggregate's state of its events."""
    for event in events:
        if state is None:
            state = Heard(event.originator_id)
        state.count += 1
        state.stage = type(event.fact).__name__
        state.last_at = event.fact.occurred_at
    return state
