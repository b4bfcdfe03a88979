"""The demonstration played once into a ledger in memory, and a service that shows it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key
from coatledger_api.app import create_app
from coatledger_api.demo.play import SEED, Post, play
from coatledger_api.demo.player import Played, load
from litestar.testing import TestClient
from shown_demo import SECRET, Shown

NOW = datetime(2026, 11, 25, 10, 17, tzinfo=UTC)


@pytest.fixture(scope="session")
def posts() -> tuple[Post, ...]:
    """Six weeks up to a Wednesday morning."""
    return play(SEED, NOW)


@pytest.fixture(scope="session")
def demo(posts: tuple[Post, ...]) -> Iterator[Shown]:
    """A service over what was played; its clock stands at the newest minute."""
    store, keys = MemoryStore("demo"), MemoryKeys()
    token, kept = make_key(SECRET, "all", SCOPES, 0)
    keys.add(kept)
    first = load(store, keys, SECRET, token, posts)
    app = create_app(store, keys, SECRET, lambda: NOW)
    with TestClient(app) as client:
        yield Shown(client, store, keys, token, first)


@pytest.fixture(scope="session")
def played(demo: Shown) -> Played:
    """What became of the first playing."""
    return demo.first
