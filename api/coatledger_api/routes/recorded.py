"""How an event that is recorded looks outside: in the feed, in the stream, as a CloudEvent."""

from typing import TYPE_CHECKING, Annotated, Literal
from uuid import UUID

import msgspec
from coatledger.events.base import Moment
from coatledger.events.catalogue import TAGS, subjects_of
from coatledger.ledger.record import Recorded, Row, body_of, recorded
from coatledger.ledger.store import Head, Reader
from msgspec import Meta, Struct

from coatledger_api.problems import ProblemError

CURSOR = r"^[A-Za-z0-9_-]{1,40}\.[0-9]{1,15}$"
LOOK_AT_MAX = 5_000
if TYPE_CHECKING:
    EventType = str
else:
    EventType = Literal[tuple(TAGS)]
EventTypes = Annotated[tuple[EventType, ...], Meta(max_length=40, description="Only these types.")]
# The bytes as they are stored; what they hold is described by the event's own schema.
AnyFact = Annotated[msgspec.Raw, Meta(extra_json_schema={"$ref": "#/components/schemas/Event"})]
Cursor = Annotated[
    str,
    Meta(
        pattern=CURSOR,
        description="A place in the feed: the ledger's epoch, a dot, a position. What follows it "
        "comes next.",
    ),
]


class RecordedEvent(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """One event as the ledger holds it. `event` is the fact in its normal form, `by` the key that
    recorded it, `offset_ms` what the device's clock was ahead, `previous` the position of the event
    that named each subject before; a free-text note is kept apart and given by itself."""

    position: int
    recorded_at: Moment
    by: str
    event: AnyFact
    previous: dict[str, int]
    offset_ms: int = 0
    note: str | None = None


class CloudEvent(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The same event in the CloudEvents 1.0 JSON form; `sequence` is its position."""

    id: UUID
    source: str
    type: str
    time: Moment
    recordedtime: Moment
    sequence: str
    data: AnyFact
    specversion: Literal["1.0"]
    datacontenttype: Literal["application/json"]
    subject: str | None = None


def seen(row: Row, note: str | None = None) -> RecordedEvent:
    """Show one stored row."""
    stamped = recorded(row)
    return RecordedEvent(
        position=row.position,
        recorded_at=stamped.recorded_at,
        by=stamped.by,
        event=msgspec.Raw(body_of(row)),
        previous=dict(stamped.previous),
        offset_ms=stamped.offset_ms,
        note=note,
    )


def as_cloud_event(row: Row, shop: str) -> CloudEvent:
    """Show one stored row as a CloudEvent; its times are corrected by the stamped offset."""
    stamped = recorded(row)
    return CloudEvent(
        id=row.event_id,
        source=f"/shops/{shop}",
        type=f"coatledger.{row.type}",
        subject=_subject(stamped),
        time=stamped.event.occurred_at,
        recordedtime=stamped.recorded_at,
        sequence=str(row.position),
        data=msgspec.Raw(body_of(row)),
        specversion="1.0",
        datacontenttype="application/json",
    )


def cursor_of(head: Head, position: int) -> str:
    """Write a place in the feed."""
    return f"{head.epoch}.{position}"


def position_of(cursor: str | None, head: Head) -> int:
    """Read a place in the feed, or refuse one that this ledger has never been at."""
    if cursor is None:
        return 0
    epoch, _, position = cursor.rpartition(".")
    if epoch != head.epoch:
        raise _rewound("the cursor is of another life of this ledger", head)
    if int(position) > head.size:
        raise _rewound(f"the cursor lies beyond the head, {head.size}", head)
    return int(position)


def following(
    reader: Reader, after: int, limit: int, subject: str | None, types: frozenset[str]
) -> tuple[list[Row], int]:
    """Return rows after a position that fit, and the position up to which was looked.

    A search for rare types looks at a bounded number of rows and may so find none yet.
    """
    head = reader.head().size
    if subject is not None:
        tags = tuple(types) if types else None
        rows = sorted(reader.of_subject(subject, types=tags), key=lambda row: row.position)
        found = [row for row in rows if row.position > after][: limit + 1]
        if len(found) > limit:
            return found[:limit], found[limit - 1].position
        return found, head
    if not types:
        rows = list(reader.rows(after, limit))
        return rows, rows[-1].position if rows else after
    return _of_types(reader, after, limit, types)


def _of_types(
    reader: Reader, after: int, limit: int, types: frozenset[str]
) -> tuple[list[Row], int]:
    found: list[Row] = []
    looked = after
    while looked - after < LOOK_AT_MAX:
        rows = reader.rows(looked, 500)
        for row in rows:
            looked = row.position
            if row.type in types:
                found.append(row)
                if len(found) == limit:
                    return found, looked
        if len(rows) < 500:
            break
    return found, looked


def _rewound(detail: str, head: Head) -> ProblemError:
    return ProblemError("feed_rewound", detail, epoch=head.epoch)


def _subject(stamped: Recorded) -> str | None:
    named = subjects_of(stamped.event) or tuple(stamped.previous)
    return named[0] if named else None
