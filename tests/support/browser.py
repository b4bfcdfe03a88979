"""A headless browser for the tests of pages: open, tap, read, look, measure, cut the network.

It drives the Chromium that is installed on the machine; where there is none, tests of pages are
skipped with the reason, which `scripts/test` tells and `scripts/test --all` counts as a failure.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Error,
    Locator,
    Page,
    Route,
    sync_playwright,
)

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
PHONE: Mapping[str, int] = {"width": 412, "height": 915}
DESK: Mapping[str, int] = {"width": 1280, "height": 800}
# WCAG 2.0 to 2.2, levels A and AA, and what the checker's authors hold for good practice.
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
TOUCHED = (
    "a[href], button, input, select, textarea, summary, "
    "[role=button], [role=checkbox], [role=radio], [role=switch], [role=tab], [role=option]"
)
# A target's area is its own box, or that of the label around it which stands for it.
_MEASURE = """
([selector, least]) => [...document.querySelectorAll(selector)].flatMap((one) => {
  const around = one.closest("label") ?? one;
  const box = around.getBoundingClientRect();
  const seen = getComputedStyle(around).visibility !== "hidden" && box.width > 1 && box.height > 1;
  if (!seen || (box.width >= least - 0.01 && box.height >= least - 0.01)) return [];
  const name = (one.textContent || one.getAttribute("aria-label") || one.name || "").trim();
  return [`${one.tagName} "${name.slice(0, 40)}": ${box.width} x ${box.height}`];
})
"""


def browser_here() -> str | None:
    """Return the path of an installed browser."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


@dataclass
class Device:
    """One phone, tablet or desk with one page open. `wrong` gathers what its console complained
    of: scripts that failed, files that were not there, what the page's policy refused."""

    page: Page
    url: str
    wrong: list[str] = field(default_factory=list)
    answers_lost: int = 0

    def open(self, path: str) -> Device:
        """Open an address of the service and wait until its script says that it stands."""
        self.page.goto("about:blank")
        self.page.goto(self.url + path)
        self.page.locator("html[data-ready]").wait_for(state="attached")
        return self

    def tap(self, name: str, *, within: str = "body", role: str = "button") -> Device:
        """Tap the one thing of this accessible name (its whole name, or `...` for any rest)."""
        self.named(name, within=within, role=role).tap()
        return self

    def named(self, name: str, *, within: str = "body", role: str = "button") -> Locator:
        """Find what is called so; a name that ends in `...` need only begin so."""
        wanted: str | re.Pattern[str] = name
        if name.endswith("..."):
            wanted = re.compile("^" + re.escape(name[:-3]))
        scope = self.page.locator(within).first
        return scope.get_by_role(role, name=wanted, exact=True)  # type: ignore[arg-type]

    def reads(self, place: str = "body") -> str:
        """What a person reads there now."""
        return self.page.locator(place).first.inner_text()

    def waits_for(self, text: str, *, within: str = "body") -> Device:
        """Wait until these words can be read."""
        self.page.locator(within).first.get_by_text(text).first.wait_for(state="visible")
        return self

    def at(self, when: datetime) -> Device:
        """Let the device's clock say a time; its timers go on."""
        self.page.clock.set_fixed_time(when)
        return self

    def away(self, away: bool = True) -> Device:
        """Cut the network, or mend it."""
        self.page.context.set_offline(away)
        return self

    def loses_answers(self, share: int = 1, path: str = "**/v1/events") -> Device:
        """Let what is posted arrive, and every `share`-th answer be lost on its way back."""
        count = 0

        def lose(route: Route) -> None:
            nonlocal count
            count += 1
            if count % share:
                route.continue_()
                return
            self.answers_lost += 1
            with suppress(Error):  # the network may be cut meanwhile
                route.fetch()
                route.abort()

        self.page.route(path, lose)
        return self

    def hears_answers(self, path: str = "**/v1/events") -> Device:
        """Lose no more."""
        self.page.unroute(path)
        return self

    def looks(self, scheme: str = "light", media: str = "screen") -> Device:
        """Show the page as light, as dark, or as it prints."""
        self.page.emulate_media(color_scheme=scheme, media=media)  # type: ignore[arg-type]
        return self

    def picture(self, path: Path, *, whole: bool = True) -> Device:
        """Take a picture of the page."""
        path.parent.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=path, full_page=whole, animations="disabled")
        return self

    def small_targets(self, least_px: float = 72, selector: str = TOUCHED) -> list[str]:
        """Name whatever can be tapped now and is smaller."""
        found: list[str] = self.page.evaluate(_MEASURE, [selector, least_px])
        return found

    def barriers(self) -> list[str]:
        """Name what the accessibility checker finds wrong with the page as it is now."""
        options = {"runOnly": {"type": "tag", "values": list(RULES)}, "resultTypes": ["violations"]}
        result = Axe().run(self.page, options=options)
        return [
            f"{one['id']}: {node['target']} {node.get('failureSummary', '')}"
            for one in result.response["violations"]
            for node in one["nodes"]
        ]


@dataclass
class Door:
    """One running browser. Each device it gives has its own storage, as two phones have."""

    browser: Browser

    @contextmanager
    def device(
        self, url: str, *, token: str | None = None, scopes: tuple[str, ...] = ("record", "read"),
        size: Mapping[str, int] = PHONE, now: datetime | None = None, language: str = "en-GB",
        zone: str = "UTC", **more: Any,
    ) -> Iterator[Device]:  # fmt: skip
        """Give a device; with a `token` it is paired already. `now` is what its clock says."""
        context = self.browser.new_context(
            viewport=dict(size), has_touch=True, locale=language, timezone_id=zone,  # type: ignore[arg-type]
            **more,
        )  # fmt: skip
        context.set_default_timeout(10_000)
        if token is not None:
            pair(context, token, scopes)
        try:
            yield self.another(context, url, now)
        finally:
            context.close()

    def another(self, context: BrowserContext, url: str, now: datetime | None = None) -> Device:
        """Open one more page on a device: it shares what the first one keeps."""
        device = Device(context.new_page(), url)
        if now is not None:
            device.at(now)
        device.page.on("pageerror", lambda error: device.wrong.append(error.stack or str(error)))
        device.page.on("console", lambda said: _note(device, said.type, said.text))
        return device


def pair(context: BrowserContext, token: str, scopes: tuple[str, ...]) -> None:
    """Keep a key on a device as the pairing page does."""
    kept = msgspec.json.encode({"token": token, "name": "under test", "scopes": scopes}).decode()
    context.add_init_script(
        "if (location.protocol.startsWith('http') && "
        "localStorage.getItem('coatledger.key') === null) "
        f"localStorage.setItem('coatledger.key', {kept!r})"
    )


@contextmanager
def running_browser(path: str) -> Iterator[Door]:
    """Run a browser with a new profile, and end it."""
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=list(FLAGS))
        try:
            yield Door(browser)
        finally:
            browser.close()


def _note(device: Device, kind: str, text: str) -> None:
    # A cut network is told by the browser as an error of its own; that is what a test meant to do.
    if kind == "error" and not re.search(r"net::ERR_(INTERNET_DISCONNECTED|FAILED)", text):
        device.wrong.append(text)
