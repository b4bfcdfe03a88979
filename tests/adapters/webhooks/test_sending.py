"""One message through the one door, to receivers of every kind; and to none that is closed."""

from __future__ import annotations

import asyncio
import socket
import ssl
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from coatledger_adapters.webhooks.sending import Outcome, Sender, resolve
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from receiver import Handler, Listening, closing, failing, gone, hanging, receiving

HEADERS = {"webhook-id": "msg_1", "Content-Type": "application/cloudevents+json"}
BODY = b'{"told":true}'


def post(sender: Sender, url: str) -> Outcome:
    return asyncio.run(sender.post(url, HEADERS, BODY))


def sent_to(receiver: Listening, timeout_s: float = 5.0) -> Outcome:
    return post(Sender(frozenset((receiver.host,)), timeout_s), receiver.url)


def leads_to(*addresses: str) -> Callable[[str, int], Any]:
    """A resolver whose every name has these addresses."""

    async def answer(host: str, port: int) -> tuple[str, ...]:
        return addresses

    return answer


def answers(status: int, **headers: str) -> Callable[[Handler], None]:
    return lambda handler: handler.answer(status, b"{}", **headers)


def test_a_message_arrives_as_it_was_given() -> None:
    with receiving() as receiver:
        assert sent_to(receiver) == Outcome(204, "")
        (got,) = receiver.got
    assert (got.path, got.body) == ("/told", BODY)
    assert got.headers["host"] == receiver.host
    assert got.headers["webhook-id"] == "msg_1"
    assert got.headers["content-type"] == "application/cloudevents+json"
    assert "cookie" not in got.headers
    assert "authorization" not in got.headers


@pytest.mark.parametrize("status", [200, 201, 202, 204, 299])
def test_any_2xx_is_delivered(status: int) -> None:
    with receiving(answers(status)) as receiver:
        assert sent_to(receiver).is_delivered


@pytest.mark.parametrize("status", [400, 401, 404, 410, 429, 500, 503])
def test_any_other_status_is_not(status: int) -> None:
    with receiving(answers(status)) as receiver:
        assert sent_to(receiver) == Outcome(status, f"answered {status}")


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_no_redirect_is_followed(status: int) -> None:
    with receiving() as elsewhere, receiving(answers(status, Location=elsewhere.url)) as receiver:
        outcome = sent_to(receiver)
        assert (outcome.status, outcome.is_delivered) == (status, False)
        assert "redirects are not followed" in outcome.says
        assert elsewhere.got == []
        assert len(receiver.got) == 1


def test_who_asks_for_a_pause_is_heard() -> None:
    with receiving(answers(503, Retry_After="120")) as receiver:
        assert sent_to(receiver).retry_after_s == 120.0
    for odd in ("soon", "-5", "1e9", "99999999999", ""):
        with receiving(answers(503, Retry_After=odd)) as receiver:
            assert sent_to(receiver).retry_after_s is None


def slow(handler: Handler) -> None:
    handler.server.released.wait(1.0)
    handler.answer(204)


def dripping(handler: Handler) -> None:
    for letter in b"HTTP/1.1 200 OK\r\nX-Slow: " + b"x" * 10_000:
        if handler.server.released.wait(0.02):
            return
        handler.wfile.write(bytes([letter]))


@pytest.mark.parametrize("behaviour", [hanging, slow, dripping])
def test_one_deadline_holds_over_everything(behaviour: Callable[[Handler], None]) -> None:
    with receiving(behaviour) as receiver:
        began = time.monotonic()
        assert sent_to(receiver, 0.3) == Outcome(None, "no answer within 0.3 s")
        assert time.monotonic() - began < 0.9


def silent(handler: Handler) -> None:
    handler.raw(b"")


def talking_nonsense(handler: Handler) -> None:
    handler.raw(b"220 mail.example ESMTP\r\n")


def never_ending_head(handler: Handler) -> None:
    handler.raw(b"HTTP/1.1 200 OK\r\n" + b"X-More: " + b"x" * 1_000_000)


@pytest.mark.parametrize("behaviour", [closing, silent, talking_nonsense, never_ending_head])
def test_an_answer_that_is_not_whole_is_none(behaviour: Callable[[Handler], None]) -> None:
    with receiving(behaviour) as receiver:
        outcome = sent_to(receiver)
        assert not outcome.is_delivered
        assert outcome.status is None
        assert outcome.says


def test_of_a_long_answer_only_the_beginning_is_read() -> None:
    written = [0]

    def long(handler: Handler) -> None:
        handler.send_response(200)
        handler.send_header("Content-Length", str(10**12))
        handler.end_headers()
        for _ in range(4_000):
            written[0] += handler.wfile.write(b"x" * 65_536)

    with receiving(long) as receiver:
        assert sent_to(receiver).is_delivered
    assert written[0] < 50_000_000


def test_nobody_there_is_an_outcome_too() -> None:
    with socket.create_server(("127.0.0.1", 0)) as once:
        port = once.getsockname()[1]
    outcome = post(Sender(frozenset((f"127.0.0.1:{port}",)), 5), f"http://127.0.0.1:{port}/")
    assert (outcome.status, outcome.is_delivered) == (None, False)
    assert "connection failed" in outcome.says


def test_a_name_that_leads_nowhere_says_so() -> None:
    async def nowhere(host: str, port: int) -> tuple[str, ...]:
        raise OSError("unknown")

    for found in (nowhere, leads_to()):
        outcome = post(Sender(frozenset(), 5, resolve=found), "https://shop.example/")
        assert "shop.example has no address" in outcome.says


@pytest.fixture(scope="module")
def heard() -> Iterator[list[Any]]:
    """Every address that anything in this process opens a connection to, as Python itself tells."""
    addresses: list[Any] = []
    listening = [True]

    def hear(event: str, args: tuple[Any, ...]) -> None:
        if event == "socket.connect" and listening:
            addresses.append(args[1])

    sys.addaudithook(hear)  # such a hook is for ever
    yield addresses
    listening.clear()


@pytest.fixture
def opened(heard: list[Any]) -> list[Any]:
    """The same, from here on."""
    heard.clear()
    return heard


@pytest.mark.parametrize(
    "addresses",
    [
        ("127.0.0.1",), ("10.0.0.1",), ("169.254.169.254",), ("::1",), ("64:ff9b::7f00:1",),
        ("::ffff:127.0.0.1",), ("1.1.1.1", "127.0.0.1"), ("2606:4700::1111", "fd00::1"),
    ],
)  # fmt: skip
def test_a_name_that_leads_inside_is_never_connected_to(
    opened: list[Any], addresses: Sequence[str]
) -> None:
    sender = Sender(frozenset(), 5, resolve=leads_to(*addresses))
    assert "shop.example leads to" in post(sender, "https://shop.example/").says
    assert opened == []


def test_a_name_that_changes_its_mind_is_judged_at_every_delivery(opened: list[Any]) -> None:
    """DNS rebinding: one answer leads outside, the next one inside."""
    with receiving() as inside:
        port = inside.server_address[1]
        answers = iter([("192.0.2.1",), ("127.0.0.1",), ("127.0.0.1",)])
        asked: list[str] = []

        async def changing(host: str, port: int) -> tuple[str, ...]:
            asked.append(host)
            return next(answers)

        url = f"http://shop.example:{port}/"
        sender = Sender(frozenset((f"shop.example:{port}",)), 5, resolve=changing)
        assert "192.0.2.1 is not of" in post(sender, url).says
        assert opened == []
        # This one may lie inside. It is asked for once, and the connection goes to what was judged.
        assert post(sender, url).is_delivered
        assert asked == ["shop.example"] * 2
        assert opened == [("127.0.0.1", port)]
        strict = Sender(frozenset(), 5, resolve=changing)
        assert "leads to" in post(strict, "https://shop.example/").says
        assert len(opened) == 1


def test_no_proxy_stands_in_between(monkeypatch: pytest.MonkeyPatch) -> None:
    with receiving() as proxy, receiving() as receiver:
        for name in ("http_proxy", "https_proxy", "all_proxy", "HTTP_PROXY", "HTTPS_PROXY"):
            monkeypatch.setenv(name, proxy.url)
        assert sent_to(receiver).is_delivered
        assert proxy.got == []


def test_the_second_address_is_tried_when_the_first_does_not_answer() -> None:
    with receiving() as receiver:
        port = receiver.server_address[1]
        sender = Sender(
            frozenset((f"shop.example:{port}",)), 5, resolve=leads_to("127.0.0.2", "127.0.0.1")
        )
        assert post(sender, f"http://shop.example:{port}/").is_delivered


def test_the_systems_own_resolver_finds_this_machine() -> None:
    assert set(asyncio.run(resolve("localhost", 80))) <= {"127.0.0.1", "::1"}
    with pytest.raises((OSError, UnicodeError)):
        asyncio.run(resolve("x" * 70 + ".invalid", 80))


def test_a_resolver_that_hangs_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    let_go = threading.Event()
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: let_go.wait(30) and [])
    began = time.monotonic()
    assert post(Sender(frozenset(), 0.2), "https://shop.example/").says == "no answer within 0.2 s"
    assert time.monotonic() - began < 0.8  # the loop has ended, too
    let_go.set()


def certificate(folder: Path, name: str) -> tuple[ssl.SSLContext, ssl.SSLContext]:
    """A server's context for a name, and a client's that trusts nothing else."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    plain = (serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    (folder / "cert.pem").write_bytes(made.public_bytes(pem))
    (folder / "key.pem").write_bytes(key.private_bytes(pem, *plain))
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(folder / "cert.pem", folder / "key.pem")
    client = ssl.create_default_context(cafile=str(folder / "cert.pem"))
    return server, client


def test_the_judged_address_is_asked_under_the_name_it_was_resolved_from(tmp_path: Path) -> None:
    server, client = certificate(tmp_path, "shop.example")
    asked: list[str | None] = []

    def noting(connection: Any, name: str | None, context: Any) -> None:
        asked.append(name)

    server.sni_callback = noting
    with receiving(tls=server) as receiver:
        port = receiver.server_address[1]
        allowed = frozenset((f"shop.example:{port}", f"other.example:{port}"))
        sender = Sender(allowed, 5, resolve=leads_to("127.0.0.1"), tls=lambda: client)
        assert post(sender, f"https://shop.example:{port}/told") == Outcome(204, "")
        assert receiver.got[0].headers["host"] == f"shop.example:{port}"
        # A certificate for another name is none; nor is one that nobody vouches for.
        refused = post(sender, f"https://other.example:{port}/")
        assert "no trust in its certificate" in refused.says
        stranger = Sender(allowed, 5, resolve=leads_to("127.0.0.1"))
        refused = post(stranger, f"https://shop.example:{port}/")
        assert "no trust in its certificate" in refused.says
        assert len(receiver.got) == 1
    assert asked[0] == "shop.example"


def test_failing_and_gone_are_told_apart() -> None:
    for behaviour, status in ((failing, 503), (gone, 410)):
        with receiving(behaviour) as receiver:
            assert sent_to(receiver).status == status
