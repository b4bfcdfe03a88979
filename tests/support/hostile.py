"""Three hundred requests nobody sends by mistake, as bytes, so that no client mends them first."""

from __future__ import annotations

import json
import re
import socket
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from coatledger_api.app import OPERATIONS

PIECE = {
    "type": "piece_started", "id": "019cad58-bd80-7000-8000-000000000001",
    "occurred_at": "2026-03-02T07:00:00Z", "pieces": ["T-1"], "kind": "bedside table",
    "species": "ash", "coat_area_m2": 0.5, "use": "decor",
}  # fmt: skip
WORDS = (
    "%00", "%ff", "%c0%ae%c0%ae", "%2e%2e%2f%2e%2e%2fetc%2fpasswd", "..%5c..%5cwindows",
    "%0d%0aX:y", "'%20OR%201=1--", "%27%3bDROP%20TABLE%20events--", "%3Cscript%3E", "$%7B7*7%7D",
    "%25%30%30", "%F0%9F%92%A9", "-1", "9" * 400, "T-1%00", "%", "%zz", "a" * 6000, "null", "1e999",
)  # fmt: skip
QUERIES = (
    "%00=1", "as_of=%ff", "as_of=9999-12-31T23:59:59Z", "as_of=0001-01-01T00:00:00Z", "as_of=now",
    "as_of=2026-02-30T00:00:00Z", "as_of=2026-03-02T07:00:00%2B99:99", "as_of=a&as_of=b",
    "limit=1e9", "limit=-1", "limit=999999999999999999999999", "limit=0x10", "limit=%D9%A1",
    "cursor=0.-1", "cursor=" + "9" * 500, "__proto__[x]=1", "&" * 3000, "a=1&" * 60, "=&=&=",
    "x=" + "%41" * 5000, "limit=NaN", "limit=true", "access_token=clk_x",
    "type=%22%7D", "subject=piece:%00",
)  # fmt: skip
FACT = json.dumps(PIECE).encode()


def changed(**fields: object) -> bytes:
    """A good piece with fields that spoil it."""
    return json.dumps({**PIECE, **fields}).encode()


BODIES = (
    b"", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf" + FACT, b"{", b"[", b'"', b"nul", b"null", b"[]",
    b"{}", b"1", b"NaN", b"[" * 100_000, b"[" * 100_000 + b"]" * 100_000, b'{"a":' * 20_000,
    b'{"type":' * 500 + b"1" + b"}" * 500, b"1" * 100_000, b"-" * 1000, b"1e" + b"9" * 1000,
    b'{"type":"batch","events":[' + b",".join([b"{}"] * 20_000) + b"]}",
    b'{"type":"batch","events":' + b"[" * 5000 + b"]" * 5000 + b"}",
    b'{"type":"batch","events":[]}', b'{"type":"batch"}', b'{"type":"nothing_such"}',
    b'{"type":["piece_started"]}', b'{"type":null}', b'{"type":"piece_started","type":"sanded"}',
    b'{"type":"\\ud800"}', b'{"type":"piece_started\\u0000"}', FACT + b"x", FACT + FACT,
    FACT[:-1] + b',"id":""}', FACT[:-1], FACT[:-1] + b",}",
    FACT.decode().encode("utf-16"), b'"' + b"a" * 900_000 + b'"', b" " * 1_000_000,
    b"a" * 1_100_000, b"{" + b",".join(b'"k%d":1' % i for i in range(50_000)) + b"}",
    changed(id="x"), changed(id=[0] * 16), changed(id=1),
    changed(occurred_at="9999-12-31T23:59:59Z"), changed(occurred_at="0001-01-01T00:00:00Z"),
    changed(occurred_at="2026-03-02T07:00:00"), changed(occurred_at=1e308), changed(occurred_at=[]),
    changed(pieces=[]), changed(pieces=["T-1"] * 5000), changed(pieces=["\x00"]),
    changed(pieces="T-1"), changed(pieces=[["T-1"]]), changed(pieces=["../x"]),
    changed(pieces=["T-1", "T-1"]), changed(coat_area_m2=-1), changed(coat_area_m2=1e308),
    changed(coat_area_m2=float("nan")), changed(coat_area_m2=float("inf")),
    changed(coat_area_m2="0.5"), changed(coat_area_m2=10**400), changed(coat_area_m2=True),
    changed(kind="x" * 100_000),
    changed(kind={"$gt": ""}), changed(species=None), changed(use="admin"),
    changed(recorded_at="2026-01-01T00:00:00Z"),
    changed(position=1), changed(shop="another"), changed(by="somebody"),
    changed(__class__="x"),
)  # fmt: skip
JSON = "application/json"
WAIT_S = 0.25
HEADERS: tuple[Mapping[str, str], ...] = (
    {"Content-Type": "text/plain"}, {"Content-Type": ""}, {"Content-Type": "application/xml"},
    {"Content-Type": "application/json; charset=utf-16"}, {"Content-Type": "application/jsonx"},
    {"Content-Type": "multipart/form-data; boundary=x"}, {"Content-Type": "a" * 5000},
    {"Content-Type": "application/x-www-form-urlencoded"}, {"Content-Encoding": "gzip"},
    {"Content-Encoding": "br"}, {"Content-Encoding": "gzip, gzip, gzip"}, {"Accept": "image/png"},
    {"Accept": "a" * 5000}, {"Accept": ",;q=,;;,"}, {"Accept": "application/json;q=nan"},
    {"Accept": "application/json;q=0"}, {"Content-Length": "-1"}, {"Content-Length": "abc"},
    {"Content-Length": "99999999999999999999"}, {"Content-Length": "1, 2"},
    {"Transfer-Encoding": "chunked, identity"}, {"Transfer-Encoding": "xchunked"},
    {"Authorization": ""}, {"Authorization": "Bearer"}, {"Authorization": "Bearer " + "x" * 7000},
    {"Authorization": "Basic OjoK"}, {"Authorization": "Bearer clk_" + "\xe9" * 46},
    {"Authorization": "Bearer null"}, {"Authorization": "Bearer ../../secret"},
    {"Host": ""}, {"X-HTTP-Method-Override": "DELETE", "Content-Type": "x"},
    {"Expect": "200-ok", "Content-Type": "x"}, {"Upgrade": "websocket", "Connection": "Upgrade"},
    {"X-Forwarded-For": "a" * 4000, "Content-Type": "x"}, {"Content-Type": JSON + ";" * 3000 + "x"},
)  # fmt: skip
READ_HEADERS: tuple[Mapping[str, str], ...] = (
    {"If-None-Match": "W/" * 2000}, {"If-None-Match": ",,,\""}, {"Range": "bytes=0-1,2-3,-9"},
    {"Last-Event-ID": "\xff"}, {"Accept": "text/event-stream;q=\xff"}, {"Cookie": "a=b; " * 1000},
    {"Accept-Encoding": "gzip;q=nan"}, {"Prefer": "handling=" + "x" * 4000}, {"Via": "\x80" * 10},
    {"Origin": "null"}, {"Forwarded": "for=\"_x\"" * 300}, {"X-Request-Id": "a\tb"},
)  # fmt: skip
METHODS = ("PUT", "PATCH", "TRACE", "CONNECT", "PROPFIND", "LOCK", "GETT", "get", "M" * 300)
RAW = (
    b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00\x01", b"GET / HTTP/9.9\r\n\r\n", b"\r\n\r\n\r\n",
    b"\x00" * 99, b"GET /v1/events HTTP/1.1\r\nA" + b"a" * 70_000 + b": b\r\n\r\n",
    b"GET /" + b"a" * 70_000 + b" HTTP/1.1\r\n\r\n", b"GET http://other/v1/events HTTP/1.1\r\n\r\n",
    b"POST /v1/events HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\nabcdef",
    b"POST /v1/events HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nZZ\r\n\r\n",
    b"POST /v1/keys HTTP/1.1\r\nTransfer-Encoding: chunked\r\nContent-Length: 3\r\n\r\n0\r\n\r\n",
    b"GET /v1/events HTTP/1.1\r\nHost : x\r\n\r\n", b"GET /v1/events HTTP/1.1\r\n Host: x\r\n\r\n",
    b"GET /v1/events HTTP/1.1\nHost: x\n\n", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    b"OPTIONS * HTTP/1.1\r\n\r\n",
)  # fmt: skip


class Hostile(NamedTuple):
    """One request: what it is about, and its bytes."""

    name: str
    sent: bytes


def request(
    token: str,
    method: str,
    target: str,
    body: bytes = b"",
    headers: Mapping[str, str] | None = None,
) -> bytes:
    """Write a request as given, right or not, that carries a key of every scope unless told not."""
    said = {
        "Host": "shop", "Authorization": f"Bearer {token}", "Connection": "close",
        "Content-Length": str(len(body)), **(headers or {}),
    }  # fmt: skip
    lines = [f"{method} {target} HTTP/1.1", *(f"{name}: {value}" for name, value in said.items())]
    return "\r\n".join(lines).encode("latin-1") + b"\r\n\r\n" + body


def corpus(token: str) -> Iterator[Hostile]:
    """Every hostile request."""
    templates = [o.path for o in OPERATIONS if "{" in o.path and o.method == "GET"][:5]
    for template in (*templates, "/v1/keys/{key}"):
        method = "DELETE" if template.startswith("/v1/keys") else "GET"
        for word in WORDS:
            target = re.sub(r"\{\w+\}", word, template)
            yield Hostile(f"{method} {target}", request(token, method, target))
    for path in ("/v1/events", "/v1/pieces", "/v1/throughput"):
        for query in QUERIES:
            yield Hostile(f"{path}?{query}", request(token, "GET", f"{path}?{query}"))
    for path in ("/v1/events", "/v1/keys"):
        for body in BODIES:
            sent = request(token, "POST", path, body, {"Content-Type": JSON})
            yield Hostile(f"{path} {body[:40]!r}", sent)
    for headers in HEADERS:
        sent = request(token, "POST", "/v1/events", b"{}", {"Content-Type": JSON, **headers})
        yield Hostile(str(headers), sent)
    for headers in READ_HEADERS:
        yield Hostile(str(headers), request(token, "GET", "/v1/events", headers=headers))
    for method in METHODS:
        for path in ("/v1/events", "/v1/keys", "/nowhere"):
            yield Hostile(f"{method} {path}", request(token, method, path, FACT))
    yield from (Hostile(repr(sent[:60]), sent) for sent in RAW)


def answered(address: tuple[str, int], sent: bytes) -> bytes:
    """Send bytes on a connection of their own and return what comes back, if anything does."""
    with socket.create_connection(address, timeout=WAIT_S) as one:
        parts = []
        try:
            one.sendall(sent)
            while part := one.recv(65536):
                parts.append(part)
        except (ConnectionError, TimeoutError):
            pass  # refused before it was read to its end, or it waits for an end that never comes
        return b"".join(parts)


class Harm(NamedTuple):
    """What came of sending the whole corpus: `failed` tells each answer that should not be."""

    sent: int
    refused: int
    failed: tuple[str, ...]

    @property
    def server_errors(self) -> int:
        """How many answers blamed the service itself."""
        return sum(" answered 5" in one for one in self.failed)


def attack(address: tuple[str, int], token: str) -> Harm:
    """Send every hostile request and look at each answer."""
    failed: list[str] = []
    sent = refused = 0
    for one in corpus(token):
        sent += 1
        answer = answered(address, one.sent)
        status = re.match(rb"HTTP/1\.[01] (\d{3}) ", answer)
        code = status.group(1).decode() if status else "nothing"
        refused += code.startswith("4")
        if code.startswith("5"):
            failed.append(f"{one.name[:120]} answered {code}: {answer[:200]!r}")
        if code == "201":
            failed.append(f"{one.name[:120]} was recorded: {answer[-300:]!r}")
        if b"Traceback" in answer or token.encode() in answer:
            failed.append(f"{one.name[:120]} tells too much")
    return Harm(sent, refused, tuple(failed))
