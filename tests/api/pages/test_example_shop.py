"""The example shop as its customers use it: real HTTP between browser, shop and ledger, and the
shop's own server run as its recipe says. The clock is the real one: signatures are dated by it."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest
from browser import DESK, PHONE, Device, Door
from coatledger.ledger.memory import MemoryStore
from coatledger_api.settings import Settings
from listening_service import Listening, listening
from selling_shop import SHEET, STEPS, send
from served import Served

SHOP = Path(__file__).resolve().parents[3] / "scripts" / "examples" / "shop"
SOLD: tuple[tuple[str, str, dict[str, list[str]]], ...] = (
    ("BT-ASH", "bedside-table", {}), ("SH-OAK-90", "shelf", {}),
    ("JB-CHERRY", "jewellery-box", {"finish": ["satin", "shine", "oil"]}),
)  # fmt: skip
ALWAYS = tuple(
    {"day": day, "opens": "06:00", "closes": "23:59"}
    for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
)
PICK_UP = [one["day"] for one in ALWAYS]


class Open(NamedTuple):
    """Where the shop is, and the ledger behind it."""

    url: str
    ledger: Listening


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as held:
        port: int = held.getsockname()[1]
        return port


def describe(served: Served) -> None:
    served.clock = datetime.now(UTC)
    described = {"zone": "UTC", "hours": ALWAYS, "people": 2, "pickup_days": PICK_UP}
    served.record("shop_described", **described, fallback_lead_days=21)
    served.record("room_described", room="spray", air_min_c=18, air_max_c=26)
    served.record("gun_described", gun="g1", method="hvlp")
    served.record("product_described", product="clear-w", **SHEET)
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("schedule_described", schedule="three", steps=STEPS)
    for sku, word, options in SOLD:
        served.record(
            "offering_described", offering=word, skus=[sku], schedule="three", species="ash",
            coat_area_m2=0.6, options=options,
        )  # fmt: skip


@contextmanager
def run(port: int, **given: str) -> Iterator[str]:
    """Run the shop's own server."""
    command = [sys.executable, str(SHOP / "shop_server.py"), "--port", str(port)]
    environment = {**os.environ, **given}
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().split()[-1].rstrip("/")
        finally:
            process.terminate()


@pytest.fixture(scope="module")
def shop() -> Iterator[Open]:
    """A ledger, a webhook, and the shop, as the recipe puts them together."""
    port = free_port()
    settings = Settings(
        storefront_origins=f"http://127.0.0.1:{port}", webhook_hosts=f"127.0.0.1:{port}",
        storefront_wait_s=30, webhook_poll_s=0.2,
    )  # fmt: skip
    store = MemoryStore("shop")
    with listening(store, clock=lambda: datetime.now(UTC), settings=settings) as ledger:
        served = ledger.served
        describe(served)
        hook = {"label": "shop", "url": f"http://127.0.0.1:{port}/told", "kinds": ["promised"]}
        made = send(served, "/v1/webhooks", hook)
        assert made.status_code == 201, made.text
        given = {
            "COATLEDGER_URL": ledger.url, "COATLEDGER_KEY": served.key("promise", "read"),
            "COATLEDGER_WORD": served.key("storefront", kind="publishable"),
            "COATLEDGER_WEBHOOK_SECRET": made.json()["secret"],
        }  # fmt: skip
        with run(port, **given) as url:
            yield Open(url, ledger)


@contextmanager
def visited(door: Door, shop: Open, size: Mapping[str, int] = DESK) -> Iterator[Device]:
    with door.device(shop.url, size=size) as device:
        device.page.context.set_default_timeout(30_000)
        yield device.open("/")


def leaves(device: Device, sku: str) -> str:
    return device.reads(f"[data-sku={sku}] .leaves")


def choose(device: Device, sku: str, count: int) -> None:
    device.page.locator(f"[data-sku={sku}] [name=quantity]").fill(str(count))
    device.page.locator("h1").click()


def test_each_thing_has_its_day_its_cut_off_in_words_and_its_markup(door: Door, shop: Open) -> None:
    with visited(door, shop) as device:
        for sku, *_ in SOLD:
            said = leaves(device, sku)
            assert re.search(r"it leaves us by \w+day,? \d+ \w+ if you order within \d+ \w+", said)
            assert "carrier" in said
            markup = device.page.locator(f"[data-sku={sku}] script").inner_text()
            assert '"handlingTime"' in markup
            assert f'"sku":"{sku}"' in markup
        assert device.wrong == []
        assert device.barriers() == []


def test_a_day_is_held_paid_for_promised_and_told(door: Door, shop: Open) -> None:
    with visited(door, shop, PHONE) as device:
        choose(device, "SH-OAK-90", 2)
        choose(device, "JB-CHERRY", 1)
        device.waits_for("if you order within", within="#whole")
        device.tap("Hold this day for me").waits_for("Held for you until")
        (held,) = shop.ledger.served.get("/v1/holds").json()["holds"]
        assert [line["sku"] for line in held["lines"]] == ["SH-OAK-90", "JB-CHERRY"]
        device.tap("Pay and order").waits_for("Thank you. Your order W-")
        order = re.search(r"W-[0-9A-F]{8}", device.reads("#whole"))
        assert order is not None
        assert device.wrong == []
    promise = shop.ledger.served.get(f"/v1/promises/{order[0]}").json()
    told = by_shop(shop, order[0])
    assert told["ships_by"] == promise["told"][0]["ships_by"] == held["quote"]["ships_by"]
    assert date.fromisoformat(told["ships_by"]) >= datetime.now(UTC).date()
    again = httpx.post(f"{shop.url}/pay", json={"hold": held["hold"]}, trust_env=False)
    assert again.json() == {"order": order[0], "ships_by": told["ships_by"]}


def by_shop(shop: Open, order: str) -> Any:
    """Ask the shop of an order until its ledger has told it the news."""
    deadline = time.monotonic() + 15
    while time.monotonic() < deadline:
        told = httpx.get(f"{shop.url}/orders/{order}", trust_env=False).json()
        if told["news"]:
            assert told["news"] == ["promised"]
            return told
        time.sleep(0.1)
    raise AssertionError("the shop was not told")


def test_nobody_else_tells_the_shop_anything(shop: Open) -> None:
    body = {"data": {"order": "W-1", "kind": "shipped"}}
    headers = {"webhook-id": "x", "webhook-timestamp": str(int(time.time()))}
    for signature in ("", "v1,AAAA", "v1a,AAAA"):
        forged = httpx.post(
            f"{shop.url}/told", json=body, headers={**headers, "webhook-signature": signature},
            trust_env=False,
        )  # fmt: skip
        assert forged.status_code == 401


def test_the_page_holds_no_secret_and_its_word_promises_nothing(shop: Open) -> None:
    page = httpx.get(f"{shop.url}/", trust_env=False).text
    assert "clk_" not in page + httpx.get(f"{shop.url}/shop.js", trust_env=False).text
    word = re.search(r"clw_\w{46}", page)
    assert word is not None
    answer = shop.ledger.served.ask("POST", "/v1/holds", json={}, token=word[0])
    assert answer.status_code == 403


def test_without_the_ledger_the_page_still_says_what_to_do(door: Door, shop: Open) -> None:
    with visited(door, shop) as device:
        device.page.route("**/v1/ship-promise*", lambda route: route.abort())
        choose(device, "BT-ASH", 9)  # a question that nobody has asked before
        device.waits_for("Ask us when it can leave our workshop.", within="#whole")


def test_a_service_that_is_too_slow_is_answered_for_by_the_stated_lead(door: Door) -> None:
    settings = Settings(storefront_origins="*", storefront_wait_s=0.0001)
    with listening(
        MemoryStore("slow"), clock=lambda: datetime.now(UTC), settings=settings
    ) as ledger:
        describe(ledger.served)
        word = ledger.served.key("storefront", kind="publishable")
        given = {"COATLEDGER_URL": ledger.url, "COATLEDGER_KEY": "x", "COATLEDGER_WORD": word}
        with run(0, **given) as url, visited(door, Open(url, ledger)) as device:
            assert leaves(device, "BT-ASH").startswith("As a rule it leaves our workshop by")


def test_what_a_developer_copies_is_short() -> None:
    count = {
        path.name: len(path.read_text().splitlines()) for path in SHOP.iterdir() if path.is_file()
    }
    assert count["index.html"] + count["shop.js"] <= 200
    assert count["shop_server.py"] <= 200
