"""What the service says of itself: each request has its number, and no line holds a secret."""

from __future__ import annotations

import io
import json
import logging
import re
from collections.abc import Iterator
from typing import Any

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api.logs import handler_of
from coatledger_api.settings import Settings
from served import Served, refusal, serving


@pytest.fixture
def written() -> Iterator[io.StringIO]:
    """What is logged, as JSON lines."""
    out = io.StringIO()
    handler = handler_of(Settings(log="json"), out)
    loggers = [logging.getLogger(name) for name in ("coatledger", "coatledger_api")]
    for logger in loggers:
        logger.addHandler(handler)
        logger.setLevel(logging.INFO)
    yield out
    for logger in loggers:
        logger.removeHandler(handler)
        logger.setLevel(logging.NOTSET)


@pytest.fixture
def logging_requests() -> Iterator[Served]:
    """A service that logs each request."""
    with serving(MemoryStore("trial"), Settings(log_requests=True)) as served:
        yield served


def lines(out: io.StringIO) -> list[dict[str, Any]]:
    return [json.loads(line) for line in out.getvalue().splitlines()]


def test_every_answer_has_a_number_of_its_own_that_its_log_line_has_too(
    logging_requests: Served, written: io.StringIO
) -> None:
    served = logging_requests
    answers = [
        served.get("/v1/events"), served.get("/nowhere"), served.ask("PUT", "/v1/events"),
        served.get("/v1/events", token=None), served.get("/health/live", token=None),
    ]  # fmt: skip
    numbers = [answer.headers["x-request-id"] for answer in answers]
    assert len(set(numbers)) == len(answers)
    assert all(re.fullmatch("[0-9a-f]{16}", number) for number in numbers)
    told = lines(written)
    assert [line["request"] for line in told] == numbers
    assert [line["status"] for line in told] == [200, 404, 405, 401, 200]
    assert [line["operation"] for line in told][:2] == ["read_feed", "none"]
    assert told[0]["key"] == served.token[4:12]
    assert told[0]["took_ms"] >= 0
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", told[0]["time"])


def test_no_line_tells_a_token_an_address_a_name_or_what_was_asked_for(
    logging_requests: Served, written: io.StringIO
) -> None:
    served = logging_requests
    served.get("/v1/pieces/somebodys-table?as_of=yesterday", headers={"X-Request-Id": "mine\tto"})
    served.get(f"/v1/events?access_token={served.token}", headers={"Cookie": "name=ada"})
    served.post(served.fact("customer_told", order="order-of-ada", by="ada"))
    served.get("/v1/events", token="clk_" + "s" * 46)
    text = written.getvalue()
    assert len(lines(written)) == 4
    for secret in (
        served.token[12:],
        "somebodys",
        "ada",
        "yesterday",
        "ssss",
        "testclient",
        "mine",
    ):
        assert secret not in text


def test_a_failure_is_logged_with_the_number_the_client_was_told(
    served: Served, written: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> object:
        raise OSError(f"broken under {served.token}")

    monkeypatch.setattr(served.store, "reading", broken)
    answer = served.get("/v1/events")
    refusal(answer, 500, "internal")
    # What looks at the ledger by itself says, too, that it cannot.
    (line,) = (one for one in lines(written) if "request" in one)
    assert line["request"] == answer.headers["x-request-id"]
    assert line["level"] == "error"
    assert "OSError" in line["exception"]
    assert served.token[12:] not in written.getvalue()


def test_nothing_is_logged_of_a_request_unless_it_is_asked_for(
    served: Served, written: io.StringIO
) -> None:
    served.get("/v1/events")
    assert written.getvalue() == ""


def test_lines_for_eyes_hold_the_same(logging_requests: Served) -> None:
    out = io.StringIO()
    handler = handler_of(Settings(), out)
    logger = logging.getLogger("coatledger.requests")
    logger.addHandler(handler)
    logger.setLevel(logging.INFO)
    try:
        answer = logging_requests.get("/v1/events")
    finally:
        logger.removeHandler(handler)
        logger.setLevel(logging.NOTSET)
    number = answer.headers["x-request-id"]
    assert re.search(
        rf"info \[{number}\] GET read_feed 200 in [\d.]+ ms, key \w{{8}}$", out.getvalue().strip()
    )
