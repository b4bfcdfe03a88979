"""The envelope: what the ledger stamps around a fact, and the bytes that become a leaf.

The leaf is the canonical `{body, by, offset, position, previous, recorded_at, shop}`. `previous`
gives for each subject the position of the event that named it last, so that a subject's chain is
provably unbroken; 0 stands for none.
"""

import functools
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from uuid import UUID

import msgspec
from msgspec.structs import replace

from coatledger.events.catalogue import AnyEvent
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.normal import canonical, utc_text

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)
_EVENT: msgspec.json.Decoder[AnyEvent] = msgspec.json.Decoder(AnyEvent)


class Leaf(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The stamped envelope as it is hashed."""

    body: msgspec.Raw
    by: str
    offset: int
    position: int
    previous: dict[str, int]
    recorded_at: str
    shop: str


class Opened(msgspec.Struct, frozen=True):
    """What a leaf says happened, and what it names, for whoever reads many."""

    body: AnyEvent
    offset: int
    previous: dict[str, int]


_LEAF = msgspec.json.Decoder(Leaf)
_OPENED = msgspec.json.Decoder(Opened)


class Row(NamedTuple):
    """One stored event: the columns a store indexes, and the leaf that is the truth."""

    position: int
    event_id: UUID
    type: str
    occurred_us: int
    recorded_us: int
    leaf: bytes


class Recorded(NamedTuple):
    """One event with its stamps, decoded. `offset_ms` is the device clock's correction."""

    position: int
    recorded_at: datetime
    by: str
    offset_ms: int
    previous: Mapping[str, int]
    event: AnyEvent


def micros(moment: datetime) -> int:
    """Count microseconds since 1970 UTC, exactly."""
    return (moment - EPOCH) // MICROSECOND


def moment(us: int) -> datetime:
    """Return the UTC time of a count of microseconds."""
    return EPOCH + timedelta(microseconds=us)


def leaf_bytes(
    *, shop: str, position: int, recorded_us: int, by: str, offset_ms: int,
    previous: Mapping[str, int], body: bytes,
) -> bytes:  # fmt: skip
    """Write the leaf around a body that is already in normal form."""
    rest = canonical(
        {
            "by": by,
            "offset": offset_ms,
            "position": position,
            "previous": previous,
            "recorded_at": _time_of(recorded_us),
            "shop": shop,
        }
    )
    # "body" sorts before every other key, so the two texts join without a second encoding.
    return b'{"body":' + body + b"," + rest[1:]


@functools.lru_cache(maxsize=64)
def _time_of(us: int) -> str:
    """Write a time that all events of one commit share."""
    return utc_text(moment(us))


def decode_event(body: bytes) -> AnyEvent:
    """Decode a body strictly, bounds and all; `msgspec.ValidationError` names the first fault."""
    return _EVENT.decode(body)


def body_of(row: Row) -> bytes:
    """Return the normal form of the fact inside a stored row."""
    return bytes(_LEAF.decode(row.leaf).body)


@functools.lru_cache(maxsize=4096)
def recorded(row: Row) -> Recorded:
    """Decode a stored row; the event's times are corrected by the stamped offset."""
    leaf = _LEAF.decode(row.leaf)
    return Recorded(
        position=row.position,
        recorded_at=moment(row.recorded_us),
        by=leaf.by,
        offset_ms=leaf.offset,
        previous=leaf.previous,
        event=on_true_time(_EVENT.decode(leaf.body), leaf.offset),
    )


def opened(row: Row) -> tuple[AnyEvent, Mapping[str, int]]:
    """Decode what a stored row says and names in one go: `recorded` without its stamps."""
    leaf = _OPENED.decode(row.leaf)
    return on_true_time(leaf.body, leaf.offset), leaf.previous


def on_true_time(event: AnyEvent, offset_ms: int) -> AnyEvent:
    """Take a device clock's stamped offset out of the times the device gave.

    The body keeps the times as they were sent, so that sending it again is the same event.
    A replacement inside an amendment was given by a person and is left alone.
    """
    if offset_ms == 0:
        return event
    shift = timedelta(milliseconds=offset_ms)
    times: dict[str, object] = {"occurred_at": event.occurred_at - shift}
    if event.ended_at is not None:
        times["ended_at"] = event.ended_at - shift
    if isinstance(event, ClimateRead):
        times["readings"] = tuple(
            reading if reading.at is None else replace(reading, at=reading.at - shift)
            for reading in event.readings
        )
    return replace(event, **times)
