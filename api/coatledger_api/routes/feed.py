"""The feed of everything recorded, page by page, and one event by its id."""

from typing import Annotated
from uuid import UUID

from coatledger.ledger.batch import Subject
from coatledger.ledger.store import Reader
from msgspec import Meta, Struct

from coatledger_api.operations import ENCODER, Call, Operation, Reply, reading
from coatledger_api.problems import ProblemError
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

CLOUD_EVENTS = "application/cloudevents-batch+json"


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


OPERATIONS: tuple[Operation, ...] = (read_feed, read_event)


def _next(query: FeedQuery, cursor: str) -> str:
    parts = [f"cursor={cursor}", f"limit={query.limit}"]
    if query.subject is not None:
        parts.append(f"subject={query.subject}")
    parts += [f"type={tag}" for tag in query.type]
    return "/v1/events?" + "&".join(parts)
