"""Draws every picture the service draws, for shops with nothing, one, few and many pieces, in every
look and as wide as a desk and a phone, with a page to leaf through; and, where a browser is
installed, the month and a film's history as they are seen and as they print.
"""

import argparse
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import Any, NamedTuple, get_args

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT / "tests" / "support"), str(ROOT / "tests" / "sim")]

from browser import browser_here, running_browser  # noqa: E402
from coatledger.ledger.memory import MemoryStore  # noqa: E402
from coatledger_adapters.keys import SCOPES, MemoryKeys, make_key  # noqa: E402
from coatledger_api.charts.look import Look  # noqa: E402
from coatledger_api.charts.pictures_flow import Side  # noqa: E402
from quality_shop import bad_weeks  # noqa: E402
from served import Served, serving  # noqa: E402

LOOKS: tuple[Look, ...] = get_args(Look)
WIDTHS: Mapping[str, int] = {"desk": 720, "phone": 360}
SCREENS: Mapping[str, Mapping[str, int]] = {
    "desk": {"width": 1280, "height": 900}, "phone": {"width": 390, "height": 844},
}  # fmt: skip
NUMBERS: Mapping[str, str] = {
    "reworked by week": "/v1/quality/rework?by=week",
    "reworked by month": "/v1/quality/rework?by=month",
    "reworked by wood": "/v1/quality/rework?by=wood",
    "reworked by defect": "/v1/quality/rework?by=defect",
    "reworked by can": "/v1/quality/rework?by=lot",
    "reworked by climate": "/v1/quality/rework?by=climate",
    "what goes with it": "/v1/quality/why?",
    "trend": "/v1/quality/trend?",
    "trend of defects": "/v1/quality/trend?measure=defects",
    **{f"flow {show}": f"/v1/flow?show={show}" for show in get_args(Side)},
    "first-pass yield": "/v1/rework?",
    "shipped a week": "/v1/throughput?",
    "shipped a day": "/v1/throughput?bucket=day",
    "stock": "/v1/stock?",
    "promises": "/v1/promises/score?",
}
DEMO_AT = datetime(2026, 11, 20, 15, 30, tzinfo=UTC)


class Shop(NamedTuple):
    """A service with a ledger behind it, and a piece whose film can be told."""

    served: Served
    piece: str | None


@contextmanager
def nothing() -> Iterator[Shop]:
    """A shop in which nothing happened yet."""
    with serving(MemoryStore("shop")) as served:
        yield Shop(served, None)


@contextmanager
def one() -> Iterator[Shop]:
    """One piece with one coat, looked over and gone."""
    with serving(MemoryStore("shop")) as served:
        _piece_through(served, "T-1")
        yield Shop(served, "T-1")


@contextmanager
def few() -> Iterator[Shop]:
    """Five pieces over as many weeks; two had nibs."""
    with serving(MemoryStore("shop")) as served:
        for number in range(5):
            _piece_through(served, f"T-{number}", nib=number in (1, 3))
            served.later(days=6)
        yield Shop(served, "T-1")


@contextmanager
def many() -> Iterator[Shop]:
    """The demonstration: six weeks of the invented shop."""
    from coatledger_api.demo.play import SEED, play
    from coatledger_api.demo.player import load

    store, keys, secret = MemoryStore("shop"), MemoryKeys(), b"of pictures" * 3
    token, key = make_key(secret, "player", SCOPES, 0)
    keys.add(key)
    load(store, keys, secret, token, play(SEED, DEMO_AT))
    with serving(store) as served:
        served.clock = DEMO_AT
        (first, *_) = served.get("/v1/pieces?limit=1").json()["pieces"]
        yield Shop(served, first["piece"])


@contextmanager
def quarter() -> Iterator[Shop]:
    """A quarter of a shop that starts some 300 pieces and reworks a tenth of them."""
    store, now = bad_weeks(0)
    with serving(store) as served:
        served.clock = now
        yield Shop(served, "p1-0")


SHOPS: Mapping[str, Callable[[], Any]] = {
    "nothing": nothing, "one": one, "few": few, "many": many, "quarter": quarter,
}  # fmt: skip


def _piece_through(served: Served, word: str, *, nib: bool = False) -> None:
    served.record("lot_received", lot=f"can-{word}", product="clear-w", amount_l=4.0)
    served.pieces(word)
    coat = {"pieces": [word], "lot": f"can-{word}", "gun": "g1", "hands_on_min": 8}
    served.record("coat_applied", **coat, amount_l=0.2)
    served.later(hours=4)
    if nib:
        served.record("defect_found", pieces=[word], kind="nib")
        served.record("rework_started", pieces=[word], remedy="spot_sand", because="nib")
        served.later(hours=1)
        served.record("rework_finished", pieces=[word], done="spot_sand", hands_on_min=30)
    served.record("inspected", pieces=[word], point="final", passed=True)
    served.later(hours=20)
    served.record("shipped", pieces=[word])


class Drawn(NamedTuple):
    """One file: of which shop, what it shows, in which look and how wide."""

    shop: str
    what: str
    look: str
    wide: str
    path: Path


def draw(folder: Path, name: str, shop: Shop, looks: Sequence[str]) -> Iterator[Drawn]:
    """Ask the service for each picture in each look and width, and keep it."""
    for what, address in NUMBERS.items():
        for look in looks:
            for wide, pixels in WIDTHS.items():
                asked = f"{address}{'&' if address[-1] != '?' else ''}format=png"
                answer = shop.served.get(f"{asked}&look={look}&width={pixels}")
                if answer.status_code != 200:
                    raise SystemExit(f"{asked}: {answer.text}")
                path = folder / f"{name}-{what.replace(' ', '_')}-{look}-{wide}.png"
                path.write_bytes(answer.content)
                yield Drawn(name, what, look, wide, path)


def pages(folder: Path, name: str, shop: Shop, browser: Any) -> Iterator[Drawn]:
    """See the month, and what is told of a piece, on both screens by day and night; print them."""
    addresses = {"month": "/reports/month"}
    if shop.piece is not None:
        addresses["film"] = f"/v1/pieces/{shop.piece}/proof"
    for what, address in addresses.items():
        html = shop.served.get(address, headers={"Accept": "text/html"}).text
        for wide, size in SCREENS.items():
            page = browser.new_page(viewport=dict(size))
            page.set_content(html)
            for look in ("light", "dark", "contrast"):
                more = "more" if look == "contrast" else "no-preference"
                scheme = "light" if look == "contrast" else look
                page.emulate_media(color_scheme=scheme, contrast=more)
                path = folder / f"{name}-{what}-{look}-{wide}.png"
                page.screenshot(path=path, full_page=True)
                yield Drawn(name, what, look, wide, path)
            if wide == "desk":
                page.pdf(path=folder / f"{name}-{what}.pdf", prefer_css_page_size=True)
            page.close()


def index(drawn: Sequence[Drawn]) -> str:
    """Write the page to leaf through: for each shop and look, everything that was drawn."""
    lines = ["<!doctype html><meta charset=utf-8><title>Every picture</title>"]
    for key in dict.fromkeys((one.shop, one.look, one.wide) for one in drawn):
        lines.append(f"<h2 id='{'-'.join(key)}'>{escape(', '.join(key))}</h2>")
        lines += [
            f"<figure style='display:inline-block;margin:8px'><figcaption>{escape(one.what)}"
            f"</figcaption><img src='{one.path.name}' alt='{escape(one.what)}'"
            f" width={WIDTHS[one.wide]}></figure>"
            for one in drawn
            if (one.shop, one.look, one.wide) == key
        ]
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> int:
    """Draw all, or those of the shop and the look that are named."""
    parser = argparse.ArgumentParser(prog="scripts/pictures", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--shop", choices=tuple(SHOPS), action="append")
    parser.add_argument("--look", choices=LOOKS, action="append")
    asked = parser.parse_args(arguments)
    asked.folder.mkdir(parents=True, exist_ok=True)
    drawn: list[Drawn] = []
    installed = browser_here()
    for name in asked.shop or SHOPS:
        with SHOPS[name]() as shop:
            drawn += draw(asked.folder, name, shop, asked.look or LOOKS)
            if installed:
                with running_browser(installed) as door:
                    drawn += pages(asked.folder, name, shop, door.browser)
        print(f"{name}: {sum(1 for one in drawn if one.shop == name)} pictures", flush=True)
    (asked.folder / "index.html").write_text(index(drawn), encoding="utf-8")
    without = "" if installed else "; no browser is installed, so no pages were seen or printed"
    print(f"{len(drawn)} pictures, to leaf through in {asked.folder / 'index.html'}{without}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
