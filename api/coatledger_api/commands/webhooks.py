"""`coatledger webhooks`: who is told outside, asked and changed at the running service."""

from collections.abc import Callable
from typing import Any, TypeVar, get_args
from urllib.parse import quote

import click
import msgspec
from coatledger.recording.notices import KINDS, Kind
from coatledger_adapters.webhooks.book import DeliveryState

from coatledger_api.commands import shown_webhooks as shown
from coatledger_api.commands.ask import Question, acting
from coatledger_api.commands.log_times import Unreadable, Wall, read_time
from coatledger_api.commands.reach import Lost, Misused
from coatledger_api.commands.shown import say
from coatledger_api.routes.webhook_messages import Deliveries, PingResult, Resending
from coatledger_api.routes.webhooks import (
    ChangedWebhook,
    MadeWebhook,
    NewWebhook,
    SecretChange,
    Webhooks,
    WebhookState,
    new_id,
)

WEBHOOKS = "/v1/webhooks"
F = TypeVar("F", bound=Callable[..., Any])


@click.group("webhooks")
def command() -> None:
    """Have other programs told what happens, and see what became of each message.

    Every command asks the running service, with a key of the scope admin, and is refused for the
    same reasons as its address under /v1/webhooks. WEBHOOK is an id that `list` names.
    """


def _kinds(wanted: F) -> F:
    return click.option(
        "--kind",
        "kinds",
        multiple=True,
        type=click.Choice(KINDS),
        help="What it is told of; may be given again. Default when it is added: everything.",
    )(wanted)


@command.command("list")
@acting
def list_webhooks(question: Question) -> None:
    """List who is told, whether it works, and what waits."""
    question.put(WEBHOOKS, Webhooks, shown.every)


@command.command("add")
@click.argument("label")
@click.argument("address")
@_kinds
@click.option(
    "--id",
    "webhook",
    help="An id of your own, eight letters or digits: with it the same command again makes no"
    " second one, and tells the secret again within an hour. Default: one is drawn.",
)
@acting
def add(
    question: Question, label: str, address: str, kinds: tuple[Kind, ...], webhook: str | None
) -> None:
    """Have ADDRESS told from now on; LABEL is what people call it. The secret is shown once."""
    webhook = webhook or new_id()
    new = NewWebhook(webhook=webhook, label=label, url=address, kinds=kinds or KINDS)
    try:
        question.change("POST", WEBHOOKS, new, MadeWebhook, shown.made)
    except Lost:
        say(f"Give the same command again with --id {webhook}: it is made once.", aside=True)
        raise


@command.command("change")
@click.argument("webhook")
@click.option("--label", help="What people call it.")
@click.option("--address", help="Where messages are posted.")
@_kinds
@acting
def change(
    question: Question, webhook: str, label: str | None, address: str | None,
    kinds: tuple[Kind, ...],
) -> None:  # fmt: skip
    """Change what people call it, where it is or what it is told; the rest stays."""
    _change(question, webhook, label=label, url=address, kinds=kinds or None)


@command.command("pause")
@click.argument("webhook")
@acting
def pause(question: Question, webhook: str) -> None:
    """Let messages wait until it is resumed; they are kept."""
    _change(question, webhook, paused=True)


@command.command("resume")
@click.argument("webhook")
@acting
def resume(question: Question, webhook: str) -> None:
    """Send again, to one that was paused or whose receiver said that it is gone."""
    _change(question, webhook, paused=False)


@command.command("remove")
@click.argument("webhook")
@acting
def remove(question: Question, webhook: str) -> None:
    """Remove a webhook and what waits for it. It cannot be undone."""
    question.service.delete(_path(webhook))
    if not question.as_json:
        say(f"Webhook {webhook} is removed.")


@command.command("secret")
@click.argument("webhook")
@click.option(
    "--overlap-h",
    type=click.IntRange(0, 720),
    default=24,
    show_default=True,
    help="Hours for which the secret until now signs, too.",
)
@acting
def secret(question: Question, webhook: str, overlap_h: int) -> None:
    """Give it a new secret, which is shown once."""
    asked = SecretChange(overlap_h=overlap_h)
    question.change("POST", _path(webhook, "/secret"), asked, MadeWebhook, shown.made)


@command.command("test")
@click.argument("webhook")
@acting
def ping(question: Question, webhook: str) -> None:
    """Send it a message of the kind `ping` now, once."""
    question.change("POST", _path(webhook, "/test"), None, PingResult, shown.ping)


@command.command("deliveries")
@click.argument("webhook")
@click.option("--state", multiple=True, type=click.Choice(get_args(DeliveryState)),
              help="Only those in this state; may be given again.")  # fmt: skip
@click.option("--before", type=click.IntRange(1), help="Only messages with smaller numbers.")
@click.option("--limit", type=click.IntRange(1, 500), default=20, show_default=True)
@acting
def deliveries(
    question: Question, webhook: str, state: tuple[str, ...], before: int | None, limit: int
) -> None:
    """List its messages, newest first: how each stands, and what was answered last."""
    query = {"state": state or None, "before": before, "limit": limit}
    question.put(_path(webhook, "/deliveries"), Deliveries, shown.deliveries, **query)


@command.command("resend")
@click.argument("webhook")
@click.option("--after", type=click.IntRange(0), help="What was told after this position.")
@click.option("--since", help="What was told since this time, such as '2026-03-02 17:00'.")
@click.option("--everything", is_flag=True, help="All that it was ever to be told.")
@acting
def resend(
    question: Question, webhook: str, after: int | None, since: str | None, everything: bool
) -> None:
    """Send again what was told, under the same ids; what was taken back is left out."""
    if (after is None and since is None) != everything:
        raise Misused("Say from where: --after or --since, or else --everything.")
    asked: dict[str, object] = {"after": after or 0}
    if since is not None:
        try:
            asked["since"] = read_time(since, Wall(question.manner.zone))
        except Unreadable as fault:
            raise Misused(f"--since: {fault}") from None
    question.change("POST", _path(webhook, "/resend"), asked, Resending, shown.resending)


def _path(webhook: str, more: str = "") -> str:
    return f"{WEBHOOKS}/{quote(webhook, safe='')}{more}"


def _change(question: Question, webhook: str, **changes: object) -> None:
    """Read a webhook as it is, and put it back with what was changed."""
    now = question.read(_path(webhook), WebhookState)
    given = {name: value for name, value in changes.items() if value is not None}
    kept = ChangedWebhook(
        label=now.label, url=now.url, kinds=now.kinds, paused=now.state == "paused"
    )
    changed = msgspec.structs.replace(kept, **given)
    question.change("PUT", _path(webhook), changed, WebhookState, shown.one)
