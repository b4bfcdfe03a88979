"""The envelope: what the ledger stamps around a fact, and the bytes that become a leaf.

The leaf is the canonical `{body, by, offset, position, previous, recorded_at, shop}`. `previous`
gives for each subject the position of the event that named it last, so that a subject's chain is
provably unbroken; 0 stands for none.
"""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from uuid import UUID

import msgspec

from coatledger.events.base import Fact
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.normal import canonical, utc_text

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
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


_LEAF = msgspec.json.Decoder(Leaf)


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
    return (moment - EPOCH) // timedelta(microseconds=1)


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
            "recorded_at": utc_text(moment(recorded_us)),
            "shop": shop,
        }
    )
    # "body" sorts before every other key, so the two texts join without a second encoding.
    return b'{"body":' + body + b"," + rest[1:]


def decode_event(body: bytes) -> AnyEvent:
    """Decode a body strictly, bounds and all; `msgspec.ValidationError` names the first fault."""
    return _EVENT.decode(body)


def body_of(row: Row) -> bytes:
    """Return the normal form of the fact inside a stored row."""
    return bytes(_LEAF.decode(row.leaf).body)


def event_of(row: Row) -> AnyEvent:
    """Decode the fact inside a stored row."""
    return _EVENT.decode(_LEAF.decode(row.leaf).body)


def recorded(row: Row) -> Recorded:
    """Decode a stored row."""
    leaf = _LEAF.decode(row.leaf)
    return Recorded(
        position=row.position,
        recorded_at=moment(row.recorded_us),
        by=leaf.by,
        offset_ms=leaf.offset,
        previous=leaf.previous,
        event=_EVENT.decode(leaf.body),
    )


def occurred_us(fact: Fact) -> int:
    """Count the microseconds of the time a fact says it happened."""
    return micros(fact.occurred_at)
