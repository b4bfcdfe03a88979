"""An answer that is given again is the right one: of now, of this ledger, for this client."""

import asyncio
from datetime import datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import pytest
from bench import on_day
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.migrate import migrate
from coatledger_adapters.sql_store import open_store
from coatledger_api import kept as keeping
from coatledger_api.kept import Kept, Question
from coatledger_api.settings import Settings
from served import Served, refusal, serving

ONE: Question = ("/v1/pieces/T-1", b"", "application/json")


class Answer(NamedTuple):
    """An answer under test."""

    body: bytes


class Trial:
    """Answers numbered as they are worked out, and a clock that the test moves."""

    def __init__(self, age_s: float = 1.0) -> None:
        self.clock = on_day("1 07:00")
        self.kept: Kept[Answer] = Kept(lambda: self.clock, age_s)
        self.worked = 0

    async def work(self) -> Answer:
        self.worked += 1
        number = self.worked
        await asyncio.sleep(0)
        return Answer(b"%d" % number)

    async def ask(self, question: Question = ONE) -> bytes:
        return (await self.kept.answer(question, self.work)).body

    def later(self, seconds: float) -> None:
        self.clock += timedelta(seconds=seconds)


def test_an_answer_is_given_again_until_its_age_is_over() -> None:
    async def asked() -> None:
        trial = Trial()
        assert [await trial.ask(), await trial.ask()] == [b"1", b"1"]
        trial.later(0.999)
        assert await trial.ask() == b"1"
        trial.later(0.001)
        assert await trial.ask() == b"2"
        trial.later(-5)  # a clock that was set back makes nothing young again
        assert await trial.ask() == b"3"

    asyncio.run(asked())


def test_those_who_ask_meanwhile_wait_for_the_one_answer() -> None:
    async def asked() -> None:
        trial = Trial()
        assert await asyncio.gather(*(trial.ask() for _ in range(5))) == [b"1"] * 5
        assert trial.worked == 1

    asyncio.run(asked())


def test_what_was_begun_before_something_was_recorded_is_not_given_to_who_asks_after_it() -> None:
    async def asked() -> None:
        trial = Trial()
        before = asyncio.ensure_future(trial.ask())
        await asyncio.sleep(0)
        trial.kept.forget()
        assert await trial.ask() == b"2"
        assert await before == b"1"
        assert await trial.ask() == b"2"

    asyncio.run(asked())


def test_what_cannot_be_answered_is_not_kept() -> None:
    async def asked() -> None:
        trial = Trial()

        async def broken() -> Answer:
            await asyncio.sleep(0)
            raise ValueError

        both = await asyncio.gather(
            *(trial.kept.answer(ONE, broken) for _ in range(2)), return_exceptions=True
        )
        assert [type(one) for one in both] == [ValueError, ValueError]
        assert await trial.ask() == b"1"

    asyncio.run(asked())


def test_what_is_kept_is_bounded_in_number_and_in_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    async def asked() -> None:
        trial = Trial()
        for number in range(2_000):
            await trial.ask((f"/{number}", b"", ""))
        assert trial.kept.size_bytes <= 4 * keeping.KEPT_MAX
        monkeypatch.setattr(keeping, "BYTES_MAX", 10)
        for number in range(5_000, 5_100):
            await trial.ask((f"/{number}", b"", ""))
            assert trial.kept.size_bytes <= 10
        trial.kept.forget()
        assert trial.kept.size_bytes == 0

    asyncio.run(asked())


def begin(served: Served, piece: str) -> None:
    served.record(
        "piece_started", pieces=[piece], kind="bedside table", species="ash", coat_area_m2=0.5,
        use="decor",
    )  # fmt: skip


def test_a_recorded_fact_is_seen_at_once_by_whoever_asks_after_it(served_on_each: Served) -> None:
    served = served_on_each
    begin(served, "T-1")
    first = served.get("/v1/pieces/T-1")
    assert served.get("/v1/pieces/T-1").content == first.content
    served.record("sanded", pieces=["T-1"], stage="bare", grit=150)
    second = served.get("/v1/pieces/T-1")
    assert (first.json()["stage"], second.json()["stage"]) == ("bare", "prepared")
    assert second.json()["position"] == first.json()["position"] + 1


def test_the_same_answer_has_the_same_tag_and_is_not_sent_twice(served_on_each: Served) -> None:
    served = served_on_each
    begin(served, "T-1")
    tag = served.get("/v1/clocks").headers["etag"]
    again = served.get("/v1/clocks", headers={"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    later = served.later(seconds=2).get("/v1/clocks", headers={"If-None-Match": tag})
    assert later.status_code == 200


def test_what_is_kept_is_given_to_good_keys_only(served_on_each: Served) -> None:
    served = served_on_each
    begin(served, "T-1")
    assert served.get("/v1/pieces/T-1").status_code == 200
    refusal(served.get("/v1/pieces/T-1", token=None), 401, "unauthorized")
    refusal(served.get("/v1/pieces/T-1", token=served.key("record")), 403, "forbidden")


def test_another_process_that_records_is_noticed_where_there_may_be_one() -> None:
    store = MemoryStore("trial")
    with serving(store) as one, serving(store) as other:
        begin(one, "T-1")
        assert len(one.get("/v1/pieces").json()["pieces"]) == 1
        other.count = 50
        begin(other, "T-2")
        assert len(one.get("/v1/pieces").json()["pieces"]) == 2


def test_with_an_age_of_nothing_each_answer_is_worked_out(tmp_path: Path) -> None:
    address = f"sqlite:///{tmp_path / 'ledger.db'}"
    migrate(address)
    store = open_store(address, "trial")
    moments: list[datetime] = []
    with serving(store, Settings(answers_kept_s=0)) as served:
        begin(served, "T-1")
        for _ in range(2):
            moments.append(served.get("/v1/pieces/T-1").json()["as_of"])
            served.later(seconds=0.5)
    store.close()
    assert moments[0] != moments[1]
