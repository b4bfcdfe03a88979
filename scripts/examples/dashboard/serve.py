"""Serves the example dashboard and passes its questions on, so that the key stays on this side.

    COATLEDGER_URL=http://127.0.0.1:8700 COATLEDGER_KEY=clk_… python serve.py --port 8710

It needs Python alone. Only the named addresses are passed on, only to be read; make it a key of
scope `read`. Whoever reaches this server reads these numbers: it listens on this machine alone
unless it is told otherwise.
"""

from __future__ import annotations

import argparse
import os
import sys
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.error import HTTPError, URLError
from urllib.parse import urlsplit
from urllib.request import ProxyHandler, Request, build_opener

HERE = Path(__file__).resolve().parent
FILES = {
    "/": ("index.html", "text/html; charset=utf-8"),
    "/dashboard.css": ("dashboard.css", "text/css; charset=utf-8"),
    "/dashboard.js": ("dashboard.js", "text/javascript; charset=utf-8"),
    "/questions.js": ("questions.js", "text/javascript; charset=utf-8"),
}
PASSED_ON = frozenset(
    (
        *("/v1/promises", "/v1/quality/rework", "/v1/quality/trend", "/v1/quality/why"),
        *("/v1/flow", "/v1/throughput", "/v1/stock"),
    )
)
ASKED_WITH = ("Accept", "If-None-Match")
ANSWERED_WITH = (
    *("Content-Type", "Content-Security-Policy", "ETag", "Cache-Control", "Retry-After"),
    *("Coatledger-Position",),
)
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self' blob: data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
PATIENCE_S = 60.0


class Dashboard(ThreadingHTTPServer):
    """The server, and what it knows of the service behind it."""

    daemon_threads = True

    def __init__(self, address: tuple[str, int], url: str, key: str, names: set[str]) -> None:
        super().__init__(address, Answering)
        self.service_url = url.rstrip("/")
        self.service_key = key
        self.names = names
        # The key goes to the service and nowhere else, whatever proxy this machine names.
        self.opener = build_opener(ProxyHandler({}))


class Answering(BaseHTTPRequestHandler):
    """One request: a file of the page, or a question that is passed on."""

    server: Dashboard
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        # A page elsewhere whose name is made to mean this machine must not read through here.
        if urlsplit(f"//{self.headers.get('Host', '')}").hostname not in self.server.names:
            self.answer(421, b"this server goes by another name; see --name\n")
            return
        path, _, query = self.path.partition("?")
        if path in FILES:
            name, media = FILES[path]
            headers = {"Content-Type": media, "Content-Security-Policy": POLICY}
            self.answer(200, (HERE / name).read_bytes(), headers)
        elif path.removeprefix("/ask") in PASSED_ON and path.startswith("/ask/"):
            self.pass_on(path.removeprefix("/ask") + (f"?{query}" if query else ""))
        else:
            self.answer(404, b"nothing is here\n")

    def pass_on(self, path: str) -> None:
        """Ask the service, and give its answer as it came."""
        given = {name: self.headers[name] for name in ASKED_WITH if self.headers[name]}
        key = {"Authorization": f"Bearer {self.server.service_key}"}
        asked = Request(self.server.service_url + path, headers={**given, **key})
        try:
            with self.server.opener.open(asked, timeout=PATIENCE_S) as told:
                status, headers, body = told.status, told.headers, told.read()
        except HTTPError as refusal:
            status, headers, body = refusal.code, refusal.headers, refusal.read()
        except (URLError, TimeoutError):
            self.answer(502, b'{"detail": "the ledger\'s service does not answer"}')
            return
        self.answer(status, body, {n: headers[n] for n in ANSWERED_WITH if headers[n]})

    def answer(self, status: int, body: bytes, headers: dict[str, str] | None = None) -> None:
        """Send a whole answer."""
        self.send_response(status)
        for name, value in {"X-Content-Type-Options": "nosniff", **(headers or {})}.items():
            self.send_header(name, value)
        if status != 304:
            self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if status != 304:
            self.wfile.write(body)

    def log_message(self, *args: object) -> None:
        """Say nothing of each request."""


def main() -> None:
    """Read the settings, and serve until interrupted."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--address", default="127.0.0.1")
    parser.add_argument("--port", type=int, default=8710)
    parser.add_argument("--name", action="append", default=[], help="a name browsers call it by")
    given = parser.parse_args()
    missing = [n for n in ("COATLEDGER_URL", "COATLEDGER_KEY") if not os.environ.get(n)]
    if missing:
        sys.exit(f"say in the environment: {', '.join(missing)}")
    names = {"127.0.0.1", "localhost", given.address, *given.name}
    url, key = os.environ["COATLEDGER_URL"], os.environ["COATLEDGER_KEY"]
    with Dashboard((given.address, given.port), url, key, names) as server:
        print(f"The dashboard: http://{given.address}:{server.server_port}/", flush=True)
        with suppress(KeyboardInterrupt):
            server.serve_forever()


if __name__ == "__main__":
    main()
