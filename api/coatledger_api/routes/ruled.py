"""What the rules of the trade say of facts just recorded, each at its own place."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple
from uuid import UUID

from coatledger.events.catalogue import EventAmended
from coatledger.findings.find import findings_of
from coatledger.findings.finding import Finding
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.parked import ParkedError
from coatledger.subjects.view import View


class Found(NamedTuple):
    """Findings by the id of the event that was posted."""

    by_event: Mapping[UUID, tuple[Finding, ...]]
    left_out: bool = False


def findings_for(reader: Reader, events: Sequence[UUID]) -> Found:
    """Judge recorded events; an amendment is judged as what it puts in the original's place."""
    rows = reader.by_id(events)
    return Found({event: _judged(reader, row) for event, row in rows.items()})


def _judged(reader: Reader, row: Row) -> tuple[Finding, ...]:
    fact, position = recorded(row).event, row.position
    if isinstance(fact, EventAmended):
        position = reader.by_id((fact.original,))[fact.original].position
        fact = fact.replacement
    try:
        return findings_of(View(reader, micros(fact.occurred_at), before=position), fact)
    except ParkedError:  # recorded all the same; nothing can be said of it
        return ()
