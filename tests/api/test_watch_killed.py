"""The watch of promises and real processes: killed while a promise is told, copied back, and two on
one database. A receiver hears of each episode once."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from bench import made_id
from postgres_server import HASTY, Server, why_missing
from receiver import Handler, Listening, fine, receiving, until
from selling_shop import HOURS, SHEET, STEPS
from shell import call
from shop_process import Process

NOW = datetime.now(UTC).replace(microsecond=0)


class Watched(Process):
    """A service that looks often, and what this test records in it."""

    count = 0

    def __init__(self, home: Path, receiver: Listening, *options: str) -> None:
        super().__init__(home, receiver, *options, timeout_s="2")
        self.environment |= {"COATLEDGER_WATCH_EVERY_S": "0.2", "COATLEDGER_WATCH_QUIET_S": "0.05"}

    def record(self, tag: str, **fields: Any) -> str:
        """Record a fact of some minutes ago and return its id."""
        Watched.count += 1
        at = NOW - timedelta(hours=2) + timedelta(seconds=Watched.count)
        made: UUID = made_id(Watched.count, at)
        body = {"type": tag, "id": str(made), "occurred_at": at.isoformat(), **fields}
        answer = self.ask("POST", "/v1/events", json=body)
        assert answer.status_code in (200, 201), answer.text
        return str(made)

    def open(self, receiver: Listening) -> None:
        """Describe a shop, promise a shelf for a far day, and have dangers told."""
        self.record("shop_described", zone="UTC", hours=HOURS)
        self.record("product_described", product="clear-w", **SHEET)
        self.record("gun_described", gun="g1", method="hvlp")
        self.record("schedule_described", schedule="three", steps=STEPS)
        self.record(
            "offering_described", offering="shelf", skus=["sh-90"], schedule="three",
            species="ash", coat_area_m2=0.6,
        )  # fmt: skip
        body = {"label": "web shop", "url": receiver.url, "kinds": ["in_danger", "out_of_danger"]}
        assert self.ask("POST", "/v1/webhooks", json=body).status_code == 201
        self.record("order_taken", order="o-1", lines=[{"line": "1", "sku": "sh-90"}])
        day = (NOW + timedelta(days=40)).date().isoformat()
        self.record("promise_made", order="o-1", ships_by=day, level_pct=80)

    def shut(self) -> str:
        """Close the shop until long after that day."""
        days = {"first_day": (NOW + timedelta(days=1)).date().isoformat(),
                "last_day": (NOW + timedelta(days=60)).date().isoformat()}  # fmt: skip
        return self.record("closure_announced", **days)

    def knows(self) -> bool:
        """Whether it found the danger."""
        (one,) = self.ask("GET", "/v1/promises?replications=100").json()["promises"]
        return bool(one.get("danger"))


def heard(receiver: Listening) -> list[str]:
    """What a receiver that keeps ids was told."""
    return [got.kind for got in {got.message_id: got for got in receiver.got}.values()]


def test_killed_again_and_again_around_a_danger_it_is_told_once(tmp_path: Path) -> None:
    with receiving() as receiver:
        service = Watched(tmp_path, receiver).make_key().start()
        service.open(receiver)
        closing = service.shut()
        for pause_s in (0.0, 0.1, 0.25):  # before it looked, while it looks, about when it tells
            time.sleep(pause_s)
            service.end(signal.SIGKILL)
            service.start()
        until(lambda: len(receiver.got) > 0, 20)
        until(service.knows)
        service.end(signal.SIGKILL)
        service.start()
        service.record("event_voided", original=closing, reason="never_happened")
        until(lambda: "out_of_danger" in heard(receiver), 20)
        service.end(signal.SIGTERM)
        assert heard(receiver) == ["in_danger", "out_of_danger"]


def test_killed_by_the_very_message_it_is_not_a_second_one(tmp_path: Path) -> None:
    with receiving() as receiver:
        service = Watched(tmp_path, receiver).make_key().start()
        service.open(receiver)

        def killing(handler: Handler) -> None:
            receiver.behaviour = fine
            service.end(signal.SIGKILL)

        receiver.behaviour = killing
        service.shut()
        receiver.wait_for(1, 20)
        service.start()
        receiver.wait_for(2, 20)
        time.sleep(0.6)
        service.end(signal.SIGTERM)
        assert len(set(receiver.ids())) == 1


def test_a_ledger_that_was_copied_back_tells_nothing_old(tmp_path: Path) -> None:
    with receiving() as receiver:
        service = Watched(tmp_path / "home", receiver).make_key().start()
        service.open(receiver)
        service.shut()
        receiver.wait_for(1, 20)
        until(service.knows)
        copies = tmp_path / "copies"
        assert call("backup", str(copies), *service.options).exit_code == 0
        (copy,) = copies.glob("*.db")
        service.end(signal.SIGTERM)
        back = call("restore", str(copy), "--yes", *service.options)
        assert back.exit_code == 0, back.stdout + back.stderr
        service.start()
        assert service.knows()
        service.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
        time.sleep(1.0)
        service.end(signal.SIGTERM)
        assert len(set(receiver.ids())) == 1


@contextmanager
def two_on_postgresql(tmp_path: Path, receiver: Listening) -> Iterator[tuple[Watched, Watched]]:
    if missing := why_missing():
        pytest.skip(missing)
    server = Server(*HASTY)
    try:
        database = ("--database", server.new_database())
        one = Watched(tmp_path, receiver, *database).make_key().start()
        other = Watched(tmp_path, receiver, *database)
        other.token = one.token
        yield one, other.start()
        other.end(signal.SIGTERM)
    finally:
        server.stop()


@pytest.mark.postgres
def test_of_two_processes_one_tells_and_the_other_goes_on_when_it_is_killed(
    tmp_path: Path,
) -> None:
    with receiving() as receiver, two_on_postgresql(tmp_path, receiver) as (one, other):
        one.open(receiver)
        closing = one.shut()
        until(lambda: len(receiver.got) > 0, 20)
        time.sleep(1.0)
        assert heard(receiver) == ["in_danger"]
        one.end(signal.SIGKILL)
        other.record("event_voided", original=closing, reason="never_happened")
        until(lambda: "out_of_danger" in heard(receiver), 90)
        assert heard(receiver) == ["in_danger", "out_of_danger"]
        assert len(receiver.got) == 2
