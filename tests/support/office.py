"""The set-up page as the office uses it: go to a hook, fill in its sheet, hang it up."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from bench import on_day
from browser import DESK, Device, Door
from listening_service import Listening

OFFICE = ("record", "read", "promise", "admin")


@dataclass
class Office:
    """A laptop at the office, paired with a key for everything."""

    device: Device
    listens: Listening

    def goes_to(self, hook: str) -> Office:
        """Go from the wall to what hangs at a hook."""
        self.device.page.locator(f'a.peg[href="#{hook}"]').tap()
        self.device.page.locator(".behind").wait_for()
        return self

    def fill(self, fields: dict[str, str]) -> Office:
        """Type into fields, named as the ledger names them."""
        for name, text in fields.items():
            place = f'[data-field="{name}"] :is(input, textarea, select)'
            self.device.page.locator(place).first.fill(text)
        return self

    def choose(self, **lists: str) -> Office:
        """Choose from lists."""
        for name, value in lists.items():
            self.device.page.locator(f'select[name="{name}"]').select_option(value)
        return self

    def tapes(self, *names: str) -> Office:
        """Tap strips of the sheet."""
        for name in names:
            self.device.tap(name, within=".behind")
        return self

    def hang_up(self, name: str = "Hang it up") -> Office:
        """Record the sheet, and be back at the wall."""
        self.device.tap(name)
        self.device.page.locator(".pegs").wait_for()
        return self

    def says(self) -> str:
        """What the page said last."""
        return self.device.reads("#says")

    def hangs(self, hook: str) -> str:
        """What stands under a hook."""
        return self.device.reads(f'a.peg[href="#{hook}"]')

    def last_facts(self, tag: str) -> list[dict[str, Any]]:
        """Every fact of one type that the ledger holds."""
        feed = self.listens.served.get(f"/v1/events?limit=1000&type={tag}").json()
        return [one["event"] for one in feed["events"]]


@contextmanager
def office(
    door: Door, listens: Listening, *, scopes: tuple[str, ...] = OFFICE, **more: Any
) -> Iterator[Office]:
    """Give somebody at the office a paired laptop, with the set-up page open."""
    listens.served.at("1 07:00")
    token = listens.served.key(*scopes)
    given: dict[str, Any] = {"size": DESK, "now": on_day("1 07:00"), **more}
    with door.device(listens.url, token=token, scopes=scopes, **given) as device:
        yield Office(device.open("/set-up"), listens)
