"""Facts in, and the feed of everything recorded out."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from types import MappingProxyType
from typing import Annotated
from uuid import UUID

from coatledger.events.base import Moment
from coatledger.events.catalogue import AnyEvent
from coatledger.ledger.batch import Batch, Condition, Posted, Subject
from coatledger.ledger.decode import posted, sorted_out
from coatledger.ledger.store import Head, Reader
from coatledger.recording.session import Receipt, Request
from coatledger.refusal import Refused, refuse
from msgspec import Meta, Struct
from msgspec.structs import replace

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, Call, Operation, Reply, reading, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import Problem, ProblemError, problem_of
from coatledger_api.routes.recorded import (
    CloudEvent,
    Cursor,
    EventTypes,
    RecordedEvent,
    as_cloud_event,
    cursor_of,
    following,
    position_of,
    seen,
)
from coatledger_api.writer import Written

CLOUD_EVENTS = "application/cloudevents-batch+json"
OFFSET_TOLD = timedelta(minutes=2)
OFFSET_MAX = timedelta(days=36_525)


class Outcome(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of one posted fact: recorded, recorded before (`repeated`), or, in lenient
    handling, refused with a `problem`. `disputes` names facts that this one made impossible."""

    id: UUID | None = None
    position: int | None = None
    recorded_at: Moment | None = None
    repeated: bool = False
    disputes: tuple[UUID, ...] = ()
    problem: Problem | None = None


class Recording(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of a request's facts, in their order. `cursor` is the feed's place after them;
    `clock_offset_ms` tells a device how far ahead its clock was, when that was corrected."""

    position: int
    cursor: str
    events: tuple[Outcome, ...]
    clock_offset_ms: int | None = None


class Page(Struct, frozen=True, kw_only=True):
    """One page of the feed. `cursor` is where to go on; `more` says that there is more already."""

    position: int
    cursor: str
    more: bool
    events: tuple[RecordedEvent, ...]


class FeedQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where to read on, how much, and which events."""

    cursor: Cursor | None = None
    limit: Annotated[int, Meta(ge=1, le=1000, description="At most so many events.")] = 100
    subject: Subject | None = None
    type: EventTypes = ()


class OneEvent(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which event."""

    event: Annotated[UUID, Meta(description="The id its client made.")]


@running(
    "POST", "/v1/events", tag="Events", scope="record", answers={JSON: Recording},
    body=Posted, status=(201, 200),
    problems=(
        "malformed", "invalid", "occurs_in_future", "unknown_piece", "unknown_order",
        "unknown_event", "born_twice", "impossible_order", "corrects_a_correction",
        "correction_of_other_type", "id_reused", "condition_broken", "overloaded",
    ),
)  # fmt: skip
async def record_events(call: Call[Nothing]) -> Reply:
    """Record one fact, or a batch.

    The body is the fact itself, or a batch of up to 1,000. A batch is recorded whole or not at all;
    with `Prefer: handling=lenient` each fact is recorded or refused by itself and the answer tells
    them apart. Sending the same facts again is safe at any time: the same id and content give the
    first answer, 200 instead of 201 when there was nothing new.
    """
    if _is_lenient(call.headers.get("prefer")):
        return await _record_leniently(call)
    read = posted(call.body)
    if isinstance(read, Batch):
        events, conditions, offset_ms = read.events, read.conditions, _offset_ms(call, read)
        pointer = "/events/{}"
    else:
        events, conditions, offset_ms, pointer = (read,), (), 0, ""
    written = await _write(call, events, conditions, offset_ms, pointer)
    status = 200 if all(receipt.repeated for receipt in written.receipts) else 201
    return _told([_outcome(r) for r in written.receipts], written.head, offset_ms, status)


@reading("/v1/events", tag="Events", also={CLOUD_EVENTS: tuple[CloudEvent, ...]},
         problems=("feed_rewound",))  # fmt: skip
def read_feed(call: Call[FeedQuery], reader: Reader) -> Page | Reply:
    """Read the feed: everything recorded, in order of position.

    Begin without a cursor and go on with the cursor of each answer. Positions have no gaps and
    never change their order, so a reader who goes on from its cursor misses nothing. `409
    feed_rewound` says that a backup was restored. `Accept: application/cloudevents-batch+json`
    gives the same events as CloudEvents 1.0; then the cursor stands in the Link header.
    """
    query, head = call.query, reader.head()
    after = position_of(query.cursor, head)
    rows, looked = following(reader, after, query.limit, query.subject, frozenset(query.type))
    cursor = cursor_of(head, looked)
    more = looked < head.size
    headers = {"Coatledger-Position": str(head.size)}
    if more or call.media_type == CLOUD_EVENTS:
        headers["Link"] = f'<{_next(query, cursor)}>; rel="next"'
    if call.media_type == CLOUD_EVENTS:
        shop = call.service.store.shop
        body = ENCODER.encode([as_cloud_event(row, shop) for row in rows])
        return Reply(body, media_type=CLOUD_EVENTS, headers=headers)
    page = Page(
        position=head.size, cursor=cursor, more=more, events=tuple(seen(row) for row in rows)
    )
    return Reply(ENCODER.encode(page), headers=headers)


@reading("/v1/events/{event}", tag="Events", problems=("not_found",))
def read_event(call: Call[OneEvent], reader: Reader) -> RecordedEvent:
    """Read one event by the id its client made."""
    wanted = call.query.event
    row = reader.by_id((wanted,)).get(wanted)
    if row is None:
        raise ProblemError("not_found", f"no event {wanted}")
    note = reader.notes((wanted,)).get(wanted)
    return seen(row, None if note is None else note.text)


OPERATIONS: tuple[Operation, ...] = (record_events, read_feed, read_event)


async def _record_leniently(call: Call[Nothing]) -> Reply:
    """Record what can be recorded; whatever cannot is told in its place."""
    read = sorted_out(call.body)
    receipts: tuple[Receipt, ...] = ()
    offset_ms = 0
    if read.batch is None:
        head = await call.service.read(lambda reader: reader.head())
    else:
        batch = read.batch
        offset_ms = _offset_ms(call, batch)
        receipts, head = await _write(
            call, batch.events, batch.conditions, offset_ms, read.pointer, lenient=True
        )
    told = iter(enumerate(receipts))
    outcomes = [
        Outcome(problem=problem_of(one.faults))
        if isinstance(one, Refused)
        else _outcome(_in_place(*next(told), place, read.pointer))
        for place, one in enumerate(read.each)
    ]
    applied = {"Preference-Applied": "handling=lenient"}
    return _told(outcomes, head, offset_ms, 200, applied)


async def _write(
    call: Call[Nothing], events: tuple[AnyEvent, ...], conditions: tuple[Condition, ...],
    offset_ms: int, pointer: str, *, lenient: bool = False,
) -> Written:  # fmt: skip
    assert call.key is not None
    request = Request(
        events=events,
        by=call.key.key_id,
        conditions=conditions,
        offset_ms=offset_ms,
        lenient=lenient,
        pointer=pointer,
    )
    return await call.service.writer.submit(request)


def _offset_ms(call: Call[Nothing], batch: Batch) -> int:
    """How far ahead the device's clock is; a little is the way the request took and is left."""
    if batch.sent_at is None:
        return 0
    offset = batch.sent_at - call.service.clock()
    if abs(offset) > OFFSET_MAX:
        raise refuse("invalid", "/sent_at", "this is more than a century off")
    return offset // timedelta(milliseconds=1) if abs(offset) > OFFSET_TOLD else 0


def _in_place(among_facts: int, receipt: Receipt, place: int, pointer: str) -> Receipt:
    """Point at where the fact stood in the body, not where it stood among those readable."""
    if among_facts == place or not receipt.faults:
        return receipt
    was, now = pointer.format(among_facts), pointer.format(place)
    faults = tuple(replace(f, pointer=now + f.pointer.removeprefix(was)) for f in receipt.faults)
    return replace(receipt, faults=faults)


def _outcome(receipt: Receipt) -> Outcome:
    if receipt.faults:
        return Outcome(id=receipt.id, problem=problem_of(receipt.faults))
    return Outcome(
        id=receipt.id,
        position=receipt.position,
        recorded_at=receipt.recorded_at,
        repeated=receipt.repeated,
        disputes=receipt.disputes,
    )


def _told(
    outcomes: Sequence[Outcome], head: Head, offset_ms: int, status: int,
    headers: Mapping[str, str] = MappingProxyType({}),
) -> Reply:  # fmt: skip
    recording = Recording(
        position=head.size,
        cursor=cursor_of(head, head.size),
        events=tuple(outcomes),
        clock_offset_ms=offset_ms or None,
    )
    kept = {"Coatledger-Position": str(head.size), "Cache-Control": "no-store", **headers}
    return Reply(ENCODER.encode(recording), status, headers=kept)


def _is_lenient(prefer: str | None) -> bool:
    """RFC 7240: preferences are separated by commas, their parameters by semicolons."""
    if prefer is None:
        return False
    wanted = (preference.partition(";")[0] for preference in prefer.split(","))
    return any(w.replace(" ", "").replace('"', "").lower() == "handling=lenient" for w in wanted)


def _next(query: FeedQuery, cursor: str) -> str:
    parts = [f"cursor={cursor}", f"limit={query.limit}"]
    if query.subject is not None:
        parts.append(f"subject={query.subject}")
    parts += [f"type={tag}" for tag in query.type]
    return "/v1/events?" + "&".join(parts)
