"""The wall page in a browser: read from three metres, with few and many pieces, live and stale."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

import pytest
from bench import on_day
from browser import PHONE, Device, Door
from gun_side import describe_shop
from listening_service import Listening, listening
from playwright.sync_api import Response

SCREEN = {"width": 1920, "height": 1080}
PAGE_BYTES_MAX = 300_000
A_BATCH = 12


def coated(listens: Listening, pieces: int) -> None:
    """So many shelves, sprayed batch after batch from seven o'clock on."""
    served = listens.served.at("1 06:00")
    describe_shop(listens)
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("lot_received", lot="can-1", product="clear-w", amount_l=400)
    for number, first in enumerate(range(0, pieces, A_BATCH)):
        served.at("1 06:30").later(minutes=number)
        words = [f"S-{number}-{one}" for one in range(1, min(A_BATCH, pieces - first) + 1)]
        served.record(
            "piece_started", pieces=words, kind="shelf", species="white-oak", coat_area_m2=0.4,
            use="shelf", schedule="shelves",
        )  # fmt: skip
        served.record("coat_applied", pieces=words, lot="can-1", gun="g1", room="spray")


@contextmanager
def wall(door: Door, listens: Listening, size: dict[str, int] | None = None) -> Iterator[Device]:
    served = listens.served
    with door.device(
        listens.url, token=served.token, scopes=("read",), size=size or SCREEN, now=served.clock
    ) as device:
        yield device.open("/wall")
        assert device.wrong == []


@pytest.mark.parametrize(("pieces", "places"), [(0, 0), (5, 1), (60, 5), (600, 12)])
def test_the_rack_is_readable_with_few_and_many_pieces(
    door: Door, listens: Listening, pieces: int, places: int
) -> None:
    coated(listens, pieces)
    listens.served.at("1 08:00")
    with wall(door, listens) as device:
        assert device.page.locator(".place").count() == places
        said = device.reads("#rack")
        if pieces == 0:
            assert "The rack is free" in said
        if pieces == 5:
            assert "S-0-1 … 5 (5)" in said
            assert "likely" in said
        if pieces == 600:
            more = [int(words.split()[0]) for words in device.reads(".rest").splitlines()]
            assert sum(more) == 600 - places * A_BATCH
        assert device.barriers() == []
        wide = device.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= SCREEN["width"]
        box = device.page.locator("#rack").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= SCREEN["height"], "the whole rack is on the screen"


def test_what_is_not_known_yet_does_not_read_as_nothing_in_danger(
    door: Door, listens: Listening
) -> None:
    coated(listens, 5)
    served = listens.served
    with door.device(listens.url, token=served.token, scopes=("read",), size=SCREEN,
                     now=served.clock) as device:  # fmt: skip
        device.page.route("**/v1/promises", lambda route: route.fulfill(status=503, body="{}"))
        device.open("/wall")
        device.waits_for("could not say which promises are in danger", within="#danger")
    with wall(door, listens) as device:
        assert not device.page.locator("#danger").is_visible(), "asked, and none is"


def test_it_weighs_little(door: Door, listens: Listening) -> None:
    coated(listens, 60)
    sizes: dict[str, int] = {}

    def weigh(answer: Response) -> None:
        if "/v1/" not in answer.url:
            sizes[answer.url] = len(answer.body())

    with wall(door, listens) as device:
        device.page.on("response", weigh)
        device.open("/wall")
    assert len(sizes) > 5
    assert sum(sizes.values()) < PAGE_BYTES_MAX


def test_a_fact_told_elsewhere_is_on_the_wall_by_itself(door: Door, listens: Listening) -> None:
    coated(listens, 5)
    listens.served.at("1 08:00")
    with wall(door, listens) as device:
        assert "B-1" not in device.reads("#rack")
        listens.served.record(
            "piece_started", pieces=["B-1"], kind="box", species="cherry", coat_area_m2=0.1,
            use="decor",
        )  # fmt: skip
        listens.served.record("coat_applied", pieces=["B-1"], lot="can-1", gun="g1", room="spray")
        device.waits_for("B-1", within="#rack")
        assert "As it is at 08:00" in device.reads("header")


def test_hands_move_without_asking_and_a_film_that_is_ready_moves_on(
    door: Door, listens: Listening
) -> None:
    coated(listens, 5)
    with wall(door, listens) as device:
        first = device.page.locator(".dial-hand").first.get_attribute("x2")
        listens.served.at("1 06:50")
        device.at(on_day("1 06:50"))
        device.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert device.page.locator(".dial-hand").first.get_attribute("x2") != first


def test_a_wall_that_hears_nothing_says_how_old_it_is(door: Door) -> None:
    with ExitStack() as service:
        listens = service.enter_context(listening())
        coated(listens, 5)
        listens.served.at("1 08:00")
        with wall(door, listens) as device:
            service.close()
            device.waits_for("cannot be reached", within="header")
            assert "this is how it was at 08:00" in device.reads("header")
            assert "S-0-1" in device.reads("#rack")
            device.wrong.clear()  # the browser tells each try that finds nobody there


def test_rags_and_a_room_out_of_range_cannot_be_overlooked(door: Door, listens: Listening) -> None:
    coated(listens, 5)
    served = listens.served
    served.record("lot_received", lot="oil-can", product="oil-1", amount_l=1)
    served.record(
        "piece_started", pieces=["O-1"], kind="box", species="cherry", coat_area_m2=0.1, use="decor"
    )
    served.record("coat_applied", pieces=["O-1"], lot="oil-can", method="wipe", room="spray")
    served.record("climate_read", room="spray", readings=[{"air_c": 12, "rh_pct": 80}])
    with wall(door, listens) as device:
        assert device.reads("#burning")
        assert "outside its limits" in device.reads("header")
        for scheme, media in (("dark", "screen"), ("light", "print")):
            device.looks(scheme, media)
            assert device.barriers() == [], (scheme, media)


def test_it_fits_a_phone_too(door: Door, listens: Listening) -> None:
    coated(listens, 60)
    with wall(door, listens, dict(PHONE)) as device:
        wide = device.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= PHONE["width"]
        assert device.barriers() == []
