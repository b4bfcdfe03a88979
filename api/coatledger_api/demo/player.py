"""Playing the demonstration into a ledger the way a shop does it: by posting facts over HTTP.

The service it posts to has a clock that says the time of each post, so that what was recorded when,
and what was known when, are as they would have been. Nothing is written past the public door.
"""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple, cast

import httpx
import msgspec
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


class Played(NamedTuple):
    """How many facts were recorded now, and how many the ledger held already."""

    recorded: int
    repeated: int


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
    recorded = repeated = 0
    async with (
        app.lifespan(),
        httpx.AsyncClient(transport=through, base_url="http://demo", headers=headers) as client,
    ):
        for post in posts:
            says = post.at
            sent_at = post.at + post.fast_by if post.fast_by else None
            body = ENCODER.encode(Batch(events=post.facts, sent_at=sent_at))
            answer = await client.post("/v1/events", content=body)
            if not answer.is_success:
                raise RefusedError(f"at {post.at}: {answer.text}")
            outcomes = msgspec.json.decode(answer.content, type=Recording).events
            again = sum(outcome.repeated for outcome in outcomes)
            recorded, repeated = recorded + len(outcomes) - again, repeated + again
            forward(len(outcomes))
    return Played(recorded, repeated)
