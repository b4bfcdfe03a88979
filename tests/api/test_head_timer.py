"""The head is signed in a rhythm, whatever goes wrong in between."""

from __future__ import annotations

import asyncio
import logging
import time
from typing import Any, cast

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_adapters.checkpoints import BrokenHistoryError, CheckpointBook
from coatledger_api.head_timer import sign_in_rhythm
from coatledger_api.settings import Settings
from served import serving


def test_the_service_signs_what_was_told_without_being_asked() -> None:
    store = MemoryStore("dune-end", "first")
    with serving(store, Settings(sign_every_s=0.01)) as served:
        served.pieces("T-1")
        heads: CheckpointBook = cast(Any, served.client).app.state.service.heads
        for _ in range(500):
            signed = heads.latest()
            if signed is not None and signed.size:
                break
            time.sleep(0.01)
        assert signed is not None
        assert signed.size == 1


def test_a_failure_is_said_and_the_next_try_comes(caplog: pytest.LogCaptureFixture) -> None:
    tries: list[Exception | None] = [BrokenHistoryError("bent"), OSError("no disk"), None]
    done = asyncio.Event()

    def sign() -> None:
        this = tries.pop(0)
        if this is None:
            loop.call_soon_threadsafe(done.set)
        else:
            raise this

    async def whole() -> None:
        await sign_in_rhythm(0.001, sign, done)

    with caplog.at_level(logging.INFO, "coatledger_api"), asyncio.Runner() as runner:
        loop = runner.get_loop()
        runner.run(whole())
    said = [(record.levelname, record.getMessage()) for record in caplog.records]
    assert said[0] == ("CRITICAL", "the head was not signed: bent")
    assert said[1][0] == "ERROR"
    assert not tries
