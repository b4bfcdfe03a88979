"""One writer for many clients: order, repetition, shared commits, what is refused, what breaks."""

import asyncio
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import Mock

import httpx
import msgspec
import pytest
from bench import made_id, on_day
from coatledger.events.finish import LotOpened
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.store import Store, Writer
from coatledger.recording.session import Request
from coatledger.refusal import Refused
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_api import writer as writing
from coatledger_api.problems import ProblemError
from coatledger_api.settings import Settings
from coatledger_api.watching import Watcher
from listening import Listening, listening

CLIENTS = 32
ACTS = 12
NOON = on_day("1 12:00")


def request(number: int, lot: str = "can-1", count: int = 1) -> Request:
    events = tuple(
        LotOpened(id=made_id(number * 1000 + i, NOON), occurred_at=NOON, lot=lot)
        for i in range(count)
    )
    return Request(events=events, by="bench", pointer="")


class Counting(MemoryStore):
    """A store in memory that counts its writes, and may fail at one."""

    def __init__(self, fail: Callable[[int, Any], bool] = lambda _, __: False) -> None:
        super().__init__("trial")
        self.writes = 0
        self._fail = fail

    @contextmanager
    def writing(self) -> Iterator[Writer]:
        with super().writing() as ledger:
            yield ledger

    def write(self, changes: Any) -> None:
        self.writes += 1
        if self._fail(self.writes, changes):
            raise OSError("the disk is full")
        super().write(changes)


def writer_of(store: Store, **limits: Any) -> writing.Writer:
    given = {"waiting_max": 100, "commit_facts_max": 50, "retry_after_s": 1, **limits}
    return writing.Writer(store, lambda: NOON, lambda: bytes(16), on_new=lambda: None, **given)


async def submitted(
    writer: writing.Writer, *requests: Request
) -> list[writing.Written | BaseException]:
    """Submit requests before the writer looks, so that they share what can be shared."""
    writer._loop = asyncio.get_running_loop()
    answers = [writer.submit(one) for one in requests]
    writer.start()
    found = await asyncio.gather(*answers, return_exceptions=True)
    writer.stop()
    return list(found)


def test_requests_that_wait_share_one_commit_in_the_order_they_came() -> None:
    store = Counting()
    answers = asyncio.run(submitted(writer_of(store), *(request(n) for n in range(20))))
    assert store.writes == 1
    positions = [a.receipts[0].position for a in answers if isinstance(a, writing.Written)]
    assert positions == list(range(1, 21))


def test_one_commit_holds_a_bounded_number_of_facts() -> None:
    store = Counting()
    asyncio.run(submitted(writer_of(store), *(request(n, count=25) for n in range(4))))
    assert store.writes == 2


def test_a_refused_request_leaves_no_trace_in_a_shared_commit() -> None:
    store = Counting()
    clash = Request(
        events=(LotOpened(id=made_id(1000, NOON), occurred_at=NOON, lot="can-2"),), by="bench"
    )
    answers = asyncio.run(submitted(writer_of(store), request(1), clash, request(2)))
    assert isinstance(answers[1], Refused)
    assert answers[1].rule == "id_reused"
    with store.reading() as reader:
        assert reader.head().size == 2


def test_what_breaks_for_one_does_not_break_for_those_beside_it() -> None:
    poison = made_id(3000, NOON)
    store = Counting(lambda _, changes: any(row.event_id == poison for row in changes.rows))
    answers = asyncio.run(submitted(writer_of(store), *(request(n) for n in (1, 2, 3, 4))))
    assert [type(answer).__name__ for answer in answers] == [
        "Written", "Written", "OSError", "Written",
    ]  # fmt: skip
    with store.reading() as reader:
        assert reader.head().size == 3


def test_who_watches_and_fails_costs_nobody_an_answer(caplog: pytest.LogCaptureFixture) -> None:
    failing = Mock(spec=Watcher)
    failing.committed.side_effect = OSError("no place for it")
    store = Counting()
    writer = writer_of(store)
    writer.watchers = (failing,)
    (answer,) = asyncio.run(submitted(writer, request(1)))
    assert isinstance(answer, writing.Written)
    assert store.writes == 1
    assert "a watcher of commits failed" in caplog.text


def test_more_than_can_wait_is_told_to_come_back() -> None:
    async def flood() -> None:
        writer = writer_of(MemoryStore("trial"))
        writer._loop = asyncio.get_running_loop()
        taken = [writer.submit(request(n, count=30)) for n in range(3)]
        with pytest.raises(ProblemError) as refused:
            writer.submit(request(9, count=30))
        assert refused.value.problem.status == 503
        assert refused.value.headers["Retry-After"] == "1"
        writer.start()
        await asyncio.gather(*taken)
        await writer.submit(request(9, count=30))
        writer.stop()
        with pytest.raises(ProblemError, match="going down"):
            writer.submit(request(10))

    asyncio.run(flood())


@pytest.fixture(params=["memory", "sqlite"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """Each kind of store that needs no server."""
    if request.param == "memory":
        yield MemoryStore("trial")
        return
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    opened = open_store(address, "trial")
    yield opened
    opened.close()


async def client(
    calls: httpx.AsyncClient, number: int, chance: random.Random
) -> list[dict[str, Any]]:
    """Post a few facts in order, each until it is acknowledged, often twice."""
    told = []
    for act in range(ACTS):
        fact = {
            "type": "lot_stirred", "id": str(made_id(number * 100 + act, NOON)),
            "occurred_at": NOON.isoformat(), "lot": f"can-{number}",
        }  # fmt: skip
        body = msgspec.json.encode(fact)
        times = chance.choice((1, 1, 2, 3))
        sent = [calls.post("/v1/events", content=body) for _ in range(times)]
        answers = await asyncio.gather(*sent)
        assert sorted(a.status_code for a in answers) == [200] * (len(sent) - 1) + [201]
        found = [answer.json()["events"][0] for answer in answers]
        assert len({(f["position"], f["recorded_at"]) for f in found}) == 1
        told.append(found[0])
    return told


def test_many_clients_that_repeat_themselves_record_each_fact_once(store: Store) -> None:
    async def all_of_them(service: Listening) -> list[list[dict[str, Any]]]:
        chance = random.Random(7)
        headers = {**service.headers, "Content-Type": "application/json"}
        async with httpx.AsyncClient(base_url=service.url, headers=headers) as calls:
            return await asyncio.gather(*(client(calls, n, chance) for n in range(CLIENTS)))

    with listening(store, clock=lambda: NOON) as service:
        told = asyncio.run(all_of_them(service))
    positions = [fact["position"] for one in told for fact in one]
    assert sorted(positions) == list(range(1, CLIENTS * ACTS + 1))
    for one in told:
        assert [fact["position"] for fact in one] == sorted(fact["position"] for fact in one)
    with store.reading() as reader:
        assert reader.head().size == CLIENTS * ACTS


def test_over_http_a_full_queue_says_when_to_come_back_and_then_takes_the_fact() -> None:
    store = MemoryStore("trial")
    facts = [
        {"type": "lot_opened", "id": str(made_id(n, NOON)), "occurred_at": NOON.isoformat(),
         "lot": "can-1"}
        for n in range(1_001)
    ]  # fmt: skip
    held = msgspec.json.encode({"type": "batch", "events": facts[:600]})
    more = msgspec.json.encode({"type": "batch", "events": facts[600:]})

    async def crowd(service: Listening) -> tuple[httpx.Response, httpx.Response]:
        headers = {**service.headers, "Content-Type": "application/json"}
        async with httpx.AsyncClient(base_url=service.url, headers=headers, timeout=30) as calls:
            with store.writing():  # the first batch waits for this to end, and nothing is written
                first = asyncio.create_task(calls.post("/v1/events", content=held))
                while not service.server._service.writer.waiting:
                    await asyncio.sleep(0.01)
                refused = await calls.post("/v1/events", content=more)
            assert (await first).status_code == 201
            return refused, await calls.post("/v1/events", content=more)

    with listening(store, Settings(waiting_max=1000), clock=lambda: NOON) as service:
        refused, again = asyncio.run(crowd(service))
    assert (refused.status_code, refused.headers["retry-after"]) == (503, "1")
    assert refused.json()["type"] == "/problems/overloaded"
    assert again.status_code == 201
    with store.reading() as reader:
        assert reader.head().size == 1_001
