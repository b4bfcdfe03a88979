"""Sending a log when the service is busy, goes away in the middle, or answers strangely."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any, cast

import msgspec
import pytest
from bench import made_id
from coatledger.events.catalogue import AnyEvent
from coatledger.events.room_gun import AirMoved, ClimateRead, Reading
from coatledger_api.commands.log_send import BATCH_BYTES, BATCH_FACTS, batches, send
from coatledger_api.commands.reach import Failed, Lost, Refusal, Service
from shell import Running, call

MORNING = datetime(2026, 3, 2, 8, tzinfo=UTC)


class Scripted:
    """A service that answers each post with the next of its lines."""

    def __init__(self, *answers: Exception | bytes | None) -> None:
        self.answers = list(answers)
        self.posted: list[dict[str, Any]] = []

    def post(self, path: str, body: bytes, **headers: str) -> bytes:
        """Answer, raise, or (None) record everything."""
        assert (path, headers) == ("/v1/events", {"Prefer": "handling=lenient"})
        batch = msgspec.json.decode(body)
        self.posted.append(batch)
        answer = self.answers.pop(0) if self.answers else None
        if isinstance(answer, Exception):
            raise answer
        if answer is not None:
            return answer
        events = [{"id": fact["id"], "position": 1} for fact in batch["events"]]
        return msgspec.json.encode({"position": 7, "cursor": "e.7", "events": events})


def facts(count: int) -> list[tuple[int, AnyEvent]]:
    """Facts with the lines they stand in."""
    return [
        (
            number,
            AirMoved(
                id=made_id(number, MORNING),
                occurred_at=MORNING + timedelta(seconds=number),
                room="spray",
                device="fan",
            ),
        )
        for number in range(1, count + 1)
    ]


def sent(service: Scripted, count: int) -> Any:
    return send(cast(Service, service), facts(count), pause_s=0)


def busy() -> Refusal:
    return Refusal(503, b'{"type":"/problems/overloaded","title":"x","status":503,"detail":"y"}')


def test_a_busy_service_is_asked_again() -> None:
    service = Scripted(busy(), busy(), None)
    done = sent(service, 3)
    assert (done.broken, len(done.answered), len(service.posted)) == (None, 3, 3)
    assert service.posted[0] == service.posted[2]


def test_a_service_that_stays_busy_ends_the_sending() -> None:
    done = sent(Scripted(*(busy() for _ in range(9))), 3)
    assert isinstance(done.broken, Refusal)
    assert done.answered == ()


def test_a_service_that_goes_away_leaves_what_was_answered() -> None:
    service = Scripted(None, Lost("http://x", "gone"))
    done = sent(service, 2 * BATCH_FACTS + 5)
    assert isinstance(done.broken, Lost)
    assert [one.number for one in done.answered] == list(range(1, BATCH_FACTS + 1))
    assert len(service.posted) == 2


@pytest.mark.parametrize("answer", [b"<html>", b"[]", b'{"position":1,"events":[]}'])
def test_an_answer_nobody_understands_is_not_taken_for_success(answer: bytes) -> None:
    done = sent(Scripted(answer), 2)
    assert isinstance(done.broken, Failed)
    assert done.answered == ()


def test_batches_are_bounded_by_number_and_by_size() -> None:
    assert [len(batch) for batch in batches(facts(BATCH_FACTS + 1))] == [BATCH_FACTS, 1]
    reading = Reading(air_c=21.0, rh_pct=50.0, at=MORNING)
    long = ClimateRead(
        id=made_id(1, MORNING), occurred_at=MORNING, room="spray", readings=(reading,) * 1000
    )
    size = len(msgspec.json.encode(long))
    told: list[tuple[int, AnyEvent]] = [(n, long) for n in range(20)]
    assert next(len(batch) for batch in batches(told)) == BATCH_BYTES // size


def test_a_connection_lost_in_the_middle_says_how_to_go_on(
    service: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = "".join(
        f'{{"type":"air_moved","occurred_at":"2026-03-02T08:{n // 60:02d}:{n % 60:02d}Z",'
        '"room":"spray","device":"fan"}\n'
        for n in range(BATCH_FACTS + 3)
    )
    post = Service.post
    calls: list[int] = []

    def cut(self: Service, path: str, body: bytes, **headers: str) -> bytes:
        calls.append(1)
        if len(calls) == 2:
            post(self, path, body, **headers)  # recorded, and its answer lost
            raise Lost("http://x", "gone")
        return post(self, path, body, **headers)

    monkeypatch.setattr(Service, "post", cut)
    broken = call("record", "--zone", "UTC", told=day)
    assert broken.exit_code == 3
    assert f"{BATCH_FACTS} lines recorded" in broken.stdout
    assert "No answer for 3 lines. Give the same command again to go on" in broken.stderr
    again = call("record", "--zone", "UTC", told=day)
    assert again.exit_code == 0
    assert f"0 lines recorded, {BATCH_FACTS + 3} recorded before" in again.stdout
    assert service.store.head().size == BATCH_FACTS + 3
