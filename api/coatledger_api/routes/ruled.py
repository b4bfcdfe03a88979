"""What is said of facts just recorded, each at its own place: findings, and cautions."""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from typing import NamedTuple
from uuid import UUID

from coatledger.computations.cautions import Caution
from coatledger.events.catalogue import AnyEvent, EventAmended
from coatledger.findings.cautioned import CAUTIONED, cautions_of
from coatledger.findings.find import findings_of
from coatledger.findings.finding import Finding
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.view import View
from msgspec import Struct


class Found(NamedTuple):
    """Findings by the id of the event that was posted."""

    by_event: Mapping[UUID, tuple[Finding, ...]]
    left_out: bool = False


def findings_for(reader: Reader, events: Sequence[UUID]) -> Found:
    """Judge recorded events; an amendment is judged as what it puts in the original's place."""
    rows = reader.by_id(events)
    return Found({event: _judged(reader, row) for event, row in rows.items()})


class CautionTold(Struct, frozen=True, kw_only=True):
    """Something to be careful of, who says so, and the posted acts that bring it about."""

    code: str
    text: str
    source: str
    events: tuple[UUID, ...]


def cautions_for(reader: Reader, events: Sequence[AnyEvent]) -> Mapping[UUID, Sequence[Caution]]:
    """Return the cautions of acts by their ids."""
    told: dict[UUID, Sequence[Caution]] = {}
    for event in events:
        fact = event.replacement if isinstance(event, EventAmended) else event
        with suppress(ParkedError):
            told[event.id] = cautions_of(View(reader, micros(fact.occurred_at)), fact)
    return told


def gathered(said: Iterable[tuple[UUID, Sequence[Caution]]]) -> tuple[CautionTold, ...]:
    """Tell each caution once, with the acts it belongs to."""
    told: dict[Caution, list[UUID]] = {}
    for event, cautions in said:
        for caution in cautions:
            told.setdefault(caution, []).append(event)
    return tuple(
        CautionTold(code=one.code, text=one.text, source=one.source, events=tuple(acts))
        for one, acts in told.items()
    )


def is_cautioned(event: AnyEvent) -> bool:
    """Whether such an act calls for care. What is imported is over."""
    fact = event.replacement if isinstance(event, EventAmended) else event
    return event.source != "import" and type(fact) in CAUTIONED


def _judged(reader: Reader, row: Row) -> tuple[Finding, ...]:
    fact, position = recorded(row).event, row.position
    if isinstance(fact, EventAmended):
        position = reader.by_id((fact.original,))[fact.original].position
        fact = fact.replacement
    try:
        return findings_of(View(reader, micros(fact.occurred_at), before=position), fact)
    except ParkedError:  # recorded all the same; nothing can be said of it
        return ()
