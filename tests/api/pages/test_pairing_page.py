"""An unpaired device is shown nothing of the shop, only how to pair it."""

import pytest
from browser import Door
from coatledger_api.shop_pages.files import PAGES
from listening_service import Listening


@pytest.mark.parametrize("page", [page for page in PAGES if page != "pair"])
def test_a_stranger_sees_only_how_to_pair(door: Door, listens: Listening, page: str) -> None:
    listens.served.pieces("W-1")
    with door.device(listens.url) as device:
        device.open(f"/{page}#piece=W-1")
        assert "This device is not paired" in device.reads()
        assert "W-1" not in device.page.content()
        assert device.small_targets() == []
        assert device.barriers() == []
        assert device.wrong == []


def test_a_wrong_code_is_told_in_words_and_does_not_stay_in_the_address(
    door: Door, listens: Listening
) -> None:
    with door.device(listens.url) as device:
        device.open("/pair#WRONG-CODE")
        assert "WRONG" not in device.page.url
        assert device.page.get_by_label("Pairing code").input_value() == "WRONG-CODE"
        assert device.reads("#says").strip()
        assert device.barriers() == []


def test_a_device_pairs_by_the_code_behind_the_picture_and_keeps_its_own_key(
    door: Door, listens: Listening
) -> None:
    served = listens.served
    made = served.ask("POST", "/v1/pairings", json={"name": "phone at the booth"}).json()
    with door.device(listens.url) as device:
        device.open("/pair#" + made["link"].partition("#")[2])
        device.waits_for("This device is paired as phone at the booth")
        assert "#" not in device.page.url
        assert made["code"] not in device.page.content()
        assert device.barriers() == []
        assert device.small_targets() == []
        device.page.get_by_role("link", name="At the gun").tap()
        device.waits_for("Everything is recorded")
        device.open("/pair").tap("Unpair this device")
        device.open("/gun-side")
        assert "This device is not paired" in device.reads()
        # The code was used up.
        device.open("/pair#" + made["code"])
        device.page.locator("#says:not(:empty)").wait_for()
        assert device.page.evaluate("localStorage.getItem('coatledger.key')") is None


def test_a_code_is_typed_where_there_is_no_camera(door: Door, listens: Listening) -> None:
    made = listens.served.ask("POST", "/v1/pairings", json={"name": "tablet"}).json()
    with door.device(listens.url) as device:
        device.open("/pair").page.get_by_label("Pairing code").fill(made["code"].lower())
        device.tap("Pair").waits_for("This device is paired as tablet")
