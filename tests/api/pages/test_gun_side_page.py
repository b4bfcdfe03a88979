"""The gun-side page itself: rags first, labels, every view for wet gloves and for everybody."""

import re
from collections.abc import Callable, Mapping

import pytest
from browser import Door
from coatledger.events import orders, setup
from coatledger.events.catalogue import CORRECTIONS, TAGS
from coatledger_api.shop_pages.files import static_file
from gun_side import Finisher, describe_shop, finisher
from listening_service import Listening


def begun(listens: Listening) -> None:
    """Two shelves coated from an oil that morning, two bare ones, a gun that holds it."""
    served = listens.served.at("1 06:00")
    describe_shop(listens)
    served.record("lot_received", lot="oil-can", product="oil-1", amount_l=2)
    for pieces in (["S-1", "S-2"], ["S-3", "S-4"]):
        served.record(
            "piece_started", pieces=pieces, kind="shelf", species="white-oak", coat_area_m2=0.4,
            use="shelf", schedule="shelves",
        )  # fmt: skip
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.record("sanded", pieces=["S-1", "S-2"], stage="bare", grit=150)
    served.at("1 06:30").record(
        "coat_applied", pieces=["S-1", "S-2"], lot="oil-can", gun="g1", room="spray"
    )


def test_oily_rags_stand_first_until_they_are_dealt_with(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00")
        assert who.device.reads("main").index("Oily rags first") < 40
        who.device.page.locator(".hook").first.tap()
        assert "Oily rags first" in who.device.reads("main")
        who.device.tap("Closed metal can with water", within="#rags")
        who.device.page.locator("#rags").wait_for(state="hidden")
        who.recorded()
        assert who.types()[-1] == "rags_dealt_with"
        assert "Oily rags first" not in who.at("1 07:10").device.reads("main")
        assert listens.served.get("/v1/findings").json()["findings"] == []


def test_a_label_opens_the_page_with_its_piece_chosen_or_its_can_in_hand(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.open("/gun-side#piece=S-3")
        assert who.device.reads(".foot .main").startswith("Sand S-3")
        who.device.open("/gun-side#lot=oil-can")
        assert "Done to can oil-can" in who.device.reads()
        who.device.open("/gun-side#gun=g1")
        assert "finish stands in it: flush it" in who.device.reads()
        who.device.open("/gun-side#piece=S-99")
        assert "no piece S-99" in who.device.reads("header")
        assert "#" not in who.device.page.url


def test_findings_come_after_the_tap_with_what_to_do(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.open("/gun-side#piece=S-1")
        who.main("Scuff S-1").recorded()
        told = who.device.reads(".after")
        assert "sanded before dry" in told
        assert "Why, and who says so" in told
        assert "Be careful" in told


def test_units_are_the_shops_own(door: Door, listens: Listening) -> None:
    begun(listens)
    hours = [{"day": "mon", "opens": "07:00", "closes": "17:00"}]
    listens.served.record("shop_described", zone="UTC", hours=hours, units="us")
    with finisher(door, listens) as who:
        who.at("1 07:00").device.open("/gun-side#room=spray")
        assert "70 °F" in who.device.reads()
        who.tapes("Read the room's air").fill(Air="68", Humidity="50").log_it()
        assert who.facts()[-1]["readings"] == [{"air_c": 20, "rh_pct": 50}]


VIEWS: Mapping[str, Callable[[Finisher], object]] = {
    "work": lambda who: who.choose("Sand"),
    "label": lambda who: who.device.open("/gun-side#piece=S-1"),
    "can": lambda who: who.device.open("/gun-side#lot=oil-can"),
    "gun": lambda who: who.device.open("/gun-side#gun=g1"),
    "room": lambda who: who.device.open("/gun-side#room=spray"),
    "acts": lambda who: who.device.tap("Everything else"),
    "fault": lambda who: who.choose("Sand").device.tap("A fault", within="#view"),
    "coat": lambda who: who.act("Coat"),
    "pot": lambda who: who.act("Mix a pot"),
    "order": lambda who: who.act("Take an order"),
    "after": lambda who: who.choose("Sand").main("Sand").recorded(),
    "log": lambda who: who.choose("Sand").main("Sand").recorded().opens_log(),
}  # fmt: skip


@pytest.mark.parametrize("view", VIEWS)
def test_every_view_is_for_everybody_and_for_gloves(
    door: Door, listens: Listening, view: str
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        VIEWS[view](who.at("1 07:00"))
        who.device.page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
        assert who.device.small_targets() == []
        for scheme, media in (("light", "screen"), ("dark", "screen"), ("light", "print")):
            assert who.device.looks(scheme, media).barriers() == [], (scheme, media)
        # Nothing is wider than the phone: no sideways scrolling, also at 400 % (320 px wide).
        who.device.looks("light").page.set_viewport_size({"width": 320, "height": 640})
        assert who.device.page.evaluate("document.documentElement.scrollWidth") <= 320
        assert who.device.wrong == []


def test_everything_works_with_a_keyboard_alone(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        page = who.at("1 07:00").device.page
        page.get_by_role("button", name=re.compile("^Sand")).focus()
        page.keyboard.press("Space")
        page.locator(".foot .main").focus()
        page.keyboard.press("Enter")
        who.recorded()
        assert who.types()[-1] == "sanded"


def test_every_act_of_a_day_can_be_reached_from_the_page() -> None:
    script = static_file("gun-acts-view.js")
    assert script is not None
    reached = set(re.findall(r'"([a-z_]+)"', script.body.decode()))
    described = {tag for tag, kind in TAGS.items() if kind.__module__ == setup.__name__}
    described -= {"closure_announced", "person_absent", "instrument_checked"}
    corrections = {tag for tag, kind in TAGS.items() if kind in CORRECTIONS}
    assert set(TAGS) - described - corrections <= reached
    assert {tag for tag, kind in TAGS.items() if kind.__module__ == orders.__name__} <= reached
