"""A web shop's own small server: it keeps the secret key, holds days, promises them, and is told.

    COATLEDGER_URL=http://127.0.0.1:8700 COATLEDGER_KEY=clk_… COATLEDGER_WORD=clw_… \
        COATLEDGER_WEBHOOK_SECRET=whsec_… python shop_server.py --port 8720

It needs Python alone. The key has the scopes `promise` and `read`; orders are kept in memory here,
and nobody is asked for money: both are yours to put in.
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import hmac
import json
import os
import secrets
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import quote
from urllib.request import ProxyHandler, Request, build_opener

HERE = Path(__file__).resolve().parent
FILES = {"/": ("index.html", "text/html"), "/shop.js": ("shop.js", "text/javascript")}
BODY_MAX = 64 * 1024
SIGNED_WITHIN_S = 300
MINUTES_HELD = 15


class Shop(ThreadingHTTPServer):
    """The server, and what it knows: the ledger, the keys, and what it was told of its orders."""

    daemon_threads = True

    def __init__(self, port: int) -> None:
        super().__init__(("127.0.0.1", port), Answering)
        self.ledger = os.environ.get("COATLEDGER_URL", "http://127.0.0.1:8700").rstrip("/")
        self.key = os.environ["COATLEDGER_KEY"]
        self.word = os.environ["COATLEDGER_WORD"]
        self.signing = os.environ.get("COATLEDGER_WEBHOOK_SECRET", "")
        self.told: dict[str, list[str]] = {}
        self.seen: set[str] = set()
        # The key goes to the ledger and nowhere else, whatever proxy this machine names.
        self.opener = build_opener(ProxyHandler({}))

    def ask(self, method: str, path: str, body: Any = None) -> tuple[int, dict[str, Any]]:
        """Ask the ledger with the secret key."""
        data = None if body is None else json.dumps(body).encode()
        headers = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json"}
        request = Request(self.ledger + path, data=data, headers=headers, method=method)
        try:
            with self.opener.open(request, timeout=30) as answer:
                return answer.status, json.load(answer)
        except HTTPError as refused:
            return refused.code, json.load(refused)

    def checkout(self, asked: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        """Hold the day of what a customer is about to buy, under a word nobody can guess."""
        lines = [as_line(text) for text in asked["lines"]]
        hold = f"cart-{secrets.token_hex(8)}"
        body = {"hold": hold, "minutes": MINUTES_HELD, "lines": lines}
        status, told = self.ask("POST", "/v1/holds", {**body, "together": bool(asked["together"])})
        if status not in (200, 201):
            return 409, {"says": f"We cannot hold a day for this: {told['detail']}."}
        return 200, {"hold": hold, "ships_by": told["quote"]["ships_by"], "until": told["until"]}

    def pay(self, asked: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        """Promise what was held, by an order reference of the shop's own. Made of the hold, it is
        the same however often the call is sent: the same order is promised once."""
        hold = str(asked["hold"])
        order = f"W-{hashlib.sha256(hold.encode()).hexdigest()[:8].upper()}"
        status, told = self.ask("POST", "/v1/promises", {"order": order, "hold": hold})
        if status in (200, 201):
            return 200, {"order": order, "ships_by": told["ships_by"]}
        if status == 410:
            return 410, {"ships_by": told["quote"]["ships_by"]}
        return 409, {"says": f"We could not take this order: {told['detail']}."}

    def order(self, word: str) -> tuple[int, dict[str, Any]]:
        """Tell a customer of an order: the day last told, what of it left, what was news."""
        status, told = self.ask("GET", f"/v1/promises/{quote(word, safe='')}")
        if status != 200:
            return 404, {"says": "We know no such order."}
        days = [one["ships_by"] for one in told["told"] if one.get("ships_by")]
        left = [
            {"line": line["line"], "of": line["quantity"], "shipped_on": part["shipped_on"],
             "pieces": len(part["pieces"])}
            for line in told["lines"] for part in line["parts"]
        ]  # fmt: skip
        news = list(self.told.get(word, ()))
        return 200, {"order": word, "ships_by": days[-1] if days else None, "left": left,
                     "news": news}  # fmt: skip

    def hear(self, headers: Any, body: bytes) -> tuple[int, dict[str, Any]]:
        """Take a message of the ledger's, once, if it is signed as the ledger signs."""
        if not self.signing or not is_ours(self.signing, headers, body):
            return 401, {"says": "not signed by our ledger"}
        if headers["webhook-id"] not in self.seen:
            self.seen.add(headers["webhook-id"])
            data = json.loads(body)["data"]
            self.told.setdefault(data.get("order") or "", []).append(data["kind"])
        return 200, {}


class Answering(BaseHTTPRequestHandler):
    """One request to the shop."""

    server: Shop

    def do_GET(self) -> None:
        """Give a file of the page, or tell of an order."""
        if self.path in FILES:
            name, media = FILES[self.path]
            text = (HERE / name).read_text(encoding="utf-8")
            text = text.replace("LEDGER_URL", self.server.ledger)
            text = text.replace("PUBLISHABLE_WORD", self.server.word)
            self.answer(200, text.encode(), f"{media}; charset=utf-8")
        elif self.path.startswith("/orders/"):
            self.tell(*self.server.order(self.path.removeprefix("/orders/")))
        else:
            self.tell(404, {"says": "nothing is here"})

    def do_POST(self) -> None:
        """Hold, promise, or be told."""
        length = int(self.headers.get("Content-Length") or 0)
        if not 0 < length <= BODY_MAX:
            self.tell(413, {"says": "too much, or nothing"})
            return
        body = self.rfile.read(length)
        if self.path == "/told":
            self.tell(*self.server.hear(self.headers, body))
            return
        act = {"/checkout": self.server.checkout, "/pay": self.server.pay}.get(self.path)
        try:
            self.tell(*(act(json.loads(body)) if act else (404, {"says": "nothing is here"})))
        except (KeyError, TypeError, ValueError):
            self.tell(422, {"says": "this is not what the page sends"})
        except OSError:
            self.tell(503, {"says": "Our workshop does not answer; please try again in a while."})

    def tell(self, status: int, told: dict[str, Any]) -> None:
        """Answer with JSON."""
        self.answer(status, json.dumps(told).encode(), "application/json")

    def answer(self, status: int, body: bytes, media: str) -> None:
        """Answer."""
        self.send_response(status)
        self.send_header("Content-Type", media)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Say nothing: addresses hold words of orders."""


def as_line(text: str) -> dict[str, Any]:
    """Read a line as the page writes it: `JB-CHERRY*2;finish=satin`."""
    what, *options = str(text).split(";")
    sku, _, count = what.partition("*")
    chosen = dict(option.split("=", 1) for option in options)
    return {"sku": sku, "quantity": int(count or 1), "options": chosen}


def is_ours(secret: str, headers: Any, body: bytes) -> bool:
    """Check a signature of Standard Webhooks 1.0.0 over the bytes as they came."""
    name, at = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not (at.isascii() and at.isdigit()) or abs(time.time() - int(at)) > SIGNED_WITHIN_S:
        return False
    key = base64.b64decode(secret.removeprefix("whsec_"))
    made = hmac.digest(key, f"{name}.{at}.".encode() + body, hashlib.sha256)
    good = b"v1," + base64.b64encode(made)
    signatures = headers.get("webhook-signature", "").encode().split(b" ")
    return any(hmac.compare_digest(good, one) for one in signatures)


def main() -> None:
    """Serve on this machine until interrupted."""
    parser = argparse.ArgumentParser(description="A web shop's own small server.")
    parser.add_argument("--port", type=int, default=8720)
    shop = Shop(parser.parse_args().port)
    print(f"the shop is open at http://127.0.0.1:{shop.server_port}/", flush=True)
    try:
        shop.serve_forever()
    except KeyboardInterrupt:
        print("closed")


if __name__ == "__main__":
    main()
