"""From the bytes a client posted to facts: strictly, or with every fault and its place.

msgspec's typed decoder does the work. Only when it refuses are the bytes read again as plain JSON,
to mend what JSON leaves open (60.0 for 60) and to list everything that is wrong.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

import msgspec

from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.batch import Batch, Posted
from coatledger.ledger.faults import faults_of, said
from coatledger.ledger.twice import refuse_twice
from coatledger.refusal import Fault, Refused

_POSTED: msgspec.json.Decoder[Posted] = msgspec.json.Decoder(Posted)


class SortedOut(NamedTuple):
    """A batch read event by event: each is a fact, or the refusal of what cannot be one.

    `batch` holds the facts only, and is None when there is none. `pointer` is where each stands in
    the body, {} for its number.
    """

    each: tuple[AnyEvent | Refused, ...]
    batch: Batch | None
    pointer: str = "/events/{}"


def posted(body: bytes) -> Posted:
    """Decode a body into one fact or a batch, or raise `Refused` with every fault."""
    try:
        read = _POSTED.decode(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        mended: Posted = typed(plain(body), Posted)
        return mended
    refuse_twice(body)
    return read


def sorted_out(body: bytes) -> SortedOut:
    """Decode a body of which the readable facts are wanted whatever the others look like."""
    try:
        read = _POSTED.decode(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        value = plain(body)
        if not (isinstance(value, dict) and value.get("type") == "batch"):
            read = typed(value, Posted)
        else:
            return _one_by_one(value)
    else:
        refuse_twice(body)
    if isinstance(read, Batch):
        return SortedOut(read.events, read)
    return SortedOut((read,), Batch(events=(read,)), "")


def plain(body: bytes) -> Any:
    """Read bytes as one JSON value in UTF-8, or refuse them as malformed."""
    try:
        value = msgspec.json.decode(body)
        refuse_twice(body)
        return value
    except msgspec.DecodeError as error:
        detail = f"this is not JSON: {error}"
    except UnicodeDecodeError as error:
        detail = f"this is not UTF-8: {error.reason} at byte {error.start} of a text"
    except RecursionError:
        detail = "arrays or objects are nested too deeply"
    raise Refused((Fault(rule="malformed", pointer="", detail=detail),))


def typed(value: Any, kind: Any, pointer: str = "") -> Any:
    """Turn plain JSON values into a type, or refuse them naming every fault."""
    mended, faults = faults_of(value, kind, pointer)
    if faults:
        raise Refused(faults)
    try:
        return msgspec.convert(mended, kind)
    except msgspec.ValidationError as error:
        says, place = said(error)
        raise Refused((Fault(rule="invalid", pointer=pointer + place, detail=says),)) from error


def _one_by_one(value: dict[str, Any]) -> SortedOut:
    """Read the frame of a batch first, which must be right, and then each of its events."""
    events = value.get("events")
    if not isinstance(events, list) or not events:
        typed(value, Batch)
        raise AssertionError("a batch without events was taken for one")
    frame: Batch = typed({**value, "events": [_STAND_IN] * len(events)}, Batch)
    each = tuple(_event(event, f"/events/{i}") for i, event in enumerate(events))
    facts = [event for event in each if not isinstance(event, Refused)]
    batch = msgspec.structs.replace(frame, events=tuple(facts)) if facts else None
    return SortedOut(each, batch)


def _event(value: Any, pointer: str) -> AnyEvent | Refused:
    try:
        event: AnyEvent = typed(value, AnyEvent, pointer)
    except Refused as refusal:
        return refusal
    return event


# A fact that is right in itself, put in the place of those not looked at yet.
_STAND_IN: Mapping[str, str] = {
    "type": "rags_dealt_with",
    "id": "00000000-0000-7000-8000-000000000000",
    "occurred_at": "2000-01-01T00:00:00Z",
    "how": "spread_outdoors",
}
