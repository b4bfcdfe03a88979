"""Slow and greedy clients over real sockets: each is ended in its time, and nobody else notices."""

import asyncio
import socket
import time
from collections.abc import Iterator
from urllib.parse import urlsplit

import httpx
import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api.connections import Connection
from coatledger_api.settings import Settings
from hostile import FACT, JSON, request
from listening import Listening, listening

BRISK = Settings(
    head_wait_s=0.4, body_wait_s=0.4, write_wait_s=0.4, connections_max=60, streams_max=5,
    stream_poll_s=0.1, key_burst=10**6, address_burst=10**6,
)  # fmt: skip
WITHIN_S = 20.0


@pytest.fixture
def service() -> Iterator[Listening]:
    """A service with little patience."""
    with listening(MemoryStore("trial"), BRISK) as one:
        yield one


def place(service: Listening) -> tuple[str, int]:
    parts = urlsplit(service.url)
    assert parts.hostname
    assert parts.port
    return parts.hostname, parts.port


def ended(one: socket.socket) -> bytes:
    """What is answered until the service closes the connection, which it must."""
    one.settimeout(WITHIN_S)
    parts = []
    try:
        while part := one.recv(65536):
            parts.append(part)
    except ConnectionResetError:
        pass
    return b"".join(parts)


def whole_answer(one: socket.socket) -> bytes:
    """One answer on a connection that stays open."""
    one.settimeout(WITHIN_S)
    told = b""
    while b"\r\n\r\n" not in told:
        told += one.recv(65536)
    head, _, body = told.partition(b"\r\n\r\n")
    length = int(head.lower().partition(b"content-length: ")[2].partition(b"\r\n")[0])
    while len(body) < length:
        body += one.recv(65536)
    return head + body


def post(service: Listening) -> bytes:
    return request(service.token, "POST", "/v1/events", FACT, {"Content-Type": JSON})


def is_served(service: Listening) -> bool:
    with httpx.Client(headers=service.headers, trust_env=False) as client:
        return client.get(f"{service.url}/v1/events").status_code == 200


def test_a_connection_that_says_nothing_is_closed(service: Listening) -> None:
    with socket.create_connection(place(service)) as one:
        assert ended(one).startswith(b"HTTP/1.1 408 ")
    assert is_served(service)


def test_a_head_that_trickles_is_not_waited_for(service: Listening) -> None:
    """One byte now and then keeps no connection: the time is that of the whole head."""
    with socket.create_connection(place(service)) as one:
        one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        begun = time.monotonic()
        try:
            for byte in post(service):
                one.sendall(bytes([byte]))
                time.sleep(0.1)
                if time.monotonic() - begun > WITHIN_S:
                    pytest.fail("it was waited for")
        except (BrokenPipeError, ConnectionResetError):
            pass
    assert is_served(service)


def test_a_body_that_does_not_come_is_not_waited_for_and_nothing_is_recorded(
    service: Listening,
) -> None:
    whole = post(service)
    with socket.create_connection(place(service)) as one:
        one.sendall(whole[:-10])
        answer = ended(one)
        assert answer.startswith(b"HTTP/1.1 408 ")
        assert b"/problems/too_slow" in answer
    assert is_served(service)


def test_the_second_request_of_a_connection_is_timed_like_the_first(service: Listening) -> None:
    ask = request(service.token, "GET", "/v1/events", headers={"Connection": "keep-alive"})
    with socket.create_connection(place(service)) as one:
        one.sendall(ask)
        assert whole_answer(one).startswith(b"HTTP/1.1 200 ")
        time.sleep(0.6)  # between two requests it is not timed as a head is
        one.sendall(ask)
        assert whole_answer(one).startswith(b"HTTP/1.1 200 ")
        one.sendall(ask[:20])
        assert ended(one).startswith(b"HTTP/1.1 408 ")


def test_a_head_has_a_size(service: Listening) -> None:
    with socket.create_connection(place(service)) as one:
        one.sendall(b"GET /v1/events HTTP/1.1\r\n")
        try:
            for number in range(100):
                one.sendall(b"X-%d: " % number + b"a" * 4000 + b"\r\n")
                time.sleep(0.001)
        except (BrokenPipeError, ConnectionResetError):
            pass
        answer = ended(one)
        assert answer == b"" or answer.startswith(b"HTTP/1.1 431 ")
    assert is_served(service)


def test_whoever_does_not_read_is_cut_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """A follower of the feed that takes nothing: its stream is given back to others."""
    made = Connection.connection_made

    def little_room(self: Connection, transport: asyncio.Transport) -> None:
        inner = transport.get_extra_info("socket")
        inner.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8192)  # else the system holds it all
        made(self, transport)

    monkeypatch.setattr(Connection, "connection_made", little_room)
    patient = Settings(write_wait_s=0.4, streams_max=1, stream_poll_s=0.05, key_burst=10**6)
    with listening(MemoryStore("trial"), patient) as service:
        batches = [
            {"type": "batch", "events": [
                {"type": "lot_stirred", "id": f"019cad58-bd80-7000-8000-{n * 1000 + i:012d}",
                 "occurred_at": "2026-03-02T07:00:00Z", "lot": "can-1", "note": "x" * 1500}
                for i in range(500)]}
            for n in range(1, 5)
        ]  # fmt: skip
        with httpx.Client(headers=service.headers, trust_env=False, timeout=60) as client:
            for batch in batches:
                assert client.post(f"{service.url}/v1/events", json=batch).status_code == 201
            with socket.socket() as one:
                one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
                one.connect(place(service))
                one.sendall(request(service.token, "GET", "/v1/events/stream?cursor=memory.0"))
                until(lambda: streams(client, service) == 1)
                until(lambda: streams(client, service) == 0)


def streams(client: httpx.Client, service: Listening) -> int:
    found: int = client.get(f"{service.url}/health/ready").json()["checks"]["streams"]
    return found


def until(holds: object) -> None:
    """Wait for something that must come to be."""
    assert callable(holds)
    ends = time.monotonic() + WITHIN_S
    while not holds():
        assert time.monotonic() < ends
        time.sleep(0.02)


def test_there_are_only_so_many_connections_and_they_come_back() -> None:
    """All are open at once, and stay so until each was answered or ended."""

    async def crowd(service: Listening) -> int:
        all_open, all_told = asyncio.Barrier(120), asyncio.Barrier(120)

        async def one() -> bool:
            reader, writer = await asyncio.open_connection(*place(service))
            try:
                await all_open.wait()
                writer.write(b"GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n")
                said = await reader.read(12)
            except ConnectionError:
                said = b""
            await all_told.wait()
            writer.close()
            return said.startswith(b"HTTP/1.1 200")

        return sum(await asyncio.gather(*(one() for _ in range(120))))

    with listening(MemoryStore("trial"), Settings(connections_max=60)) as service:
        assert 0 < asyncio.run(crowd(service)) <= 60
        until(lambda: is_served(service))


def test_a_crowd_of_slow_clients_keeps_nobody_out(service: Listening) -> None:
    """Fifty half requests lie open; the bench is answered meanwhile, and then none is left."""
    slow = [socket.create_connection(place(service)) for _ in range(50)]
    try:
        for one in slow:
            one.sendall(b"POST /v1/events HTTP/1.1\r\nHost: x\r\nContent-Le")
        assert is_served(service)
        assert all(ended(one).startswith(b"HTTP/1.1 408 ") for one in slow)
    finally:
        for one in slow:
            one.close()
    assert is_served(service)
