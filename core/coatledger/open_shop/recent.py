"""The last events of a ledger, read once for all that is learned of how a shop goes on."""

from coatledger.ledger.record import Row
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked

# So far back, in events, a shop's habits are looked at.
EVENTS_BACK = 4_000


def recent(reader: Reader, asked: Asked) -> tuple[Row, ...]:
    """Return the last events that are known at a place and had happened by then, oldest first."""
    last = asked.position(reader)
    rows = reader.rows(max(last - EVENTS_BACK, 0), min(EVENTS_BACK, last))
    return tuple(r for r in rows if r.position <= last and r.occurred_us <= asked.now_us)
