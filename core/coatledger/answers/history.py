"""What exactly happened to a piece: every event that names it, with what was corrected and when."""

from datetime import datetime, timedelta
from typing import Literal
from uuid import UUID

import msgspec
from msgspec import Struct

from coatledger.events.about import EventVoided
from coatledger.events.catalogue import CORRECTIONS, EventAmended
from coatledger.ledger.record import Recorded, body_of, recorded
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso


class Entry(Struct, frozen=True, kw_only=True):
    """One event. `fact` is its normal form as it was recorded; `standing` what corrections made of
    it, by the events named in `corrected_by`. `late` is how long after it happened it was told."""

    position: int
    event: UUID
    type: str
    occurred_at: datetime
    recorded_at: datetime
    late: timedelta
    by: str
    standing: Literal["stands", "voided", "amended", "correction"]
    fact: msgspec.Raw
    corrected_by: tuple[UUID, ...] = ()
    note: str | None = None


class HistoryAnswer(Struct, frozen=True, kw_only=True):
    """A subject's whole history, in order of (occurred, position)."""

    subject: str
    position: int
    as_of: datetime | None
    entries: tuple[Entry, ...]


def history_of(reader: Reader, subject: str, asked: Asked) -> HistoryAnswer | None:
    """Return every event naming a subject as known, or None when none does."""
    rows = reader.of_subject(subject, known=asked.known, until_us=asked.as_of_us)
    if not rows:
        return None
    events = [(row, recorded(row)) for row in rows]
    corrections: dict[UUID, list[Recorded]] = {}
    for _, event in sorted(events, key=lambda pair: pair[1].position):
        if isinstance(event.event, (EventVoided, EventAmended)):
            corrections.setdefault(event.event.original, []).append(event)
    notes = reader.notes([row.event_id for row in rows])
    return HistoryAnswer(
        subject=subject,
        position=asked.position(reader),
        as_of=iso(asked.as_of_us),
        entries=tuple(
            Entry(
                position=row.position,
                event=row.event_id,
                type=row.type,
                occurred_at=event.event.occurred_at,
                recorded_at=event.recorded_at,
                late=max(event.recorded_at - event.event.occurred_at, timedelta(0)),
                by=event.by,
                standing=_standing(event, corrections.get(row.event_id, [])),
                fact=msgspec.Raw(body_of(row)),
                corrected_by=tuple(c.event.id for c in corrections.get(row.event_id, [])),
                note=notes[row.event_id].text if row.event_id in notes else None,
            )
            for row, event in events
        ),
    )


def _standing(
    event: Recorded, corrections: list[Recorded]
) -> Literal["stands", "voided", "amended", "correction"]:
    if isinstance(event.event, CORRECTIONS):
        return "correction"
    if not corrections:
        return "stands"
    return "voided" if isinstance(corrections[-1].event, EventVoided) else "amended"
