"""The example dashboard as one who built it sees it: on a phone and a desk, light and dark, with
nothing, little and no service behind it. Its server is run as its recipe says."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import httpx
import pytest
from bench import on_day
from browser import DESK, PHONE, Device, Door
from gun_side import describe_shop
from listening_service import Listening

SERVE = Path(__file__).resolve().parents[3] / "scripts" / "examples" / "dashboard" / "serve.py"


@contextmanager
def served_by_recipe(url: str, key: str) -> Iterator[str]:
    """Run the page's own server before a service; give its address."""
    given = {**os.environ, "COATLEDGER_URL": url, "COATLEDGER_KEY": key}
    command = [sys.executable, str(SERVE), "--port", "0"]
    with subprocess.Popen(command, env=given, stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        try:
            yield run.stdout.readline().split()[-1].rstrip("/")
        finally:
            run.terminate()


@pytest.fixture
def dashboard(listens: Listening) -> Iterator[str]:
    with served_by_recipe(listens.url, listens.served.token) as url:
        yield url


@contextmanager
def opened(
    door: Door, url: str, size: Mapping[str, int], scheme: str = "light"
) -> Iterator[Device]:
    with door.device(url, size=size, now=on_day("4 12:00")) as device:
        device.page.context.set_default_timeout(60_000)  # the first picture starts the painter
        yield device.looks(scheme).open("/")


def filled(listens: Listening) -> None:
    """Six shelves of which two come back, and all but one leave."""
    served = listens.served.at("1 06:00")
    describe_shop(listens)
    words = [f"S-{number}" for number in range(1, 7)]
    served.record("lot_received", lot="can-1", product="clear-w", amount_l=4)
    served.record(
        "piece_started", pieces=words, kind="shelf", species="white-oak", coat_area_m2=0.4,
        use="shelf", schedule="shelves",
    )  # fmt: skip
    served.later(hours=1)
    served.record("coat_applied", pieces=words, lot="can-1", gun="g1", room="spray")
    served.later(hours=4)
    served.record("defect_found", pieces=words[:2], kind="nib")
    served.record("rework_started", pieces=words[:2], remedy="spot_sand", because="nib")
    served.later(hours=1)
    served.record("rework_finished", pieces=words[:2], done="spot_sand", hands_on_min=10)
    served.record("inspected", pieces=words, point="final", passed=True)
    served.later(hours=20)
    served.record("shipped", pieces=words[:5])
    served.at("4 12:00")


@pytest.mark.parametrize(
    ("size", "scheme"), [(PHONE, "dark"), (DESK, "light")], ids=["phone", "desk"]
)
def test_it_says_and_draws_what_the_ledger_counts(
    door: Door, listens: Listening, dashboard: str, size: Mapping[str, int], scheme: str
) -> None:
    filled(listens)
    with opened(door, dashboard, size, scheme) as device:
        assert "Reworked: 2 of 6 (33 %; 95 % interval" in device.reads("#apart")
        assert "So few pieces prove little." in device.reads("#apart")
        assert "5 pieces were shipped; 1 are in process now." in device.reads("#left")
        pictures = device.page.locator("img")
        assert pictures.count() == 6
        said = [pictures.nth(one).get_attribute("alt") or "" for one in range(6)]
        assert any("2 of 6 pieces reworked" in one for one in said)
        assert all(said)
        assert device.barriers() == []
        assert device.small_targets(24) == []
        wide = device.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= size["width"]
        assert device.wrong == []


def test_what_is_chosen_is_asked_for_and_stands_in_the_address(
    door: Door, listens: Listening, dashboard: str
) -> None:
    filled(listens)
    with opened(door, dashboard, DESK) as device:
        device.page.get_by_label("Reworks told apart by").select_option("lot")
        device.page.locator("img[alt*='Reworked, by lot']").wait_for()
        assert "by=lot" in device.page.url
        href = device.page.locator("#apart .more a").first.get_attribute("href") or ""
        table = httpx.get(f"{dashboard}/{href}", trust_env=False)
        assert "can-1" in table.text
        assert re.search(r"first_week=\d{4}-W\d\d", href)


def test_a_shop_that_begins_is_told_so_without_a_fault(
    door: Door, listens: Listening, dashboard: str
) -> None:
    listens.served.at("4 12:00")
    with opened(door, dashboard, PHONE) as device:
        said = device.reads("#questions")
        assert "Nothing is promised at present." in said
        assert "No piece had its final inspection in these weeks." in said
        assert "No finish was received yet." in said
        assert device.barriers() == []
        assert device.wrong == []


def test_a_service_that_is_away_is_told_and_not_hidden(door: Door) -> None:
    with (
        served_by_recipe("http://127.0.0.1:9", "clk_none") as url,
        opened(door, url, PHONE) as device,
    ):
        assert "Not everything was answered. Is the service running?" in device.reads("#standing")
        assert "the ledger's service does not answer" in device.reads("#apart")
        assert device.barriers() == []


def test_its_server_keeps_the_key_and_passes_on_only_what_the_page_asks(
    listens: Listening, dashboard: str
) -> None:
    with httpx.Client(base_url=dashboard, trust_env=False) as client:
        assert client.get("/ask/v1/flow").status_code == 200
        for path in ("/ask/v1/keys", "/ask/v1/events", "/v1/flow", "/ask/../serve.py", "/serve.py"):
            assert client.get(path).status_code == 404, path
        assert client.post("/ask/v1/flow").status_code == 501
        assert client.get("/ask/v1/flow", headers={"Host": "elsewhere.example"}).status_code == 421
        for path in ("/", "/dashboard.js", "/questions.js", "/dashboard.css", "/ask/v1/flow"):
            assert listens.served.token not in client.get(path).text
