"""Webhooks as whoever looks after a shop meets them, and what their receivers get."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_api.settings import Settings
from receiver import Listening, failing, fine, gone, receiving, until
from served import Served, refusal, serving
from standardwebhooks.webhooks import Webhook

EVERY = ["promised", "revised", "in_danger", "out_of_danger", "ready", "packed", "shipped",
         "handed_over"]  # fmt: skip


@pytest.fixture
def receiver() -> Iterator[Listening]:
    with receiving() as one:
        yield one


@pytest.fixture(params=["memory", "sqlite"])
def served(request: pytest.FixtureRequest, tmp_path: Path, receiver: Listening) -> Iterator[Served]:
    """A service that may send to the receiver, and looks often for what waits."""
    settings = Settings(webhook_hosts=receiver.host, webhook_poll_s=0.02, webhook_timeout_s=5)
    if request.param == "memory":
        with serving(MemoryStore("trial"), settings) as one:
            yield one
        return
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "trial")
    try:
        with serving(store, settings) as one:
            yield one
    finally:
        store.close()


def made(served: Served, receiver: Listening, *kinds: str) -> dict[str, Any]:
    body = {"label": "web shop", "url": receiver.url, "kinds": list(kinds or EVERY)}
    answer = served.ask("POST", "/v1/webhooks", json=body)
    assert answer.status_code == 201, answer.text
    told: dict[str, Any] = answer.json()
    return told


def path(one: dict[str, Any], more: str = "") -> str:
    return f"/v1/webhooks/{one['webhook']['webhook']}{more}"


def shown(served: Served, one: dict[str, Any]) -> dict[str, Any]:
    answer = served.get(path(one))
    assert answer.status_code == 200, answer.text
    told: dict[str, Any] = answer.json()
    return told


def ship(served: Served, *words: str, **fields: Any) -> dict[str, Any]:
    served.pieces(*words)
    return served.record("shipped", pieces=words, **fields)


def test_a_webhook_is_made_read_changed_and_deleted(served: Served, receiver: Listening) -> None:
    one = made(served, receiver, "shipped", "ready")
    assert one["secret"].startswith("whsec_")
    assert one["webhook"]["kinds"] == ["ready", "shipped"]
    assert served.get("/v1/webhooks").json() == {"webhooks": [one["webhook"]]}
    assert shown(served, one) == one["webhook"]
    body = {"label": "shop", "url": receiver.url + "/2", "kinds": ["packed"], "paused": True}
    changed = served.ask("PUT", path(one), json=body).json()
    assert (changed["label"], changed["kinds"], changed["state"]) == ("shop", ["packed"], "paused")
    assert changed["url"] == receiver.url + "/2"
    assert served.ask("DELETE", path(one)).status_code == 204
    refusal(served.get(path(one)), 404, "not_found")
    refusal(served.ask("DELETE", path(one)), 404, "not_found")
    assert served.get("/v1/webhooks").json() == {"webhooks": []}


def test_a_lost_answer_is_asked_for_again_and_makes_no_second_webhook(
    served: Served, receiver: Listening
) -> None:
    served.clock = datetime.now(UTC)  # a receiver looks at the time, too
    body = {"webhook": "ours0001", "label": "web shop", "url": receiver.url, "kinds": ["shipped"]}
    lost = served.ask("POST", "/v1/webhooks", json=body)
    assert lost.status_code == 201, lost.text
    again = served.ask("POST", "/v1/webhooks", json=body)
    assert (again.status_code, again.json()) == (200, lost.json())
    assert again.headers["cache-control"] == "no-store"
    assert len(served.get("/v1/webhooks").json()["webhooks"]) == 1
    ship(served, "SH-1")
    (message,) = receiver.wait_for(1)
    Webhook(again.json()["secret"]).verify(message.body, message.headers)
    # Later the secret is not told any more; another webhook has another id.
    late = served.later(minutes=59).ask("POST", "/v1/webhooks", json=body)
    assert late.json()["secret"] == lost.json()["secret"]
    refusal(served.later(minutes=2).ask("POST", "/v1/webhooks", json=body), 409, "webhook_reused")
    other = served.ask("POST", "/v1/webhooks", json={**body, "webhook": "ours0002"})
    assert other.status_code == 201
    for odd in ("ours0003\n", "ours-003"):
        refusal(served.ask("POST", "/v1/webhooks", json={**body, "webhook": odd}), 422, "invalid")


@pytest.mark.parametrize("other", [{"label": "shop"}, {"kinds": ["ready"]}, {"url": "/2"}])
def test_an_id_that_names_another_webhook_is_refused(
    served: Served, receiver: Listening, other: dict[str, Any]
) -> None:
    body = {"webhook": "ours0001", "label": "web shop", "url": receiver.url, "kinds": ["shipped"]}
    made = served.ask("POST", "/v1/webhooks", json=body).json()
    if "url" in other:
        other = {"url": receiver.url + other["url"]}
    refusal(served.ask("POST", "/v1/webhooks", json=body | other), 409, "webhook_reused")
    assert served.get("/v1/webhooks").json() == {"webhooks": [made["webhook"]]}


def test_the_secret_is_shown_once(served: Served, receiver: Listening) -> None:
    one = made(served, receiver)
    secret = one["secret"].removeprefix("whsec_")
    for where in ("/v1/webhooks", path(one), path(one, "/deliveries")):
        assert secret not in served.get(where).text
    new = served.ask("POST", path(one, "/secret"), json={}).json()["secret"]
    assert new != one["secret"]
    assert new.removeprefix("whsec_") not in served.get(path(one)).text


def test_only_an_admin_looks_after_webhooks(served: Served) -> None:
    token = served.key("record", "read", "promise", "audit")
    refusal(served.get("/v1/webhooks", token=token), 403, "forbidden")


@pytest.mark.parametrize(
    "url", ["https://127.0.0.1/", "https://10.0.0.1/", "http://shop.example/", "https://nas/",
            "https://shop.example:8443/", "https://localhost/"],
)  # fmt: skip
def test_a_place_that_is_never_sent_to_is_refused_at_once(served: Served, url: str) -> None:
    body = {"label": "x", "url": url, "kinds": ["shipped"]}
    refusal(served.ask("POST", "/v1/webhooks", json=body), 409, "webhook_target")


def test_each_fault_of_a_webhook_is_named(served: Served, receiver: Listening) -> None:
    body = {"label": "", "url": "shop", "kinds": ["painted"], "more": 1}
    found = refusal(served.ask("POST", "/v1/webhooks", json=body), 422, "invalid")
    assert {place for _, place in found} == {"/label", "/url", "/kinds/0", "/more"}
    body = {"label": "x", "url": receiver.url, "kinds": ["ready", "ready"]}
    found = refusal(served.ask("POST", "/v1/webhooks", json=body), 422, "invalid")
    assert found == [("invalid", "/kinds")]


def test_there_is_an_end_to_webhooks(served: Served, receiver: Listening) -> None:
    for _ in range(20):
        made(served, receiver, "shipped")
    body = {"label": "x", "url": receiver.url, "kinds": ["shipped"]}
    refusal(served.ask("POST", "/v1/webhooks", json=body), 409, "too_many_webhooks")


def test_a_shipment_is_told_signed_and_as_a_cloud_event(
    served: Served, receiver: Listening
) -> None:
    served.clock = datetime.now(UTC)  # a receiver looks at the time, too
    one = made(served, receiver)
    fact = ship(served, "BT-1", "BT-2", carrier="van")
    (got,) = receiver.wait_for(1)
    Webhook(one["secret"]).verify(got.body, got.headers)
    assert got.headers["content-type"] == "application/cloudevents+json"
    event = got.event
    assert event["id"] == got.message_id
    assert event["type"] == "coatledger.notice.shipped"
    assert event["data"] == {
        "kind": "shipped", "position": 2, "event": fact["id"], "carrier": "van",
        "lines": [{"pieces": ["BT-1", "BT-2"]}],
    }  # fmt: skip
    until(lambda: shown(served, one)["success_at"] is not None)
    told = served.get(path(one, "/deliveries")).json()
    assert told["next_before"] is None
    (delivery,) = told["deliveries"]
    assert (delivery["state"], delivery["tries"], delivery["status"]) == ("delivered", 1, 204)
    assert delivery["message"] == got.message_id


def test_what_nobody_wants_or_was_imported_is_not_sent(served: Served, receiver: Listening) -> None:
    made(served, receiver, "shipped")
    served.pieces("a", "b", "c")
    served.record("packed", pieces=["a"], touching="paper")
    served.record("shipped", pieces=["b"], source="import")
    served.record("shipped", pieces=["c"])
    (got,) = receiver.wait_for(1)
    assert got.event["data"]["lines"] == [{"pieces": ["c"]}]
    time.sleep(0.1)
    assert len(receiver.got) == 1


def test_a_batch_is_told_fact_by_fact_in_order(served: Served, receiver: Listening) -> None:
    made(served, receiver)
    served.pieces("a", "b")
    facts = [
        served.fact("packed", pieces=["a"], touching="paper"),
        served.fact("packed", pieces=["b"], touching="paper"),
        served.fact("shipped", pieces=["a", "b"]),
    ]
    assert served.post(served.batch(*facts)).status_code == 201
    got = receiver.wait_for(3)
    assert [one.kind for one in got] == ["packed", "packed", "shipped"]
    assert [one.event["sequence"] for one in got] == ["2", "3", "4"]
    # The same batch again is the same events, and tells nobody anything.
    assert served.post(served.batch(*facts)).status_code == 200
    time.sleep(0.1)
    assert len(receiver.got) == 3


def test_a_refused_fact_tells_nothing(served: Served, receiver: Listening) -> None:
    made(served, receiver)
    served.pieces("a")
    good, bad = served.fact("shipped", pieces=["a"]), served.fact("shipped", pieces=["nobody"])
    assert served.post(served.batch(good, bad)).status_code == 409
    served.record("packed", pieces=["a"], touching="paper")
    (got,) = receiver.wait_for(1)
    assert got.kind == "packed"


def test_a_voided_shipment_is_taken_back(served: Served, receiver: Listening) -> None:
    made(served, receiver, "shipped")
    fact = ship(served, "a")
    (first,) = receiver.wait_for(1)
    until(lambda: not waiting(served))
    served.record("event_voided", original=fact["id"], reason="never_happened")
    got = receiver.wait_for(2)[1]
    assert got.kind == "retracted"
    assert got.event["data"]["retracts"] == first.message_id
    assert got.event["data"]["retracted_kind"] == "shipped"
    assert got.event["data"]["lines"] == [{"pieces": ["a"]}]


def waiting(served: Served) -> int:
    return sum(one["waiting"] for one in served.get("/v1/webhooks").json()["webhooks"])


def test_while_it_is_paused_messages_wait(served: Served, receiver: Listening) -> None:
    one = made(served, receiver)
    body = {"label": "web shop", "url": receiver.url, "kinds": EVERY}
    served.ask("PUT", path(one), json={**body, "paused": True})
    ship(served, "a")
    time.sleep(0.1)
    assert receiver.got == []
    assert shown(served, one)["waiting"] == 1
    served.ask("PUT", path(one), json=body)
    assert receiver.wait_for(1)[0].kind == "shipped"


def test_a_ping_is_sent_now_and_says_what_came_of_it(served: Served, receiver: Listening) -> None:
    one = made(served, receiver, "ready")
    answer = served.ask("POST", path(one, "/test"))
    assert answer.json() == {"delivered": True, "status": 204, "says": ""}
    assert receiver.got[0].kind == "ping"
    receiver.behaviour = failing
    answer = served.ask("POST", path(one, "/test"))
    assert answer.json() == {"delivered": False, "status": 503, "says": "answered 503"}


def test_what_failed_is_tried_again_later_under_the_same_id(
    served: Served, receiver: Listening
) -> None:
    one = made(served, receiver)
    receiver.behaviour = failing
    ship(served, "a")
    receiver.wait_for(1)
    until(lambda: shown(served, one)["failure"] == "answered 503")
    time.sleep(0.1)
    assert len(receiver.got) == 1  # not before it is due
    receiver.behaviour = fine
    served.later(seconds=7)
    first, second = receiver.wait_for(2)
    assert first.message_id == second.message_id
    assert first.body == second.body
    assert first.headers["webhook-timestamp"] != second.headers["webhook-timestamp"]
    until(lambda: shown(served, one)["waiting"] == 0)


def test_what_is_never_taken_is_given_up_seen_and_sent_again(
    served: Served, receiver: Listening
) -> None:
    one = made(served, receiver)
    receiver.behaviour = failing
    ship(served, "a")
    for tries in range(1, 11):
        receiver.wait_for(tries)
        until(lambda: tries_of(served, one) == tries)  # noqa: B023 - asked at once
        served.later(hours=30)
    until(lambda: shown(served, one)["given_up"] == 1)
    served.later(days=30)
    time.sleep(0.1)
    assert len(receiver.got) == 10
    assert len(set(receiver.ids())) == 1
    told = served.get(path(one, "/deliveries?state=dead")).json()["deliveries"]
    assert [(d["state"], d["tries"], d["says"]) for d in told] == [("dead", 10, "answered 503")]
    receiver.behaviour = fine
    answer = served.ask("POST", path(one, "/resend"), json={"after": 1})
    assert answer.json() == {"messages": 1, "position": 2, "more": False}
    assert receiver.wait_for(11)[-1].message_id == receiver.ids()[0]
    until(lambda: shown(served, one)["given_up"] == 0)


def tries_of(served: Served, one: dict[str, Any]) -> int:
    (delivery,) = served.get(path(one, "/deliveries")).json()["deliveries"]
    return int(delivery["tries"]) if delivery["tried_at"] else 0


def test_a_receiver_that_is_gone_ends_the_webhook_until_it_is_changed(
    served: Served, receiver: Listening
) -> None:
    one = made(served, receiver)
    receiver.behaviour = gone
    ship(served, "a")
    until(lambda: shown(served, one)["state"] == "gone")
    served.later(hours=1)
    ship(served, "b")
    time.sleep(0.1)
    assert len(receiver.got) == 1
    receiver.behaviour = fine
    body = {"label": "web shop", "url": receiver.url, "kinds": EVERY}
    assert served.ask("PUT", path(one), json=body).json()["state"] == "on"
    ship(served, "c")
    assert receiver.wait_for(2)[1].event["data"]["lines"] == [{"pieces": ["c"]}]


def test_while_a_secret_is_changed_either_opens_a_message(
    served: Served, receiver: Listening
) -> None:
    served.clock = datetime.now(UTC)
    one = made(served, receiver)
    answer = served.ask("POST", path(one, "/secret"), json={"overlap_h": 1})
    assert answer.status_code == 201
    new = answer.json()
    assert new["webhook"]["older_secret_until"] is not None
    ship(served, "a")
    (got,) = receiver.wait_for(1)
    for secret in (one["secret"], new["secret"]):
        Webhook(secret).verify(got.body, got.headers)
    last = served.ask("POST", path(one, "/secret"), json={"overlap_h": 0}).json()
    ship(served, "b")
    got = receiver.wait_for(2)[1]
    Webhook(last["secret"]).verify(got.body, got.headers)
    assert got.headers["webhook-signature"].count("v1,") == 1


def test_deliveries_are_read_page_by_page(served: Served, receiver: Listening) -> None:
    one = made(served, receiver)
    for word in ("a", "b", "c"):
        ship(served, word)
    receiver.wait_for(3)
    first = served.get(path(one, "/deliveries?limit=2")).json()
    rest = served.get(path(one, f"/deliveries?limit=2&before={first['next_before']}")).json()
    numbers = [d["number"] for d in (*first["deliveries"], *rest["deliveries"])]
    assert numbers == [3, 2, 1]
    assert rest["next_before"] is None
    found = refusal(served.get(path(one, "/deliveries?state=lost")), 422, "invalid")
    assert found[0][1] == "state"


def test_what_was_told_may_be_asked_for_too(served: Served, receiver: Listening) -> None:
    made(served, receiver, "shipped", "packed")
    ship(served, "a")
    served.pieces("b")
    served.record("packed", pieces=["b"], touching="paper")
    sent = receiver.wait_for(2)
    token = served.key("read")
    page = served.get("/v1/notices?limit=1", token=token).json()
    assert (page["next_after"], page["more"]) == (1, True)
    rest = served.get(f"/v1/notices?after={page['next_after']}", token=token).json()
    assert (rest["next_after"], rest["more"]) == (2, False)
    told = [*page["notices"], *rest["notices"]]
    assert [one["notice"] for one in told] == [got.event for got in sent]
    only = served.get("/v1/notices?kind=packed&kind=ping", token=token).json()
    assert [one["notice"]["data"]["kind"] for one in only["notices"]] == ["packed"]
    assert served.get("/v1/notices?after=2", token=token).json()["next_after"] == 2
