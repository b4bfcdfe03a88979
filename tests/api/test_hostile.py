"""Three hundred requests nobody sends by mistake, over a real socket: none makes the service fail,
none writes anything, and the service serves the next one as before.
"""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import httpx
import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api.settings import Settings
from hostile import FACT, JSON, answered, attack, request
from listening import Listening, listening


def serves(service: Listening) -> bool:
    """Whether the service is well and reads."""
    with httpx.Client(base_url=service.url, headers=service.headers, trust_env=False) as client:
        ready = client.get("/health/ready").json()["status"]
        return ready == "pass" and client.get("/v1/events").status_code == 200


@pytest.fixture
def attacked() -> Iterator[tuple[Listening, MemoryStore]]:
    """A service whose limits let the whole corpus through."""
    store = MemoryStore("trial")
    free = Settings(address_burst=10**6, key_burst=10**6)
    with listening(store, free) as service:
        yield service, store


def test_no_hostile_request_makes_the_service_fail_or_write(
    attacked: tuple[Listening, MemoryStore],
) -> None:
    service, store = attacked
    where = urlsplit(service.url)
    assert where.hostname
    assert where.port
    harm = attack((where.hostname, where.port), service.token)
    assert harm.sent >= 300
    assert not harm.failed, "\n".join(harm.failed)
    assert harm.refused >= harm.sent * 0.7, (
        harm.refused
    )  # the rest is harmless, or too broken to answer
    with store.reading() as reader:
        assert reader.head().size == 0
    with httpx.Client(base_url=service.url, headers=service.headers, trust_env=False) as client:
        assert len(client.get("/v1/keys").json()["keys"]) == 1
    assert serves(service)


def test_the_corpus_is_refused_for_what_spoils_it(attacked: tuple[Listening, MemoryStore]) -> None:
    service, store = attacked
    where = urlsplit(service.url)
    assert where.hostname
    assert where.port
    # The same bytes with nothing spoilt are taken, so a test that sent rubbish would be seen.
    good = request(service.token, "POST", "/v1/events", FACT, {"Content-Type": JSON})
    assert answered((where.hostname, where.port), good).startswith(b"HTTP/1.1 201 ")
    with store.reading() as reader:
        assert reader.head().size == 1
