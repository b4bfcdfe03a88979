"""Messages and real processes: killed between sending and noting it, several on one database, and
told to stop while a receiver hangs."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from postgres_server import HASTY, Server, why_missing
from receiver import Handler, Listening, fine, hanging, receiving, until
from shop_process import Process

KILLS, BETWEEN = 3, 4


def told_events(receiver: Listening) -> list[str]:
    """What a receiver that keeps ids was told: each message once."""
    once = {got.message_id: got for got in receiver.got}
    return [str(got.event["data"]["event"]) for got in once.values()]


def test_killed_between_sending_and_noting_nothing_is_lost_nor_told_twice(tmp_path: Path) -> None:
    with receiving() as receiver:
        service = Process(tmp_path, receiver, timeout_s="0.5").make_key().start()
        service.have_told(receiver)
        killed: list[str] = []

        def killing(handler: Handler) -> None:
            # It has sent the message, and will never hear that it arrived.
            receiver.behaviour = fine
            killed.append(receiver.got[-1].message_id)
            service.end(signal.SIGKILL)

        recorded: list[str] = []
        for number in range(KILLS * BETWEEN):
            if number % BETWEEN == BETWEEN - 1:
                until(lambda: len(told_events(receiver)) >= len(recorded))
                kills = len(killed)
                receiver.behaviour = killing
                recorded.append(service.ship(number))
                until(lambda: len(killed) > kills)  # noqa: B023
                service.start()
            else:
                recorded.append(service.ship(number))
        until(lambda: set(told_events(receiver)) == set(recorded))
        for message_id in killed:
            until(lambda: receiver.ids().count(message_id) == 2)  # noqa: B023
        assert len(set(killed)) == KILLS
        assert sorted(told_events(receiver)) == sorted(recorded)
        for got in receiver.got:  # the same id is the same message, to the byte
            assert {o.body for o in receiver.got if o.message_id == got.message_id} == {got.body}
        until(lambda: service.ask("GET", "/v1/webhooks").json()["webhooks"][0]["waiting"] == 0)
        service.end(signal.SIGTERM)


def test_a_receiver_that_hangs_does_not_keep_the_service_from_going_down(tmp_path: Path) -> None:
    with receiving(hanging) as receiver:
        service = Process(tmp_path, receiver, timeout_s="30").make_key().start()
        service.have_told(receiver)
        event = service.ship(1)
        receiver.wait_for(1)
        assert service.end(signal.SIGTERM) < 3.0
        # Nobody knows whether it arrived: it waits, under the same id.
        receiver.behaviour = fine
        service.environment["COATLEDGER_WEBHOOK_TIMEOUT_S"] = "0.5"
        service.start()
        (waiting,) = service.ask("GET", "/v1/webhooks").json()["webhooks"]
        assert (waiting["waiting"], waiting["given_up"]) == (1, 0)
        path = f"/v1/webhooks/{waiting['webhook']}"
        assert service.ask("POST", f"{path}/resend", json={}).json()["messages"] == 1
        receiver.wait_for(2)
        assert len(set(receiver.ids())) == 1
        assert told_events(receiver) == [event]
        service.end(signal.SIGTERM)


@contextmanager
def two_on_postgresql(tmp_path: Path, receiver: Listening) -> Iterator[tuple[Process, Process]]:
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    try:
        database = ("--database", server.new_database())
        one = Process(tmp_path, receiver, *database, timeout_s="2").make_key().start()
        other = Process(tmp_path, receiver, *database, timeout_s="2")
        other.token = one.token
        yield one, other.start()
        for process in (one, other):
            process.end(signal.SIGTERM)
    finally:
        server.stop()


@pytest.mark.postgres
def test_two_processes_tell_each_thing_once(tmp_path: Path) -> None:
    with receiving() as receiver, two_on_postgresql(tmp_path, receiver) as both:
        both[0].have_told(receiver)
        recorded = [both[number % 2].ship(number) for number in range(30)]
        until(lambda: len(receiver.got) >= len(recorded))
        time.sleep(0.3)
        assert sorted(got.event["data"]["event"] for got in receiver.got) == sorted(recorded)
        assert len(set(receiver.ids())) == len(recorded)
