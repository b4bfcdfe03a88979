"""A room's readings as rows of their own: kept with their event, ended by its corrections."""

from coatledger.events.about import EventVoided
from coatledger.events.base import Fact
from coatledger.events.catalogue import EventAmended
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import ClimateRow
from coatledger.recording.overlay import Overlay


def keep_climate(overlay: Overlay, fact: Fact, row: Row) -> None:
    """Keep a fact's readings as rows; a correction ends those that stood before it."""
    if isinstance(fact, ClimateRead):
        overlay.add_climate(climate_rows(fact, row.position))
        return
    if not isinstance(fact, (EventVoided, EventAmended)):
        return
    original = overlay.by_id((fact.original,))[fact.original]
    if original.type != "climate_read":
        return
    room = f"room:{recorded(original).event.room}"  # type: ignore[union-attr]
    for earlier in overlay.of_subject(room, types=("event_amended",)):
        amended = recorded(earlier).event
        if (
            isinstance(amended, EventAmended)
            and amended.original == fact.original
            and earlier.position != row.position
        ):
            overlay.end_climate(earlier.position, row.position)
    overlay.end_climate(original.position, row.position)
    if isinstance(fact, EventAmended) and isinstance(fact.replacement, ClimateRead):
        overlay.add_climate(climate_rows(fact.replacement, row.position))


def climate_rows(fact: ClimateRead, position: int) -> tuple[ClimateRow, ...]:
    """Write a climate_read as rows, one a reading."""
    return tuple(
        ClimateRow(
            room=fact.room,
            at_us=micros(reading.at or fact.occurred_at),
            position=position,
            air_c=reading.air_c,
            rh_pct=reading.rh_pct,
            surface_c=reading.surface_c,
            gone_at=None,
        )
        for reading in fact.readings
    )
