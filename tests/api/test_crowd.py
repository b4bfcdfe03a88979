"""Two hundred followers of the feed at once: each sees each event once and in order, cut or not."""

import asyncio
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_api.settings import Settings
from crowd import follow
from listening import listening

READERS, EVENTS = 200, 30


@pytest.mark.slow
def test_each_of_two_hundred_followers_sees_each_event_once_and_in_order(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "trial")
    try:
        with listening(store, Settings()) as service:
            found = asyncio.run(
                follow(place(service.url), service.token, readers=READERS, events=EVENTS, per_s=20)
            )
    finally:
        store.close()
    assert found.cuts > 20
    assert (found.acknowledged, found.lost, found.twice, found.stray) == (EVENTS, 0, 0, 0)


def test_a_follower_that_loses_its_place_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mutation: what goes on after a cut begins with what is new, as without a cursor."""
    import coatledger_api.routes.stream as streaming

    monkeypatch.setattr(streaming, "position_of", lambda _, head: head.size)
    with listening(MemoryStore("trial"), Settings(stream_poll_s=0.05)) as service:
        found = asyncio.run(
            follow(place(service.url), service.token, readers=10, events=400, per_s=400,
                   cut_share=1.0, comes_within_s=1.0)
        )  # fmt: skip
    assert found.lost > 0


def place(url: str) -> tuple[str, int]:
    parts = urlsplit(url)
    assert parts.hostname
    assert parts.port
    return parts.hostname, parts.port
