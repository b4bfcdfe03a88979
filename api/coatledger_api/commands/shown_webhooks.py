"""How webhooks, their messages and what became of these are shown to people."""

from coatledger_api.commands.shown import NOTHING, Manner, count, say, table, words
from coatledger_api.routes.webhook_messages import Deliveries, PingResult, Resending
from coatledger_api.routes.webhooks import MadeWebhook, Webhooks, WebhookState


def every(answer: Webhooks, manner: Manner) -> None:
    """List the webhooks, and below why one fails."""
    if not answer.webhooks:
        say("Nobody is told anything yet.")
        return
    table(
        ("webhook", "label", "stands", "waiting", "given up", "last arrived", "address"),
        [_row(one, manner) for one in answer.webhooks],
    )
    for each in answer.webhooks:
        if _fails(each):
            say(f"{each.webhook} last failed {manner.time(each.failure_at)}: {each.failure}.")


def made(answer: MadeWebhook, manner: Manner) -> None:
    """Tell the secret alone, so that it can be piped; what is said about it goes beside."""
    webhook = answer.webhook
    told = " and ".join(map(words, webhook.kinds))
    say(f"Webhook {webhook.webhook} ({webhook.label}) is told of {told}.", aside=True)
    if webhook.older_secret_until is not None:
        until = manner.time(webhook.older_secret_until)
        say(f"The secret until now signs too, until {until}.", aside=True)
    say("Its secret. Keep it now, it is not shown again:", aside=True)
    say(answer.secret)


def one(webhook: WebhookState, manner: Manner) -> None:
    """Tell how one webhook stands."""
    every(Webhooks(webhooks=(webhook,)), manner)
    say(f"It is told of {' and '.join(map(words, webhook.kinds))}.")


def ping(answer: PingResult, manner: Manner) -> None:
    """Tell whether a message arrived that was sent just now."""
    if answer.delivered:
        say(f"It arrived: the receiver answered {answer.status}.")
    else:
        say(f"It did not arrive: {answer.says}.")


def deliveries(answer: Deliveries, manner: Manner) -> None:
    """List messages with their tries."""
    if not answer.deliveries:
        say("No message of this kind.")
        return
    table(
        ("number", "kind", "stands", "tries", "last try", "answered", "next try", "message"),
        [
            (
                str(each.number), words(each.kind), words(each.state), str(each.tries),
                manner.time(each.tried_at), words(each.says or each.status),
                manner.time(each.due_at), each.message,
            )
            for each in answer.deliveries
        ],
    )  # fmt: skip
    if answer.next_before is not None:
        say(f"Older ones: --before {answer.next_before}")


def resending(answer: Resending, manner: Manner) -> None:
    """Tell how many messages go out again."""
    say(f"{count(answer.messages, 'message')} will be sent again.")
    if answer.more:
        say(f"There are more: give the command again with --after {answer.position}.")


def _fails(webhook: WebhookState) -> bool:
    if webhook.failure_at is None:
        return False
    return webhook.success_at is None or webhook.failure_at > webhook.success_at


def _row(webhook: WebhookState, manner: Manner) -> tuple[str, ...]:
    stands = f"{webhook.state}, fails" if _fails(webhook) else webhook.state
    arrived = NOTHING if webhook.success_at is None else manner.time(webhook.success_at)
    return (
        webhook.webhook, webhook.label, stands, str(webhook.waiting), str(webhook.given_up),
        arrived, webhook.url,
    )  # fmt: skip
