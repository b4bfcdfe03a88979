"""Travellers, care cards and packing slips over HTTP: every form, whose they are, what they say."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Any

import pytest
from printer import page_count, printed, read, text_of
from served import Served, refusal

THINGS = ("traveller", "care-card", "packing-slip")


@pytest.fixture
def order(served: Served) -> Served:
    """A shop with an order of two pieces, one coat on them."""
    served.record("shop_described", zone="Europe/Lisbon", people=2,
                  hours=[{"day": "mon", "opens": "07:00", "closes": "18:00"}])  # fmt: skip
    served.record("room_described", room="spray", air_min_c=18, air_max_c=26)
    served.record("product_described", product="clear-w", kind="water_borne", recoat_h=3,
                  name="Matt clear <1>", wrap_h=24, cure_h=168, reference_wet_film_um=100,
                  wet_film_min_um=75, wet_film_max_um=125)  # fmt: skip
    served.record("lot_received", lot="can-1", product="clear-w", amount_l=4)
    served.record("schedule_described", schedule="two", steps=[
        {"act": "sand", "grit": 150}, {"act": "coat", "product": "clear-w", "role": "sealer"},
        {"act": "scuff", "grit": 320}, {"act": "coat", "product": "clear-w", "role": "top"},
        {"act": "pack"}])  # fmt: skip
    served.record("piece_started", pieces=["BT-1", "BT-2"], kind="bedside table", species="ash",
                  coat_area_m2=0.5, use="decor", schedule="two")  # fmt: skip
    served.record("order_taken", order="O-1", customer="customer-7", wanted_by="2026-04-09",
                  lines=[{"line": "1", "quantity": 2, "sku": "BT-ASH"}])  # fmt: skip
    served.record("piece_allotted", pieces=["BT-1", "BT-2"], order="O-1", line="1")
    served.record("climate_read", room="spray", readings=[{"air_c": 21, "rh_pct": 50}])
    served.later(hours=1)
    served.record("coat_applied", pieces=["BT-1", "BT-2"], lot="can-1", room="spray",
                  wet_film_um=100)  # fmt: skip
    return served


class Reads(HTMLParser):
    """The text of a page and its tags."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_data(self, data: str) -> None:
        self.words += data.split()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize("thing", THINGS)
def test_each_comes_as_pdf_page_and_json(order: Served, thing: str) -> None:
    told = order.get(f"/v1/{thing}?order=O-1")
    assert told.headers["content-type"] == "application/pdf"
    assert told.headers["content-disposition"] == f'inline; filename="{thing}.pdf"'
    assert page_count(told.content) == 1
    assert "BT-1" in text_of(told.content)
    page = order.get(f"/v1/{thing}?order=O-1", headers={"Accept": "text/html"})
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert "default-src 'none'" in page.headers["content-security-policy"]
    found = Reads(page.text)
    assert {"script", "img", "link", "form"}.isdisjoint(tag for tag, _ in found.tags)
    assert "BT-1" in " ".join(found.words)
    data = order.get(f"/v1/{thing}?order=O-1&format=json")
    assert data.json()["order"] == "O-1"
    assert data.headers["coatledger-position"] == str(order.size)
    for answer in (text_of(told.content), page.text, data.text):
        assert "customer-7" not in answer


@pytest.mark.parametrize("thing", THINGS)
def test_an_order_pieces_or_both_are_named(order: Served, thing: str) -> None:
    refusal(order.get(f"/v1/{thing}"), 404, "not_found")
    refusal(order.get(f"/v1/{thing}?order=O-9"), 404, "not_found")
    refusal(order.get(f"/v1/{thing}?piece=BT-1&piece=x"), 404, "not_found")
    assert order.get(f"/v1/{thing}?piece=BT-2&piece=BT-1").status_code == 200
    order.pieces("Z-1")
    both = order.get(f"/v1/{thing}?order=O-1&piece=Z-1&format=json")
    for word in ("BT-1", "BT-2", "Z-1"):
        assert f'"piece":"{word}"' in both.text


def test_an_order_without_pieces_prints_without_them(order: Served) -> None:
    order.record("order_taken", order="O-2", lines=[{"line": "1", "sku": "BT-ASH"}])
    for thing in THINGS:
        for form in ("pdf", "html", "json"):
            assert order.get(f"/v1/{thing}?order=O-2&format={form}").status_code == 200, thing


def test_a_traveller_has_steps_to_tick_targets_waits_and_a_code(order: Served) -> None:
    asked = "/v1/traveller?order=O-1&base=http://192.168.1.20:8700"
    told = order.get(asked).content
    text = " ".join(text_of(told).split())
    for words in ("Order O-1", "Due Thu 9 Apr 2026", "sand P150", "Matt clear <1>", "can-1",
                  "100 µm wet", "sheet: 75 to 125 µm", "Be careful", "data sheet",
                  "as of Mon 2 Mar 2026, 08:00"):  # fmt: skip
        assert words in text, words
    assert read(printed(told)) == "http://192.168.1.20:8700/gun-side#piece=BT-1"
    page = Reads(order.get(f"{asked}&format=html").text)
    boxes = [attrs["aria-label"] for _, attrs in page.tags if attrs.get("class") == "box"]
    assert boxes == ["done before", "done before", "to do", "to do", "to do"]
    us = " ".join(text_of(order.get(f"{asked}&units=us").content).split())
    assert "3.9 mil wet" in us
    assert "sheet: 3.0 to 4.9 mil" in us


def test_a_shop_of_us_units_gets_them_without_asking(order: Served) -> None:
    order.record("shop_described", zone="UTC", people=1, units="us",
                 hours=[{"day": "mon", "opens": "07:00", "closes": "18:00"}])  # fmt: skip
    assert "mil wet" in text_of(order.get("/v1/traveller?piece=BT-1").content)
    assert "µm wet" in text_of(order.get("/v1/traveller?piece=BT-1&units=metric").content)


def test_a_care_card_gives_the_day_of_the_cure_clock(order: Served) -> None:
    def card() -> str:
        return " ".join(text_of(order.get("/v1/care-card?piece=BT-1").content).split())

    assert "its finish is not whole yet" in card()
    order.later(hours=5)
    order.record("coat_applied", pieces=["BT-1"], lot="can-1", room="spray", wet_film_um=100)
    order.later(hours=30)
    order.record("packed", pieces=["BT-1"], touching="paper")
    use: dict[str, Any] = next(
        one for one in order.get("/v1/pieces/BT-1").json()["clock"]["ready"]
        if one["purpose"] == "use"
    )  # fmt: skip
    told = order.get("/v1/care-card?piece=BT-1&format=json").json()["pieces"][0]
    assert (told["likely"], told["sure"]) == (use["likely"], use["sure"])
    assert "likely from" in card()
    assert "surely from" in card()
    assert "data sheet decides" in card()
    order.later(days=40)
    assert "Its finish has cured" in card()
    assert "Until then" not in card()


def test_a_packing_slip_carries_the_signed_head_and_the_shops_key(order: Served) -> None:
    told = order.get("/v1/packing-slip?order=O-1")
    head = order.get("/v1/checkpoint").json()
    assert read(printed(told.content)) == head["note"]
    squeezed = "".join(text_of(told.content).split())
    assert "".join(head["note"].split()) in squeezed
    assert head["key"] in squeezed
    text = " ".join(text_of(told.content).split())
    assert "2 pieces in this box" in text
    assert "not packed yet" in text
    small = order.get("/v1/packing-slip?order=O-1&paper=a6")
    assert page_count(small.content) == 1
    assert read(printed(small.content)) == head["note"]


def test_as_of_an_earlier_time_it_says_what_was_so(order: Served) -> None:
    steps = order.get("/v1/traveller?piece=BT-1&format=json&as_of=2026-03-02T07:30:00Z").json()
    assert [step.get("done", False) for step in steps["sheets"][0]["steps"]] == [False] * 5
