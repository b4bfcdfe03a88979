"""Playing the demonstration into a ledger the way a shop does it: by posting facts over HTTP.

The service it posts to has a clock that says the time of each post, so that what was recorded when,
and what was known when, are as they would have been. Nothing is written past the public door.
"""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from typing import Any, NamedTuple, cast

import httpx
import msgspec
from coatledger.events.catalogue import AnyEvent
from coatledger.events.orders import CustomerTold, PromiseRevised
from coatledger.ledger.batch import Batch
from coatledger.ledger.store import Store
from coatledger_adapters.keys import KeyBook

from coatledger_api.app import create_app
from coatledger_api.demo.play import Post
from coatledger_api.settings import Settings

ENCODER = msgspec.json.Encoder()
MINIMAL: Mapping[str, str] = {"Content-Type": "application/json", "Prefer": "return=minimal"}


class Outcome(msgspec.Struct, frozen=True):
    """What the service says of one fact."""

    repeated: bool = False


class Recording(msgspec.Struct, frozen=True):
    """What the service says of one post."""

    position: int
    events: tuple[Outcome, ...]


class Promised(msgspec.Struct, frozen=True):
    """What the service says of a promise."""

    ships_by: date


class Played(NamedTuple):
    """How many facts were recorded now, and how many the ledger held already."""

    recorded: int
    repeated: int

    def plus(self, recorded: int, repeated: int) -> "Played":
        """Count some more."""
        return Played(self.recorded + recorded, self.repeated + repeated)


class RefusedError(Exception):
    """The service refused a post of the demonstration; the message is its problem."""


def load(
    store: Store, keys: KeyBook, secret: bytes, token: str, posts: Sequence[Post],
    forward: Callable[[int], None] = lambda _: None,
) -> Played:  # fmt: skip
    """Post everything in order of time; `forward` is told how many facts went with each post."""
    return asyncio.run(_load(store, keys, secret, token, posts, forward))


async def _load(
    store: Store, keys: KeyBook, secret: bytes, token: str, posts: Sequence[Post],
    forward: Callable[[int], None],
) -> Played:  # fmt: skip
    says = datetime.min.replace(tzinfo=UTC)

    def clock() -> datetime:
        return says

    # Nobody watches while days are played in seconds.
    app = create_app(store, keys, secret, clock, Settings(watch_every_s=0.0))
    # Litestar writes the types of ASGI down more narrowly than httpx.
    through = httpx.ASGITransport(app=cast(Any, app))
    headers = {"Authorization": f"Bearer {token}", **MINIMAL}
    played = Played(0, 0)
    async with (
        app.lifespan(),
        httpx.AsyncClient(transport=through, base_url="http://demo", headers=headers) as client,
    ):
        office = Office(client)
        for post in posts:
            says = post.at
            recorded, repeated = await (office.promise(post) if post.asks else office.record(post))
            played = played.plus(recorded, repeated)
            forward(post.facts_made)
    return played


class Office:
    """Sends what the devices have to send, and knows which days its customers were told."""

    def __init__(self, client: httpx.AsyncClient) -> None:
        self._client = client
        self._told: dict[str, date] = {}
        self._in_time: set[str] = set()

    async def promise(self, post: Post) -> Played:
        """Promise an order the date that the service gives."""
        assert post.asks is not None
        answer = await self._sent("/v1/promises", post, ENCODER.encode(post.asks))
        self._told[post.asks.order] = msgspec.json.decode(answer.content, type=Promised).ships_by
        is_new = answer.status_code == httpx.codes.CREATED
        return Played(post.facts_made, 0) if is_new else Played(0, post.facts_made)

    async def record(self, post: Post) -> Played:
        """Record facts, but for the delays that are none."""
        facts = tuple(fact for fact in post.facts if self._is_so(fact))
        if not facts:
            return Played(0, 0)
        sent_at = post.at + post.fast_by if post.fast_by else None
        answer = await self._sent(
            "/v1/events", post, ENCODER.encode(Batch(events=facts, sent_at=sent_at))
        )
        outcomes = msgspec.json.decode(answer.content, type=Recording).events
        again = sum(outcome.repeated for outcome in outcomes)
        return Played(len(outcomes) - again, again)

    def _is_so(self, fact: AnyEvent) -> bool:
        """A later day is told only to who was told a sooner one."""
        if isinstance(fact, PromiseRevised) and fact.order in self._told:
            if fact.ships_by <= self._told[fact.order]:
                self._in_time.add(fact.order)
                return False
            self._in_time.discard(fact.order)
            self._told[fact.order] = fact.ships_by
        if isinstance(fact, CustomerTold) and fact.about == "delay":
            return fact.order not in self._in_time
        return True

    async def _sent(self, path: str, post: Post, body: bytes) -> httpx.Response:
        answer = await self._client.post(path, content=body, timeout=None)
        if not answer.is_success:
            raise RefusedError(f"at {post.at}: {answer.text}")
        return answer
