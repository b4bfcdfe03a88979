"""Messages on their way to a webhook: tried now, sent again, and how far each got."""

from typing import Annotated, get_args

from coatledger.events.base import Moment
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros, moment
from coatledger.recording.notices import AnyKind
from coatledger_adapters.webhooks.book import Delivery, DeliveryState
from msgspec import Meta, Raw, Struct

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.rendering import moment_or_none
from coatledger_api.routes.webhooks import OneWebhook, WebhookId, webhook_of

States = Annotated[
    tuple[DeliveryState, ...], Meta(max_length=5, description="Only in these states.")
]
Position = Annotated[int, Meta(ge=0, le=10**12)]

AnyKinds = Annotated[tuple[AnyKind, ...], Meta(max_length=10, description="Only of these kinds.")]
# The bytes as they were sent; what they hold is described by the message's own schema.
AnyNotice = Annotated[Raw, Meta(extra_json_schema={"$ref": "#/components/schemas/NoticeEvent"})]


class Resend(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What goes out again: what was told after a position of the ledger and since a time."""

    after: Position = 0
    since: Moment | None = None


class Resending(Struct, frozen=True, kw_only=True):
    """How many messages go out again, up to which position. With `more`, ask again after it."""

    messages: int
    position: Position
    more: bool


class PingResult(Struct, frozen=True, kw_only=True):
    """Whether the receiver took the message, with the status it answered, or what went wrong."""

    delivered: bool
    status: int | None
    says: str


class DeliveryView(Struct, frozen=True, kw_only=True):
    """One message on its way: `waiting` for its next try at `due_at`, `delivered`, `dead` (given
    up), `overtaken` by a retraction before it arrived, or `set_aside` by a restore."""

    number: int
    message: str
    kind: AnyKind
    state: DeliveryState
    tries: int
    due_at: Moment | None
    tried_at: Moment | None
    status: int | None
    says: str | None


class Deliveries(Struct, frozen=True, kw_only=True):
    """Deliveries, newest first; `next_before` asks for older ones."""

    deliveries: tuple[DeliveryView, ...]
    next_before: int | None


class ToldNotice(Struct, frozen=True, kw_only=True):
    """One notice: its place among all that was told, when it was, and the message."""

    number: int
    told_at: Moment
    notice: AnyNotice


class Notices(Struct, frozen=True, kw_only=True):
    """Notices in the order they were told; ask again after `next_after` for what follows."""

    notices: tuple[ToldNotice, ...]
    next_after: int
    more: bool


class NoticesQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which notices."""

    after: Annotated[
        int, Meta(ge=0, le=10**12, description="Only what was told after this number.")
    ] = 0
    kind: AnyKinds = ()
    limit: Annotated[int, Meta(ge=1, le=500, description="At most so many.")] = 100


class DeliveriesQuery(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which deliveries of a webhook."""

    webhook: WebhookId
    state: States = ()
    before: Annotated[
        int, Meta(ge=1, le=10**12, description="Only messages with smaller numbers.")
    ] = 10**12
    limit: Annotated[int, Meta(ge=1, le=500, description="At most so many.")] = 100


@running("POST", "/v1/webhooks/{webhook}/test", tag="Webhooks", scope="admin",
         answers={JSON: PingResult})  # fmt: skip
async def ping_webhook(call: Call[OneWebhook]) -> Reply:
    """Send a message of the kind `ping` now, once, and tell what became of it."""
    service = call.service
    outcome = await service.courier.ping(await webhook_of(service, call.query.webhook))
    told = PingResult(delivered=outcome.is_delivered, status=outcome.status, says=outcome.says)
    return Reply(ENCODER.encode(told), headers=NEVER_CACHED)


@running("POST", "/v1/webhooks/{webhook}/resend", tag="Webhooks", scope="admin",
         answers={JSON: Resending}, body=Resend)  # fmt: skip
async def resend_messages(call: Call[OneWebhook]) -> Reply:
    """Send again what was told: after a position, since a time, or everything.

    Message ids stay, so a receiver that keeps them loses nothing and does nothing twice. What was
    taken back since is left out. At most 10,000 go out at a time.
    """
    service = call.service
    found = await webhook_of(service, call.query.webhook)
    asked: Resend = typed(plain(call.body), Resend)
    since_us = 0 if asked.since is None else micros(asked.since)
    now_us = micros(service.clock())
    book = service.outbox.book
    sent = await service.in_thread(lambda: book.resend(found, asked.after, since_us, now_us))
    service.courier.ring()
    told = Resending(messages=sent.messages, position=sent.position, more=sent.more)
    return Reply(ENCODER.encode(told), headers=NEVER_CACHED)


@running("GET", "/v1/webhooks/{webhook}/deliveries", tag="Webhooks", scope="admin",
         answers={JSON: Deliveries})  # fmt: skip
async def list_deliveries(call: Call[DeliveriesQuery]) -> Reply:
    """List what was sent to a webhook, newest first: each message's tries and last answer."""
    service, query = call.service, call.query
    found = await webhook_of(service, query.webhook)
    states = query.state or get_args(DeliveryState)
    deliveries = await service.in_thread(
        lambda: service.outbox.book.deliveries(
            found.webhook_id, states, query.before, query.limit + 1
        )
    )
    page = deliveries[: query.limit]
    told = Deliveries(
        deliveries=tuple(_delivery(one) for one in page),
        next_before=page[-1].number if len(deliveries) > len(page) else None,
    )
    return Reply(ENCODER.encode(told))


@running("GET", "/v1/notices", tag="Webhooks", scope="read", answers={JSON: Notices})
async def list_notices(call: Call[NoticesQuery]) -> Reply:
    """List what was told, in the order it was, for whoever asks instead of being sent it.

    What is in danger stands here whoever wants it. A fact that was recorded stands here where a
    webhook wanted its kind then; every fact is in the feed, `/v1/events`.
    """
    service, query = call.service, call.query
    kinds = query.kind or get_args(AnyKind)
    book = service.outbox.book
    found = await service.in_thread(lambda: book.told(kinds, query.after, query.limit + 1))
    page = found[: query.limit]
    told = Notices(
        notices=tuple(
            ToldNotice(number=one.number, told_at=moment(one.at_us), notice=Raw(one.body))
            for one in page
        ),
        next_after=page[-1].number if page else query.after,
        more=len(found) > len(page),
    )
    return Reply(ENCODER.encode(told))


OPERATIONS: tuple[Operation, ...] = (
    ping_webhook, resend_messages, list_deliveries, list_notices,
)  # fmt: skip


def _delivery(one: Delivery) -> DeliveryView:
    return DeliveryView(
        number=one.number,
        message=one.message_id,
        kind=one.kind,  # type: ignore[arg-type]
        state=one.state,
        tries=one.tries,
        due_at=moment(one.due_us) if one.state == "waiting" else None,
        tried_at=moment_or_none(one.tried_us),
        status=one.status,
        says=one.says,
    )
