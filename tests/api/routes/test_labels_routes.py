"""Labels over HTTP: sheets in every form, what stands in a code, and parameters that cannot be."""

import pytest
from coatledger.ledger.memory import MemoryStore
from coatledger_api.settings import Settings
from printer import page_count, printed, read, text_of
from served import Served, refusal, serving

PARAMETERS = "base=http://192.168.1.20:8700"


def test_a_sheet_opens_the_gun_side_page_and_says_so_to_people(served: Served) -> None:
    served.pieces("BT-08-1", "BT-08-2")
    answer = served.get(f"/v1/labels?{PARAMETERS}")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == 'inline; filename="labels.pdf"'
    assert "BT-08-1" in text_of(answer.content)
    assert "bedside table, ash" in text_of(answer.content)
    roll = "paper_width_mm=50&paper_height_mm=25&columns=1&rows=1&left_mm=0&top_mm=0"
    answer = served.get(f"/v1/labels?{PARAMETERS}&{roll}&id=BT-08-2")
    assert read(printed(answer.content)) == "http://192.168.1.20:8700/gun-side#piece=BT-08-2"


def test_the_code_holds_an_address_and_a_word_and_nothing_else(served: Served) -> None:
    served.pieces("a")
    served.record("room_described", room="spray", name="Spray room")
    (label,) = served.get("/v1/labels?format=json").json()["labels"]
    assert label["link"] == "http://testserver.local/gun-side#piece=a"
    told = served.get(f"/v1/labels?kind=room&{PARAMETERS}", headers={"Accept": "application/json"})
    assert told.json()["labels"] == [
        {"word": "spray", "link": "http://192.168.1.20:8700/gun-side#room=spray",
         "lines": ["room", "Spray room"]},
    ]  # fmt: skip


def test_the_address_of_the_settings_comes_before_the_requests_own() -> None:
    with serving(MemoryStore("trial"), Settings(public_url="https://bench.example")) as served:
        served.pieces("a")
        (label,) = served.get("/v1/labels?format=json").json()["labels"]
        assert label["link"] == "https://bench.example/gun-side#piece=a"


def test_an_svg_is_one_sheet_of_several(served: Served) -> None:
    served.pieces(*(f"P-{n}" for n in range(10)))
    asked = f"/v1/labels?{PARAMETERS}&format=svg&columns=2&rows=4"
    first, second = served.get(asked), served.get(f"{asked}&sheet=2")
    assert first.headers["content-type"] == "image/svg+xml"
    assert "script" not in first.headers["content-security-policy"]
    assert "sheet 1 of 2" in first.text
    assert (first.text.count("font-weight"), second.text.count("font-weight")) == (8, 2)
    refusal(served.get(f"{asked}&sheet=3"), 404, "not_found")
    assert page_count(served.get(asked.replace("svg", "pdf")).content) == 2


def test_an_empty_shop_gets_an_empty_sheet(served: Served) -> None:
    answer = served.get("/v1/labels")
    assert page_count(answer.content) == 1
    assert served.get("/v1/labels?format=json").json()["labels"] == []


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ("label_width_mm=90", "label_width_mm"),
        ("label_width_mm=12&columns=1", "label_width_mm"),
        ("paper_width_mm=40", "columns"),
        ("rows=40", "rows"),
        ("skip=24", "skip"),
    ],
)
def test_what_does_not_fit_is_refused_by_its_parameter(
    served: Served, query: str, parameter: str
) -> None:
    served.pieces("a")
    faults = refusal(served.get(f"/v1/labels?{query}"), 409, "does_not_fit")
    assert parameter in {place for _, place in faults}


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ("columns=0", "columns"),
        ("base=ftp://bench", "base"),
        ("base=http://bench/here", "base"),
        ("kind=order", "kind"),
        ("paper=a0", "paper"),
    ],
)
def test_what_cannot_be_is_refused_by_its_parameter(
    served: Served, query: str, parameter: str
) -> None:
    faults = refusal(served.get(f"/v1/labels?{query}"), 422, "invalid")
    assert {place for _, place in faults} == {parameter}


def test_a_word_nobody_used_is_not_found(served: Served) -> None:
    served.pieces("a")
    answer = served.get("/v1/labels?id=a&id=nobody")
    refusal(answer, 404, "not_found")
    assert "nobody" in answer.json()["detail"]


def test_a_service_that_sets_no_type_says_so(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("coatledger_api.paper.printing.importlib.util.find_spec", lambda _: None)
    answer = served.get("/v1/labels")
    refusal(answer, 406, "not_acceptable")
    assert "coatledger[labels]" in answer.json()["detail"]
    assert served.get("/v1/labels?format=json").status_code == 200
