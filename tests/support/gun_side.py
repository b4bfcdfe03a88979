"""The gun-side page as a finisher uses it: choose, tap, go on; steps are named in its own words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from bench import on_day
from browser import Device, Door
from listening_service import Listening

STEPS = (
    {"act": "sand", "grit": 150},
    {"act": "blow_off"},
    {"act": "coat", "product": "clear-w", "role": "sealer"},
    {"act": "scuff", "grit": 320},
    {"act": "blow_off"},
    {"act": "coat", "product": "clear-w", "role": "top"},
    {"act": "inspect"},
    {"act": "pack"},
)
SHEET = {
    "kind": "water_borne", "volume_solids_pct": 33, "reference_wet_film_um": 100,
    "touch_dry_h": 0.5, "tack_free_h": 1, "recoat_h": 3, "recoat_max_h": 48, "stack_h": 12,
    "wrap_h": 24, "cure_h": 168, "mfft_c": 8, "wet_film_min_um": 75, "wet_film_max_um": 125,
}  # fmt: skip


def describe_shop(listens: Listening) -> None:
    """What the set-up page does: the shop, its rooms, its gun, its finishes, one schedule."""
    served = listens.served
    hours = [{"day": day, "opens": "07:00", "closes": "17:00"} for day in ("mon", "tue", "wed")]
    served.record("shop_described", zone="UTC", hours=hours)
    served.record("room_described", room="spray", air_min_c=18, air_max_c=26)
    served.record("gun_described", gun="g1", method="hvlp")
    served.record("product_described", product="clear-w", **SHEET)
    served.record("product_described", product="oil-1", kind="oil_based", touch_dry_h=8)
    served.record("schedule_described", schedule="shelves", steps=list(STEPS))


@dataclass
class Finisher:
    """Somebody with gloves on and a phone on a stand."""

    device: Device
    listens: Listening

    def at(self, words: str) -> Finisher:
        """Let the service's clock and the phone's say a time, and look at the page again."""
        self.listens.served.at(words)
        self.device.at(on_day(words))
        self.device.open("/gun-side")
        return self

    def at_the_same(self, words: str) -> Finisher:
        """Let both clocks say a time, and leave the page as it is."""
        self.listens.served.at(words)
        self.device.at(on_day(words))
        return self

    def later(self, minutes: float = 1) -> Finisher:
        """Let a little time pass."""
        self.listens.served.later(minutes=minutes)
        self.device.at(self.listens.served.clock)
        return self

    def choose(self, batch: str) -> Finisher:
        """Touch a batch on the rack, named by how its board begins."""
        self.device.tap(f"{batch}...", within="#view")
        return self

    def main(self, begins: str) -> Finisher:
        """Tap the large strip at the foot, which must say this."""
        strip = self.device.page.locator(".foot .main")
        strip.wait_for()
        said = strip.inner_text()
        assert said.startswith(begins), said
        strip.tap()
        return self

    def go_on(self) -> Finisher:
        """Wait until the act is recorded, and go on to what comes next."""
        self.recorded()
        self.device.tap("Go on")
        return self.later()

    def recorded(self) -> Finisher:
        """Wait until the page says so."""
        self.device.waits_for("Recorded", within=".after")
        return self.rests()

    def rests(self) -> Finisher:
        """Wait until nothing is sent or asked any more."""
        page = self.device.page
        page.locator("header", has_text="Everything is recorded").wait_for()
        page.locator("html:not([data-asking])").wait_for(state="attached")
        return self

    def act(self, name: str) -> Finisher:
        """Choose an act among all of them."""
        page = self.device.page
        if page.get_by_role("button", name="Something else").is_visible():
            self.device.tap("Something else")
        else:
            self.device.tap("Everything else")
        self.device.tap(name, within="#view")
        return self

    def fill(self, **fields: str) -> Finisher:
        """Type into fields, named by their labels' beginnings."""
        for label, text in fields.items():
            wanted = label.replace("_", " ")
            self.device.page.get_by_label(wanted, exact=False).first.fill(text)
        return self

    def tapes(self, *names: str) -> Finisher:
        """Tap strips of a form."""
        for name in names:
            self.device.tap(name, within="#view")
        return self

    def log_it(self) -> Finisher:
        """Log what the form says, and wait until it is recorded."""
        return self.main("Log it").recorded().later()

    def opens_log(self) -> Finisher:
        """Open what this device has logged."""
        self.device.page.locator("#log").tap()
        return self

    def types(self) -> list[str]:
        """Every type the ledger holds, in order."""
        return [fact["type"] for fact in self.facts()]

    def facts(self) -> list[dict[str, Any]]:
        """Every fact the ledger holds, in order of position."""
        feed = self.listens.served.get("/v1/events?limit=1000").json()
        return [one["event"] for one in feed["events"]]


@contextmanager
def finisher(
    door: Door, listens: Listening, words: str = "1 07:00", **more: Any
) -> Iterator[Finisher]:
    """Give somebody a paired phone at a time of the service's own."""
    listens.served.at(words)
    token = listens.served.key("record", "read")
    with door.device(listens.url, token=token, now=on_day(words), **more) as device:
        yield Finisher(device, listens)
