"""What is kept of webhooks: who is told, what was told, and how far each telling got."""

from collections.abc import Sequence
from typing import Literal, NamedTuple, Protocol
from uuid import UUID

from coatledger.ledger.store import Writer
from coatledger.recording.notices import Message

State = Literal["on", "paused", "gone"]
DeliveryState = Literal["waiting", "delivered", "dead", "overtaken", "set_aside"]
WEBHOOKS_MAX = 20
RESEND_MAX = 10_000
SAYS_MAX = 200


class Webhook(NamedTuple):
    """One receiver. Its secrets are sealed; the older one signs too until its time is over.

    Times are microseconds since 1970 UTC. `says` is why the last failed try failed.
    """

    webhook_id: str
    label: str
    url: str
    kinds: frozenset[str]
    state: State
    secret: bytes
    created_us: int
    older_secret: bytes | None = None
    older_until_us: int | None = None
    success_us: int | None = None
    failure_us: int | None = None
    says: str | None = None


class Delivery(NamedTuple):
    """How far one message got on its way to one receiver."""

    number: int
    message_id: str
    kind: str
    state: DeliveryState
    tries: int
    due_us: int
    tried_us: int | None = None
    status: int | None = None
    says: str | None = None


class Due(NamedTuple):
    """A message that this process may send now: `tries` counts this one."""

    webhook: Webhook
    number: int
    tries: int
    message_id: str
    body: bytes


class Tried(NamedTuple):
    """What became of a try. `due_us` is when there is another; the state says whether."""

    state: DeliveryState
    at_us: int
    due_us: int
    status: int | None
    says: str | None
    is_gone: bool = False


class Told(NamedTuple):
    """One message as it was told, to whomever; `number` is its place among all."""

    number: int
    at_us: int
    body: bytes


class Resent(NamedTuple):
    """How many messages go out again, up to which position, and whether there are more."""

    messages: int
    position: int
    more: bool


class WebhookBook(Protocol):
    """Where one shop's webhooks and messages are kept. Each call is a transaction of its own but
    for those that take a `ledger`: they belong to the write under way."""

    def wanted(self, ledger: Writer) -> frozenset[str]:
        """Return the kinds of notice that anybody wants; it costs nothing."""

    def told_about(self, ledger: Writer, event: UUID) -> Sequence[Message]:
        """Return every message about a fact, in the order they were told."""

    def put(self, ledger: Writer, messages: Sequence[Message], at_us: int) -> int:
        """Keep messages for whoever wants them; return how many were not kept before."""

    def tell(self, messages: Sequence[Message], at_us: int) -> int:
        """The same in a transaction of its own."""

    def told(self, kinds: Sequence[str], after: int, limit: int) -> tuple[Told, ...]:
        """Return messages of these kinds as they were told, with numbers above `after`."""

    def all(self) -> tuple[Webhook, ...]:
        """Return every webhook, oldest first."""

    def find(self, webhook_id: str) -> Webhook | None:
        """Return the webhook of this id, or None."""

    def add(self, webhook: Webhook) -> Webhook | None:
        """Keep a new webhook, or return the one that is kept under its id; None when there are
        too many."""

    def change(self, webhook: Webhook) -> None:
        """Keep what a webhook now is, but for its record of success and failure."""

    def delete(self, webhook_id: str) -> None:
        """Forget a webhook and what waits for it."""

    def due(self) -> tuple[tuple[str, int], ...]:
        """Return each webhook that is on and has something waiting, and since or until when."""

    def lease(self, webhook_id: str, now_us: int, until_us: int) -> Due | None:
        """Take the first message that is due; nobody else gets it until the lease is over."""

    def mark(self, due: Due, tried: Tried) -> None:
        """Say what became of a leased message, unless another took it up since."""

    def deliveries(
        self, webhook_id: str, states: Sequence[str], before: int, limit: int
    ) -> tuple[Delivery, ...]:
        """List deliveries, newest first, with numbers below `before`."""

    def waiting_and_dead(self, webhook_id: str) -> tuple[int, int]:
        """Count what waits for a webhook, and what was given up or set aside."""

    def resend(self, webhook: Webhook, after: int, since_us: int, now_us: int) -> Resent:
        """Let what was told after a position and since a time be sent again, under its old ids."""
