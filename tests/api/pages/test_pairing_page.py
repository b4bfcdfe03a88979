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
