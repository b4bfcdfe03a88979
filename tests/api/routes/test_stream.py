"""The stream: every event once, in order, over cuts, filters, silence and the service's end."""

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import httpx
import msgspec
import pytest
from bench import made_id
from coatledger.ledger.memory import MemoryStore
from coatledger_api.settings import Settings
from listening import Listening, listening, now
from served import Served, refusal

QUICK = Settings(stream_ping_s=0.2, stream_poll_s=0.1, streams_max=3)


class Message(NamedTuple):
    """One server-sent event."""

    cursor: str
    event: str
    data: dict[str, Any]


@pytest.fixture
def service() -> Iterator[Listening]:
    """A service that listens."""
    with listening(MemoryStore("trial"), QUICK) as one:
        yield one


def post(service: Listening, first: int, count: int) -> None:
    """Record a number of facts in one batch."""
    events = [
        {
            "type": "lot_opened" if number % 2 else "lot_stirred",
            "id": str(made_id(number, now())),
            "occurred_at": "2026-01-05T08:00:00Z",
            "lot": f"can-{number % 3}",
        }
        for number in range(first, first + count)
    ]
    body = msgspec.json.encode({"type": "batch", "events": events})
    headers = {**service.headers, "Content-Type": "application/json"}
    answer = httpx.post(f"{service.url}/v1/events", content=body, headers=headers)
    assert answer.status_code == 201, answer.text


def messages(response: httpx.Response) -> Iterator[Message]:
    """Read messages as a browser does."""
    fields: dict[str, str] = {}
    for line in response.iter_lines():
        if line == "":
            if "data" in fields:
                yield Message(fields["id"], fields["event"], msgspec.json.decode(fields["data"]))
            fields = {}
        elif not line.startswith(":"):
            name, _, value = line.partition(": ")
            fields[name] = value


def read(service: Listening, count: int, query: str = "", **headers: str) -> list[Message]:
    """Open a stream, take a number of messages, and cut it."""
    given = {**service.headers, **headers}
    with httpx.stream("GET", f"{service.url}/v1/events/stream{query}", headers=given) as response:
        assert response.status_code == 200
        assert response.headers["content-type"] == "text/event-stream"
        return [message for _, message in zip(range(count), messages(response), strict=False)]


def test_a_stream_that_is_cut_goes_on_where_it_was(service: Listening) -> None:
    post(service, 1, 10)
    first = read(service, 4, "?cursor=memory.0")
    second = read(service, 6, **{"Last-Event-ID": first[-1].cursor})
    assert [message.data["position"] for message in first + second] == list(range(1, 11))
    assert [message.cursor for message in first] == [f"memory.{n}" for n in range(1, 5)]
    assert first[0].event == first[0].data["event"]["type"]


def test_a_browsers_place_goes_before_the_cursor_of_the_address(service: Listening) -> None:
    post(service, 1, 5)
    (message,) = read(service, 1, "?cursor=memory.0", **{"Last-Event-ID": "memory.3"})
    assert message.data["position"] == 4


def test_without_a_place_only_what_is_new_is_told_and_told_at_once() -> None:
    """The table is looked at once a minute here, so only the writer's bell can be in time."""
    patient = Settings(stream_ping_s=60.0, stream_poll_s=60.0)
    with listening(MemoryStore("trial"), patient) as service:
        post(service, 1, 3)
        address = f"{service.url}/v1/events/stream"
        with httpx.stream("GET", address, headers=service.headers, timeout=20) as response:
            lines = response.iter_lines()
            assert next(lines).startswith("retry: ")
            post(service, 4, 1)
            found = next(line for line in lines if line.startswith("id: "))
            assert found == "id: memory.4"


def test_a_stream_can_be_of_one_subject_or_of_some_types(service: Listening) -> None:
    post(service, 1, 12)
    of_can = read(service, 4, "?cursor=memory.0&subject=lot:can-1")
    assert [message.data["event"]["lot"] for message in of_can] == ["can-1"] * 4
    opened = read(service, 6, "?cursor=memory.0&type=lot_opened")
    assert [message.data["position"] for message in opened] == [1, 3, 5, 7, 9, 11]


def test_a_silent_stream_says_that_it_is_alive(service: Listening) -> None:
    address = f"{service.url}/v1/events/stream"
    with httpx.stream("GET", address, headers=service.headers) as response:
        assert any(line.startswith(":") for line in response.iter_lines())


def test_the_end_of_the_service_ends_its_streams_quickly() -> None:
    with listening(MemoryStore("trial"), QUICK) as service:
        address = f"{service.url}/v1/events/stream"
        with httpx.stream("GET", address, headers=service.headers) as response:
            lines = response.iter_lines()
            next(lines)
            assert service.stop() < 2
            assert not [line for line in lines if line.startswith("id")]


def test_streams_that_are_cut_are_given_back(service: Listening) -> None:
    post(service, 1, 1)
    for _ in range(8):
        assert len(read(service, 1, "?cursor=memory.0")) == 1
        time.sleep(0.05)


def test_too_many_streams_are_refused() -> None:
    address = "/v1/events/stream"
    with listening(MemoryStore("trial"), QUICK) as service, httpx.Client() as client:
        opened, read_on = [], []
        for _ in range(3):
            request = client.build_request("GET", service.url + address, headers=service.headers)
            opened.append(client.send(request, stream=True))
            read_on.append(opened[-1].iter_lines())
            next(read_on[-1])
        refused = client.get(service.url + address, headers=service.headers)
        refusal(refused, 429, "too_many_requests")
        assert refused.headers["retry-after"] == "1"
        for response in opened:
            response.close()


def test_many_who_ask_at_once_are_not_let_in_together() -> None:
    with listening(MemoryStore("trial"), QUICK) as service, httpx.Client() as client:

        def ask(_: int) -> int:
            request = client.build_request(
                "GET", f"{service.url}/v1/events/stream", headers=service.headers
            )
            answer = client.send(request, stream=True)
            opened.append(answer)
            return answer.status_code

        opened: list[httpx.Response] = []
        with ThreadPoolExecutor(20) as threads:
            said = sorted(threads.map(ask, range(20)))
        for answer in opened:
            answer.close()
    assert said == [200] * 3 + [429] * 17


@pytest.mark.parametrize(
    ("query", "headers", "status", "kind"),
    [
        ("?cursor=another.0", {}, 409, "feed_rewound"),
        ("?cursor=memory.1", {}, 409, "feed_rewound"),
        ("", {"Last-Event-ID": "memory.1"}, 409, "feed_rewound"),
        ("", {"Last-Event-ID": "7"}, 422, "invalid"),
        ("?type=teleported", {}, 422, "invalid"),
        ("", {"Accept": "application/json"}, 406, "not_acceptable"),
    ],
)
def test_a_stream_that_cannot_begin_is_refused(
    served: Served, query: str, headers: dict[str, str], status: int, kind: str
) -> None:
    refusal(served.get(f"/v1/events/stream{query}", headers=headers), status, kind)
