"""Webhooks from the command line, as whoever looks after the shop's computer does."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import httpx
import pytest
from coatledger_api.settings import Settings
from receiver import Listening, gone, receiving, until
from shell import Running, asked, call
from standardwebhooks.webhooks import Webhook


@pytest.fixture
def receiver() -> Iterator[Listening]:
    with receiving() as one:
        yield one


@pytest.fixture
def settings(receiver: Listening) -> Settings:
    """A service that may send to the receiver."""
    return Settings(webhook_hosts=receiver.host, webhook_poll_s=0.02)


def added(receiver: Listening, *words: str) -> dict[str, Any]:
    told: dict[str, Any] = asked("webhooks", "add", "web shop", receiver.url, *words)
    return told


def id_of(made: dict[str, Any]) -> str:
    return str(made["webhook"]["webhook"])


def shown() -> dict[str, Any]:
    (one,) = asked("webhooks", "list")["webhooks"]
    assert isinstance(one, dict)
    return one


def test_the_secret_stands_alone_and_signs_what_comes(
    service: Running, receiver: Listening
) -> None:
    assert call("webhooks", "list").stdout == "Nobody is told anything yet.\n"
    made = call("webhooks", "add", "web shop", receiver.url, "--kind", "shipped", "--kind", "ready")
    assert made.exit_code == 0, made.stderr
    secret = made.stdout.strip()
    assert secret.startswith("whsec_")
    assert "(web shop) is told of ready and shipped." in made.stderr
    assert secret not in call("webhooks", "list").stdout
    tried = call("webhooks", "test", shown()["webhook"])
    assert tried.stdout == "It arrived: the receiver answered 204.\n"
    (ping,) = receiver.got
    assert Webhook(secret).sign(
        ping.message_id, _time_of(ping.headers), ping.body.decode()
    ) in ping.headers["webhook-signature"].split(" ")


def test_it_is_told_of_everything_unless_said_otherwise(
    service: Running, receiver: Listening
) -> None:
    assert len(added(receiver)["webhook"]["kinds"]) == 8


def test_it_is_changed_paused_and_resumed_and_the_rest_stays(
    service: Running, receiver: Listening
) -> None:
    made = added(receiver, "--kind", "packed")
    assert call("webhooks", "change", id_of(made), "--label", "shop two").exit_code == 0
    assert call("webhooks", "pause", id_of(made)).exit_code == 0
    one = shown()
    assert (one["label"], one["url"], one["kinds"], one["state"]) == (
        "shop two", receiver.url, ["packed"], "paused",
    )  # fmt: skip
    # What else is changed leaves it paused.
    call("webhooks", "change", id_of(made), "--kind", "ready")
    assert (shown()["state"], shown()["kinds"]) == ("paused", ["ready"])
    said = call("webhooks", "resume", id_of(made))
    assert "It is told of ready." in said.stdout
    assert shown()["state"] == "on"


def test_one_that_is_gone_comes_back_by_resume(service: Running, receiver: Listening) -> None:
    made = added(receiver, "--kind", "shipped")
    receiver.behaviour = gone
    _ship(service)
    until(lambda: shown()["state"] == "gone")
    assert "gone, fails" in call("webhooks", "list").stdout
    assert "answered 410" in call("webhooks", "list").stdout
    call("webhooks", "resume", id_of(made))
    assert shown()["state"] == "on"


def test_messages_are_listed_and_sent_again(service: Running, receiver: Listening) -> None:
    made = added(receiver, "--kind", "shipped")
    _ship(service)
    receiver.wait_for(1)
    until(lambda: shown()["waiting"] == 0)
    listed = call("webhooks", "deliveries", id_of(made), "--state", "delivered").stdout
    assert "shipped  delivered  1" in listed
    assert receiver.ids()[0] in listed
    none = call("webhooks", "deliveries", id_of(made), "--state", "dead").stdout
    assert none == "No message of this kind.\n"
    said = call("webhooks", "resend", id_of(made), "--since", "2026-03-01 08:00")
    assert said.stdout == "1 message will be sent again.\n"
    assert [one.message_id for one in receiver.wait_for(2)] == receiver.ids()[:1] * 2
    none_left = call("webhooks", "resend", id_of(made), "--after", "2")
    assert none_left.stdout == "0 messages will be sent again.\n"


def test_what_to_send_again_is_said(service: Running, receiver: Listening) -> None:
    made = added(receiver)
    for words in ((), ("--everything", "--after", "3")):
        said = call("webhooks", "resend", id_of(made), *words)
        assert said.exit_code == 2
        assert "--after or --since, or else --everything" in said.stderr


def test_a_new_secret_is_shown_and_the_old_one_signs_on(
    service: Running, receiver: Listening
) -> None:
    made = added(receiver)
    said = call("webhooks", "secret", id_of(made), "--overlap-h", "2")
    assert said.stdout.strip() not in ("", made["secret"])
    assert "signs too, until Mon 2026-03-02 22:00" in said.stderr


def test_a_removed_one_is_told_nothing_and_is_unknown(
    service: Running, receiver: Listening
) -> None:
    made = added(receiver)
    assert call("webhooks", "remove", id_of(made)).stdout == f"Webhook {id_of(made)} is removed.\n"
    for verb in ("remove", "pause", "resume", "test", "deliveries"):
        said = call("webhooks", verb, id_of(made))
        assert said.exit_code == 1
        assert f"no webhook {id_of(made)}" in said.stderr


def test_what_the_service_refuses_is_said_as_the_service_says_it(
    service: Running, receiver: Listening
) -> None:
    private = call("webhooks", "add", "nas", "https://10.0.0.1/")
    assert private.exit_code == 1
    assert "Not a place this service sends to" in private.stderr
    odd = call("webhooks", "add", "", "shop", "--id", "x")
    assert all(place in odd.stderr for place in ("/label", "/url", "/webhook"))
    few = call("webhooks", "list", "--key", service.key_for("read", "record"))
    assert few.exit_code == 1
    assert "admin" in few.stderr


def test_a_key_that_may_not_read_the_shop_is_told_times_of_utc(
    service: Running, receiver: Listening
) -> None:
    said = call("webhooks", "list", "--key", service.key_for("admin"))
    assert said.exit_code == 0, said.stderr


def test_after_a_lost_answer_the_same_command_makes_no_second_one(
    service: Running, receiver: Listening, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = httpx.Client.request

    def lost(client: httpx.Client, method: str, url: str, **how: Any) -> httpx.Response:
        answer = sent(client, method, url, **how)
        if method == "POST":
            raise httpx.ReadTimeout("timed out")
        return answer

    with monkeypatch.context() as cut:
        cut.setattr(httpx.Client, "request", lost)
        first = call("webhooks", "add", "web shop", receiver.url)
    assert first.exit_code == 3
    word = first.stderr.partition("--id ")[2].partition(":")[0]
    assert shown()["webhook"] == word
    again = added(receiver, "--id", word)
    assert again["webhook"]["webhook"] == word
    assert again["secret"].startswith("whsec_")
    assert len(asked("webhooks", "list")["webhooks"]) == 1


def _ship(service: Running) -> None:
    day = "--day=2026-03-02"
    lines = '{"type": "piece_started", "occurred_at": "08:00", "pieces": ["SH-1"], "kind": "shelf"'
    lines += ', "species": "ash", "coat_area_m2": 1, "use": "decor"}\n'
    lines += '{"type": "shipped", "occurred_at": "17:00", "pieces": ["SH-1"]}\n'
    done = call("record", "-", day, told=lines)
    assert done.exit_code == 0, done.stdout + done.stderr


def _time_of(headers: dict[str, str]) -> datetime:
    return datetime.fromtimestamp(int(headers["webhook-timestamp"]), UTC)
