"""How messages are taken to their receivers, with a sender that does what a test says."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from coatledger.computations.retries import DELAYS_S, TRIES_MAX
from coatledger.ledger.record import micros
from coatledger.recording.notices import Message
from coatledger_adapters.webhooks.book import Webhook
from coatledger_adapters.webhooks.memory_book import MemoryWebhooks
from coatledger_adapters.webhooks.secrets import make_secret, seal
from coatledger_adapters.webhooks.sending import Outcome, Sender
from coatledger_api.courier import GRACE_S, Courier, live_secrets
from hypothesis import given
from hypothesis import strategies as st

OWN = b"of this service!" * 2
TAKEN, FAILED, GONE = Outcome(204, ""), Outcome(503, "answered 503"), Outcome(410, "answered 410")
BEGIN = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
HOOK, OTHER = "hook0001", "hook0002"


class Scripted(Sender):
    """A sender that opens nothing: it notes what it is given, and answers by a script."""

    def __init__(self, answer: Callable[[str, str], Outcome]) -> None:
        super().__init__(frozenset(), 1.0)
        self.answer = answer
        self.sent: list[tuple[str, str]] = []
        self.hangs = False
        self.under_way = self.most = 0

    async def post(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """Pretend to send."""
        self.sent.append((url, headers["webhook-id"]))
        self.under_way += 1
        self.most = max(self.most, self.under_way)
        await asyncio.sleep(3600 if self.hangs else 0.001)
        self.under_way -= 1
        return self.answer(url, headers["webhook-id"])

    def ids(self, url: str = HOOK) -> list[str]:
        return [message_id for where, message_id in self.sent if where == url]


class World:
    """A book with webhooks and messages, and a courier; time jumps from one look to the next."""

    def __init__(
        self, answer: Callable[[str, str], Outcome] = lambda *_: TAKEN, step_s: float = 0
    ) -> None:
        self.book = MemoryWebhooks("trial")
        self.sender = Scripted(answer)
        self.now, self.step = BEGIN, timedelta(seconds=step_s)
        self.courier = Courier(
            self.book, self.sender, OWN, "trial", self.clock, lambda: 0.5, poll_s=0.001
        )

    def clock(self) -> datetime:
        self.now += self.step
        return self.now

    def hook(self, name: str = HOOK) -> World:
        kinds = frozenset(("shipped",))
        sealed = seal(OWN, make_secret())
        self.book.add(Webhook(name, name, name, kinds, "on", sealed, 1 + len(self.book.all())))
        return self

    def told(self, count: int) -> World:
        messages = [
            Message(f"msg_{n}", "shipped", "shipped", n, UUID(int=n), None, b"{}")
            for n in range(1, count + 1)
        ]
        self.book.tell(messages, micros(self.now))
        return self

    def run(self, until: Callable[[], bool], within_s: float = 10) -> float:
        """Let the courier work until something holds; return how long it then took to end."""

        async def go() -> float:
            closing = asyncio.Event()
            running = asyncio.create_task(self.courier.run(closing))
            ends = time.monotonic() + within_s
            while not until():
                assert time.monotonic() < ends, self.states()
                await asyncio.sleep(0.001)
            closing.set()
            began = time.monotonic()
            await running
            return time.monotonic() - began

        return asyncio.run(go())

    def states(self, name: str = HOOK) -> list[str]:
        every = ("waiting", "delivered", "dead", "overtaken", "set_aside")
        return [one.state for one in reversed(self.book.deliveries(name, every, 10**9, 999))]

    def settled(self) -> bool:
        return not any("waiting" in self.states(one.webhook_id) for one in self.book.all())


def test_messages_go_in_order_one_at_a_time_to_one_receiver() -> None:
    world = World().hook().told(30)
    world.run(world.settled)
    assert world.sender.ids() == [f"msg_{n}" for n in range(1, 31)]
    assert world.sender.most == 1


def test_who_does_not_take_anything_holds_up_nobody_else() -> None:
    def answer(url: str, _: str) -> Outcome:
        return TAKEN if url == OTHER else FAILED

    world = World(answer).hook().hook(OTHER).told(20)
    world.run(lambda: world.states(OTHER) == ["delivered"] * 20)
    assert "delivered" not in world.states(HOOK)
    assert world.sender.most == 2


def test_one_message_that_is_not_taken_does_not_hold_up_those_behind_it() -> None:
    def answer(_: str, message_id: str) -> Outcome:
        return FAILED if message_id == "msg_1" else TAKEN

    world = World(answer).hook().told(3)
    world.run(lambda: world.states() == ["waiting", "delivered", "delivered"])


def test_the_waits_between_tries_are_those_of_the_schedule() -> None:
    world = World(lambda *_: FAILED).hook().told(1)
    due: list[float] = []

    def look() -> bool:
        (one,) = world.book.deliveries(HOOK, ("waiting", "dead"), 10**9, 1)
        # A leased message is put off as well, until what became of its try is known.
        if one.state == "waiting" and one.tried_us == micros(world.now):
            due.append((one.due_us - one.tried_us) / 1e6)
            world.now += timedelta(microseconds=one.due_us - one.tried_us)
        return one.state == "dead"

    world.run(look)
    assert due == pytest.approx(list(DELAYS_S))
    assert len(world.sender.sent) == TRIES_MAX


def test_who_asks_for_a_pause_gets_it() -> None:
    world = World(lambda *_: Outcome(429, "answered 429", 3600.0)).hook().told(1)
    world.run(lambda: world.book.all()[0].failure_us is not None)
    (one,) = world.book.deliveries(HOOK, ("waiting",), 10**9, 1)
    assert one.due_us == micros(world.now + timedelta(hours=1))


def test_who_is_gone_is_sent_nothing_more() -> None:
    world = World(lambda *_: GONE, step_s=3600).hook().told(5)
    world.run(lambda: world.book.all()[0].state == "gone")
    assert world.sender.ids() == ["msg_1"]


def test_with_another_services_secret_it_says_what_to_do() -> None:
    world = World().hook().told(1)
    world.courier = Courier(
        world.book, world.sender, b"another one" * 3, "trial", world.clock, lambda: 0.5, poll_s=1
    )
    world.run(lambda: world.book.all()[0].failure_us is not None)
    assert world.book.all()[0].says == "its secret was sealed by another service: make a new one"
    assert world.sender.sent == []


def test_it_ends_within_a_moment_whatever_hangs_and_sends_it_again_later() -> None:
    world = World().hook().told(2)
    world.sender.hangs = True
    took_s = world.run(lambda: bool(world.sender.sent))
    assert took_s < GRACE_S + 0.5
    assert world.states() == ["waiting", "waiting"]
    world.sender.hangs = False
    world.now += timedelta(minutes=1)  # its lease is over
    world.run(world.settled)
    assert world.sender.ids() == ["msg_1", "msg_1", "msg_2"]


def test_a_book_that_cannot_be_read_for_a_while_is_looked_at_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world = World().hook().told(1)
    real, failures = world.book.due, [0]

    def due() -> tuple[tuple[str, int], ...]:
        failures[0] += 1
        if failures[0] < 3:
            raise OSError("the database is away")
        return real()

    monkeypatch.setattr(world.book, "due", due)
    world.run(world.settled)
    assert world.states() == ["delivered"]


def test_a_secrets_predecessor_signs_until_its_time_is_over() -> None:
    one = Webhook(HOOK, HOOK, HOOK, frozenset(), "on", b"new", 1, b"old", 100)
    assert live_secrets(one, 99) == (b"new", b"old")
    assert live_secrets(one, 100) == (b"new",)
    assert live_secrets(one._replace(older_secret=None), 1) == (b"new",)


ANSWERS = st.lists(st.sampled_from([TAKEN, FAILED, Outcome(None, "closed")]), max_size=60)


@given(ANSWERS, st.integers(1, 5))
def test_whatever_receivers_do_each_message_ends_and_under_its_one_id(
    answers: list[Outcome], count: int
) -> None:
    script = iter(answers)
    world = World(lambda *_: next(script, TAKEN), step_s=86_400).hook().told(count)
    world.run(world.settled)
    tries: dict[str, int] = {}
    for message_id in world.sender.ids():
        tries[message_id] = tries.get(message_id, 0) + 1
    assert set(tries) == {f"msg_{n}" for n in range(1, count + 1)}
    assert max(tries.values()) <= TRIES_MAX
    assert set(world.states()) <= {"delivered", "dead"}
