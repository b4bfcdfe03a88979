"""The watch of promises as a shop meets it: a list that says since when and why, and a notice."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import SqlStore, open_store
from coatledger_adapters.webhooks.outbox import Outbox
from coatledger_api.settings import Settings
from receiver import Listening, receiving, until
from selling_shop import open_shop, promised
from served import Served, refusal, serving

TWO = [{"sku": "sh-90", "quantity": 2}]
CLOSED = {"first_day": "2026-03-03", "last_day": "2026-03-16"}
KINDS = ["in_danger", "out_of_danger"]


@pytest.fixture
def receiver() -> Iterator[Listening]:
    with receiving() as one:
        yield one


def watchful(receiver: Listening, **more: Any) -> Settings:
    fast = {"watch_every_s": 0.05, "watch_quiet_s": 0.01, "webhook_poll_s": 0.02, **more}
    return Settings(webhook_hosts=receiver.host, webhook_timeout_s=5, **fast)


@pytest.fixture(params=["memory", "sqlite"])
def served(request: pytest.FixtureRequest, tmp_path: Path, receiver: Listening) -> Iterator[Served]:
    if request.param == "memory":
        with serving(MemoryStore("trial"), watchful(receiver)) as one:
            yield one
        return
    store = opened(tmp_path)
    try:
        with serving(store, watchful(receiver)) as one:
            yield one
    finally:
        store.close()


def opened(home: Path) -> SqlStore:
    address = f"sqlite:///{home / 'ledger.db'}"
    migrate(address)
    return open_store(address, "trial")


def hear(served: Served, receiver: Listening) -> None:
    body = {"label": "web shop", "url": receiver.url, "kinds": KINDS}
    answer = served.ask("POST", "/v1/webhooks", json=body)
    assert answer.status_code == 201, answer.text


def kinds(receiver: Listening) -> list[str]:
    return [got.kind for got in receiver.got]


def one_in_danger(served: Served, receiver: Listening) -> dict[str, Any]:
    """Promise an order, close the shop, and return the fact that did it."""
    open_shop(served)
    hear(served, receiver)
    assert promised(served, "o-1", lines=TWO).status_code == 201
    return served.later(hours=1).record("closure_announced", **CLOSED)


def listed(served: Served, query: str = "") -> list[dict[str, Any]]:
    answer = served.get(f"/v1/promises?replications=200{query}")
    assert answer.status_code == 200, answer.text
    found: list[dict[str, Any]] = answer.json()["promises"]
    return found


def test_a_promise_in_danger_is_told_once_and_listed_with_what_would_save_it(
    served: Served, receiver: Listening
) -> None:
    closing = one_in_danger(served, receiver)
    (got,) = receiver.wait_for(1)
    said = got.event["data"]
    assert (said["kind"], said["order"]) == ("in_danger", "o-1")
    assert said["evidence"] == [closing["id"]]
    assert "the shop is closed 2026-03-03 to 2026-03-16" in said["says"]
    assert said["chance_pct"] < 60
    (one,) = listed(served)
    assert one["in_danger"]
    danger = one["danger"]
    assert danger["causes"][0]["events"] == [closing["id"]]
    assert danger["since"].startswith("2026-03-02T08:00")
    served.later(minutes=1).record("event_voided", original=closing["id"], reason="never_happened")
    receiver.wait_for(2)
    assert kinds(receiver) == KINDS
    assert "danger" not in listed(served)[0] or listed(served)[0]["danger"] is None


def test_those_in_danger_can_be_asked_for_alone(served: Served, receiver: Listening) -> None:
    one_in_danger(served, receiver)
    served.record("order_taken", order="o-9", lines=[{"line": "1", "sku": "sh-90"}])
    served.record("promise_made", order="o-9", ships_by="2026-06-30", level_pct=80)
    assert [one["order"] for one in listed(served, "&danger=true")] == ["o-1"]
    assert [one["order"] for one in listed(served, "&danger=false")] == ["o-9"]
    assert refusal(served.get("/v1/promises?danger=perhaps"), 422, "invalid")


def test_many_facts_at_once_are_looked_at_together(served: Served, receiver: Listening) -> None:
    one_in_danger(served, receiver)
    receiver.wait_for(1)
    for n in range(30):
        served.record("climate_read", room="spray", readings=[{"air_c": 20 + n / 10, "rh_pct": 50}])
    time.sleep(0.3)
    assert kinds(receiver) == ["in_danger"]


def test_half_an_hour_without_a_fact_is_looked_at_too(served: Served, receiver: Listening) -> None:
    open_shop(served)
    hear(served, receiver)
    day = promised(served, "o-1", lines=TWO).json()["ships_by"]
    time.sleep(0.3)
    assert kinds(receiver) == []
    served.later(days=30)
    (got,) = receiver.wait_for(1)
    assert "the days went by" in got.event["data"]["says"]
    assert day in got.event["data"]["says"]


def test_a_service_that_starts_again_tells_nothing_again(
    tmp_path: Path, receiver: Listening
) -> None:
    store = opened(tmp_path)
    with serving(store, watchful(receiver)) as served:
        one_in_danger(served, receiver)
        receiver.wait_for(1)
        clock = served.clock
    with serving(store, watchful(receiver)) as served:
        served.clock, served.count = clock, 1_000
        served.later(minutes=5)
        served.record("person_absent", person="ann", since=served.clock.isoformat())
        time.sleep(0.4)
        assert kinds(receiver) == ["in_danger"]
    store.close()


def test_what_was_seen_and_not_told_is_told_by_whoever_comes_next(
    tmp_path: Path, receiver: Listening, monkeypatch: pytest.MonkeyPatch
) -> None:

    def dying(*_: object) -> int:
        raise OSError("pulled the plug between pricing and telling")

    store = opened(tmp_path)
    with monkeypatch.context() as broken, serving(store, watchful(receiver)) as served:
        broken.setattr(Outbox, "tell", dying)
        one_in_danger(served, receiver)
        until(lambda: bool(listed(served)[0].get("danger")))
        clock = served.clock
        assert receiver.got == []
    with serving(store, watchful(receiver)) as served:
        served.clock, served.count = clock, 1_000
        served.later(minutes=5)
        receiver.wait_for(1)
        time.sleep(0.3)
        assert kinds(receiver) == ["in_danger"]
    store.close()


def test_a_ledger_that_was_there_before_is_watched_and_tells_nothing_old(
    tmp_path: Path, receiver: Listening
) -> None:
    store = opened(tmp_path)
    with serving(store, watchful(receiver, watch_every_s=0.0)) as served:
        one_in_danger(served, receiver)
        clock = served.clock
    with serving(store, watchful(receiver)) as served:
        served.clock, served.count = clock, 1_000
        until(lambda: bool(listed(served)[0].get("danger")))
        time.sleep(0.2)
        assert receiver.got == []
    store.close()
