"""Webhooks: who is told what outside, and with what secret messages are signed."""

import secrets
import string
from typing import Annotated, get_args

from coatledger.events.base import Label, Moment, whole
from coatledger.ledger.decode import plain, typed
from coatledger.ledger.record import micros, moment
from coatledger.recording.notices import Kind
from coatledger_adapters.webhooks.book import State, Webhook
from coatledger_adapters.webhooks.secrets import make_secret, seal, unseal
from coatledger_adapters.webhooks.targets import URL_PATTERN, TargetError, target_of
from msgspec import Meta, Struct

from coatledger_api.negotiate import JSON
from coatledger_api.operations import ENCODER, NEVER_CACHED, Call, Operation, Reply, running
from coatledger_api.parameters import Nothing
from coatledger_api.problems import ProblemError
from coatledger_api.rendering import moment_or_none
from coatledger_api.routes.keys import require_once
from coatledger_api.service import Service

ID_LENGTH = 8
ID_LETTERS = string.digits + string.ascii_letters
HOUR_US = 3_600_000_000
# Whoever lost an answer asks again within seconds or after a coffee; later nobody is told a secret.
TOLD_AGAIN_US = HOUR_US
WebhookId = Annotated[str, Meta(pattern=whole("[0-9A-Za-z]{8}"), description="A webhook's id.")]
Url = Annotated[
    str,
    Meta(
        pattern=URL_PATTERN,
        max_length=800,
        description="Where messages are posted: https, port 443, a name of the public internet. "
        "Whoever runs the service may allow other hosts by name.",
    ),
]
Kinds = Annotated[
    tuple[Kind, ...],
    Meta(
        min_length=1,
        max_length=len(get_args(Kind)),
        description="What it is told of; what is taken back of these is told as `retracted`.",
        extra_json_schema={"uniqueItems": True},
    ),
]


class NewWebhook(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A receiver of messages: what people call it, where it is, and what it wants to be told.
    `webhook` is an id of the client's own, under which the call may be made again; without one an
    id is drawn, and each call makes one more."""

    webhook: WebhookId | None = None
    label: Label
    url: Url
    kinds: Kinds


class ChangedWebhook(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All of a webhook that can be changed. While it is paused messages wait and are kept; one
    whose receiver said that it is gone (410) is on again once it is changed."""

    label: Label
    url: Url
    kinds: Kinds
    paused: bool = False


class WebhookState(Struct, frozen=True, kw_only=True):
    """A webhook as it is kept. `waiting` messages are still to arrive, `given_up` ones were tried
    for three days, or set aside when a backup was restored: `resend` sends them again. `failure`
    says why the last failed try failed."""

    webhook: WebhookId
    label: str
    url: str
    kinds: tuple[Kind, ...]
    state: State
    created_at: Moment
    older_secret_until: Moment | None
    success_at: Moment | None
    failure_at: Moment | None
    failure: str | None
    waiting: int
    given_up: int


class MadeWebhook(Struct, frozen=True, kw_only=True):
    """A webhook just made, or given a new secret: keep the secret now, it is not shown again."""

    webhook: WebhookState
    secret: str


class Webhooks(Struct, frozen=True, kw_only=True):
    """Every webhook of the shop, oldest first."""

    webhooks: tuple[WebhookState, ...]


class SecretChange(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """For how many hours the secret until now signs beside the new one."""

    overlap_h: Annotated[int, Meta(ge=0, le=720)] = 24


class OneWebhook(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Which webhook."""

    webhook: WebhookId


@running("GET", "/v1/webhooks", tag="Webhooks", scope="admin", answers={JSON: Webhooks})
async def list_webhooks(call: Call[Nothing]) -> Reply:
    """List the webhooks, oldest first; no secret is told."""
    service = call.service

    def ask() -> Webhooks:
        found = service.outbox.book.all()
        return Webhooks(webhooks=tuple(_shown(service, one) for one in found))

    return Reply(ENCODER.encode(await service.in_thread(ask)))


@running("POST", "/v1/webhooks", tag="Webhooks", scope="admin", answers={JSON: MadeWebhook},
         body=NewWebhook, status=(201, 200),
         problems=("webhook_target", "webhook_reused", "too_many_webhooks"))  # fmt: skip
async def add_webhook(call: Call[Nothing]) -> Reply:
    """Have somebody told from now on.

    With an id of the client's own in `webhook` the same call twice is one webhook: within an hour
    it is answered with 200 and its secret again, for whoever lost the first answer.

    Each message is a CloudEvent, signed as Standard Webhooks 1.0.0 says: the headers `webhook-id`,
    `webhook-timestamp` and `webhook-signature`. The secret, `whsec_…`, is in this answer and
    nowhere else. A message is sent until it is answered with 2xx, under one id, so that a receiver
    that keeps ids is told once; tries go on for three days. Order is kept as far as tries allow:
    `sequence` is the ledger's position. What turns out not to have happened is told as `retracted`;
    a retraction of a message that never came means nothing.
    """
    service = call.service
    asked: NewWebhook = typed(plain(call.body), NewWebhook)
    _check(service, asked.url, asked.kinds)
    secret = make_secret()
    new = Webhook(
        asked.webhook or new_id(), asked.label, asked.url, frozenset(asked.kinds), "on",
        seal(service.keyring.secret, secret), micros(service.clock()),
    )  # fmt: skip
    kept = await service.in_thread(lambda: service.outbox.book.add(new))
    if kept is None:
        raise ProblemError("too_many_webhooks", "delete one first")
    if kept == new:
        return await _made(service, new, secret, 201)
    same = (kept.label, kept.url, kept.kinds) == (new.label, new.url, new.kinds)
    if not same or new.created_us - kept.created_us > TOLD_AGAIN_US:
        raise ProblemError("webhook_reused", f"webhook {kept.webhook_id} is there already")
    return await _made(service, kept, unseal(service.keyring.secret, kept.secret), 200)


@running("GET", "/v1/webhooks/{webhook}", tag="Webhooks", scope="admin",
         answers={JSON: WebhookState})  # fmt: skip
async def read_webhook(call: Call[OneWebhook]) -> Reply:
    """Read one webhook: whether it is on, when it last worked, and what waits."""
    service = call.service
    found = await webhook_of(service, call.query.webhook)
    return Reply(ENCODER.encode(await service.in_thread(lambda: _shown(service, found))))


@running("PUT", "/v1/webhooks/{webhook}", tag="Webhooks", scope="admin",
         answers={JSON: WebhookState}, body=ChangedWebhook,
         problems=("webhook_target",))  # fmt: skip
async def change_webhook(call: Call[OneWebhook]) -> Reply:
    """Change a webhook as a whole: its name, address, kinds, and whether it is paused."""
    service = call.service
    found = await webhook_of(service, call.query.webhook)
    asked: ChangedWebhook = typed(plain(call.body), ChangedWebhook)
    _check(service, asked.url, asked.kinds)
    changed = found._replace(
        label=asked.label, url=asked.url, kinds=frozenset(asked.kinds),
        state="paused" if asked.paused else "on",
    )  # fmt: skip
    await service.in_thread(lambda: service.outbox.book.change(changed))
    service.courier.ring()
    return Reply(ENCODER.encode(await service.in_thread(lambda: _shown(service, changed))))


@running("DELETE", "/v1/webhooks/{webhook}", tag="Webhooks", scope="admin", answers={},
         status=(204,))  # fmt: skip
async def delete_webhook(call: Call[OneWebhook]) -> Reply:
    """Delete a webhook, and what waits for it."""
    service = call.service
    found = await webhook_of(service, call.query.webhook)
    await service.in_thread(lambda: service.outbox.book.delete(found.webhook_id))
    return Reply(b"", 204, "", NEVER_CACHED)


@running("POST", "/v1/webhooks/{webhook}/secret", tag="Webhooks", scope="admin",
         answers={JSON: MadeWebhook}, body=SecretChange, status=(201,))  # fmt: skip
async def change_secret(call: Call[OneWebhook]) -> Reply:
    """Give a webhook a new secret; for a while the older one signs too.

    Each message then carries both signatures, so that the receiver can change when it suits. Only
    two live at a time: another change ends the oldest.
    """
    service = call.service
    found = await webhook_of(service, call.query.webhook)
    asked: SecretChange = typed(plain(call.body), SecretChange)
    now_us = micros(service.clock())
    secret = make_secret()
    changed = found._replace(
        secret=seal(service.keyring.secret, secret),
        older_secret=found.secret if asked.overlap_h else None,
        older_until_us=now_us + asked.overlap_h * HOUR_US if asked.overlap_h else None,
    )
    await service.in_thread(lambda: service.outbox.book.change(changed))
    return await _made(service, changed, secret, 201)


def new_id() -> str:
    """Draw an id for a webhook."""
    return "".join(secrets.choice(ID_LETTERS) for _ in range(ID_LENGTH))


OPERATIONS: tuple[Operation, ...] = (
    list_webhooks, add_webhook, read_webhook, change_webhook, delete_webhook, change_secret,
)  # fmt: skip


def _check(service: Service, url: str, kinds: tuple[Kind, ...]) -> None:
    require_once(kinds, "/kinds")
    try:
        target_of(url, service.courier.sender.allowed)
    except TargetError as error:
        raise ProblemError("webhook_target", str(error)) from None


async def webhook_of(service: Service, webhook_id: str) -> Webhook:
    """Find a webhook, or end the request."""
    found = await service.in_thread(lambda: service.outbox.book.find(webhook_id))
    if found is None:
        raise ProblemError("not_found", f"no webhook {webhook_id}")
    return found


async def _made(service: Service, webhook: Webhook, secret: str, status: int) -> Reply:
    shown = await service.in_thread(lambda: _shown(service, webhook))
    made = MadeWebhook(webhook=shown, secret=secret)
    return Reply(ENCODER.encode(made), status, headers=NEVER_CACHED)


def _shown(service: Service, webhook: Webhook) -> WebhookState:
    waiting, given_up = service.outbox.book.waiting_and_dead(webhook.webhook_id)
    return WebhookState(
        webhook=webhook.webhook_id,
        label=webhook.label,
        url=webhook.url,
        kinds=tuple(kind for kind in get_args(Kind) if kind in webhook.kinds),
        state=webhook.state,
        created_at=moment(webhook.created_us),
        older_secret_until=moment_or_none(webhook.older_until_us),
        success_at=moment_or_none(webhook.success_us),
        failure_at=moment_or_none(webhook.failure_us),
        failure=webhook.says,
        waiting=waiting,
        given_up=given_up,
    )
