"""A day of taps on a phone with a bad network, a wrong clock and a tab that dies: nothing is lost
and nothing doubled.

A real browser drives the gun-side page of a real service over plain HTTP. Its clock is a day ahead;
the network is cut and mended, answers are lost on their way back, the tab is killed and opened
again. What the page called kept must be in the ledger once, in its order, at its true time.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import httpx
from _service import Service, free_port, key_for, tell
from browser import Device, Door, browser_here, running_browser
from playwright.sync_api import Route

TAPS = 500
AHEAD = timedelta(days=1)
TRUE_WITHIN_S = 5.0
# The phone's clock, and how long a tap takes to be seen: from the touch to the next painted frame
# that shows it.
PHONE = """
const Real = Date, ahead = %d;
window.Date = class extends Real {
  constructor(...given) { given.length ? super(...given) : super(Real.now() + ahead); }
  static now() { return Real.now() + ahead; }
};
window.seenMs = [];
addEventListener("click", (event) => {
  const at = event.timeStamp;
  requestAnimationFrame(() => setTimeout(() => seenMs.push(performance.now() - at)));
}, true);
"""


def main(arguments: Sequence[str]) -> int:
    """Rehearse and print; ends with 1 when anything was lost or doubled, 77 without a browser."""
    parser = argparse.ArgumentParser(prog="scripts/drill taps", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one object for machines")
    parser.add_argument("--taps", type=int, default=TAPS, help=f"{TAPS} if not given")
    asked = parser.parse_args(arguments)
    path = browser_here()
    if path is None:
        print("chromium is not installed", file=sys.stderr)
        return 77
    drill = tempfile.TemporaryDirectory(prefix="coatledger-drill-")
    with drill as folder, running_browser(path) as door:
        found = rehearse(door, Path(folder), asked.taps)
    tell(found, as_json=asked.json)
    bad = ("lost", "doubled", "out_of_order", "at_wrong_time")
    return 1 if any(found[name] for name in bad) else 0


def rehearse(door: Door, home: Path, taps: int, script: str | None = None) -> dict[str, float]:
    """Tap so many times, then compare with what the ledger holds; `script` is another queue."""
    token, port = key_for(home, scopes=("record", "read")), free_port()
    service = Service(home, None, port)
    try:
        url = f"http://127.0.0.1:{port}"
        with httpx.Client(base_url=url, headers={"Authorization": f"Bearer {token}"}) as shop:
            _one_can(shop)
            tapped = Tapping(door, url, token, taps, script)
            tapped.run()
            return {**tapped.figures(), **_compare(tapped.at, _facts(shop))}
    finally:
        service.stop()


class Tapping:
    """One phone, its mishaps, and what it was told was kept: the true times of the taps."""

    def __init__(
        self, door: Door, url: str, token: str, taps: int, script: str | None = None
    ) -> None:
        self.door, self.url, self.token, self.taps = door, url, token, taps
        self._script = script
        self.at: list[datetime] = []
        self.seen_ms: list[float] = []
        self.cuts = self.kills = self.lost = 0
        self._away = False
        self._chance = random.Random(1)

    def run(self) -> None:
        """Do the day's taps."""
        with self.door.device(self.url, token=self.token, scopes=("record", "read")) as phone:
            context = phone.page.context
            context.add_init_script(PHONE % (AHEAD / timedelta(milliseconds=1)))
            if self._script is not None:
                context.route("**/queue.js", partial(_other_script, self._script))
            phone.loses_answers(share=4)
            phone.open("/gun-side#lot=can-1")
            for count in range(self.taps):
                self._mishap(phone, count)
                if phone.page.is_closed():
                    self.lost += phone.answers_lost
                    phone = self.door.another(context, self.url).loses_answers(share=4)
                    phone.open("/gun-side#lot=can-1")
                self._tap(phone)
            self.lost += phone.answers_lost
            phone.away(away=False).hears_answers()
            phone.open("/gun-side")
            phone.page.set_default_timeout(120_000)
            phone.waits_for("Everything is recorded", within="header")

    def _mishap(self, phone: Device, count: int) -> None:
        """Now and then the network goes or comes; every hundredth tap or so the tab dies."""
        if self._chance.random() < (0.25 if self._away else 0.1):
            self._cut(phone, away=not self._away)
        step = max(10, self.taps // 5)
        if count % step == step - 1:
            # The page cannot be opened without the service; what it holds must outlive it.
            self._cut(phone, away=False)
            self.kills += 1
            self._gather(phone)
            _kill(self.door, phone)

    def _cut(self, phone: Device, *, away: bool) -> None:
        phone.away(away=away)
        self.cuts += away
        self._away = away

    def _tap(self, phone: Device) -> None:
        page = phone.page
        if page.locator("#view h2", has_text="Done to can can-1").count() == 0:
            page.locator(".hook").first.tap()
        page.get_by_role("button", name="Stirred", exact=True).tap()
        self.at.append(datetime.now(UTC))
        page.locator(".after").wait_for()
        # Called kept once it says anything but that it is being kept.
        kept = page.locator(".after p strong").first
        while "being kept" in kept.inner_text():
            time.sleep(0.002)
        self._gather(phone)

    def _gather(self, phone: Device) -> None:
        self.seen_ms += phone.page.evaluate("window.seenMs.splice(0)")

    def figures(self) -> dict[str, float]:
        """How it went on the phone."""
        ranked = sorted(self.seen_ms)
        return {
            "taps": len(self.at),
            "cuts": self.cuts,
            "answers_lost": self.lost,
            "tabs_killed": self.kills,
            "seen_p50_ms": round(ranked[len(ranked) // 2], 1),
            "seen_p99_ms": round(ranked[int(len(ranked) * 0.99)], 1),
            "seen_max_ms": round(ranked[-1], 1),
        }


def _other_script(script: str, route: Route) -> None:
    route.fulfill(body=script, content_type="text/javascript")


def _kill(door: Door, phone: Device) -> None:
    """End the tab's process without warning, as a phone short of memory does."""
    session = door.browser.new_browser_cdp_session()
    for process in session.send("SystemInfo.getProcessInfo")["processInfo"]:
        if process["type"] == "renderer":
            with suppress(ProcessLookupError):
                os.kill(process["id"], signal.SIGKILL)
    session.detach()
    phone.page.close()


def _one_can(shop: httpx.Client) -> None:
    fact = {
        "type": "lot_received", "id": "01900000-0000-7000-8000-000000000001", "lot": "can-1",
        "product": "clear", "amount_l": 5, "occurred_at": (datetime.now(UTC) - AHEAD).isoformat(),
    }  # fmt: skip
    shop.post("/v1/events", json=fact).raise_for_status()


def _facts(shop: httpx.Client) -> list[dict[str, Any]]:
    facts: list[dict[str, Any]] = []
    query = "/v1/events?limit=1000&type=lot_stirred"
    while True:
        page = shop.get(query).raise_for_status().json()
        facts += page["events"]
        if not page["more"]:
            return facts
        query = f"/v1/events?limit=1000&type=lot_stirred&cursor={page['cursor']}"


def _compare(at: Sequence[datetime], facts: Sequence[dict[str, Any]]) -> dict[str, int]:
    """Lay the taps beside the facts, in their order."""
    times = [_true_time(fact) for fact in facts]
    pairs = zip(sorted(times), at, strict=False)
    return {
        "facts": len(facts),
        "lost": max(0, len(at) - len(facts)),
        "doubled": max(0, len(facts) - len(at))
        + len(facts)
        - len({f["event"]["id"] for f in facts}),
        "out_of_order": sum(a > b for a, b in pairwise(times)),
        "at_wrong_time": sum(abs((a - b).total_seconds()) > TRUE_WITHIN_S for a, b in pairs),
    }


def _true_time(fact: dict[str, Any]) -> datetime:
    """A fact keeps the time its device said; how far that was ahead stands beside it."""
    said = datetime.fromisoformat(fact["event"]["occurred_at"])
    return said - timedelta(milliseconds=fact.get("offset_ms", 0))
