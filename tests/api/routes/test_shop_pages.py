"""The pages are open to all, hold nothing of the shop, and load nothing from elsewhere."""

import gc
import json
import re
import sys
from importlib.resources import files

import pytest
from coatledger_api.shop_pages.files import PAGES, TYPES, static_file
from served import Served, refusal

STATIC = tuple(
    sorted(one.name for one in files("coatledger_api.shop_pages").joinpath("static").iterdir())
)
ASSETS = tuple(name for name in STATIC if not name.endswith(".html"))


@pytest.mark.parametrize("page", PAGES)
def test_a_page_is_open_to_all_and_the_same_whatever_the_shop_holds(
    served: Served, page: str
) -> None:
    before = served.get(f"/{page}", token=None)
    served.pieces("W-1")
    after = served.get(f"/{page}", token=None)
    assert before.status_code == 200
    assert before.headers["content-type"] == "text/html; charset=utf-8"
    assert before.content == after.content
    policy = before.headers["content-security-policy"]
    assert policy.startswith("default-src 'self';")
    assert "unsafe" not in policy


@pytest.mark.parametrize("page", PAGES)
def test_a_page_names_only_files_that_are_there_and_runs_nothing_written_into_it(
    served: Served, page: str
) -> None:
    text = served.get(f"/{page}", token=None).text
    named = re.findall(r'(?:src|href)="([^"]+)"', text)
    for address in named:
        assert served.get(address, token=None).status_code == 200, address
    assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", text)


@pytest.mark.parametrize("name", ASSETS)
def test_a_file_is_served_with_its_type_and_known_again(served: Served, name: str) -> None:
    answer = served.get(f"/pages/{name}", token=None)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(TYPES[name.rpartition(".")[2]])
    known = served.get(
        f"/pages/{name}", token=None, headers={"If-None-Match": answer.headers["etag"]}
    )
    assert known.status_code == 304
    assert not known.content


@pytest.mark.parametrize("name", ASSETS)
def test_no_file_names_an_address_outside_the_shop(name: str) -> None:
    found = static_file(name)
    assert found is not None
    text = found.body.decode()
    outside = set(re.findall(r"https?://[^\s\"'<>]+", text))
    assert outside <= {"http://www.w3.org/2000/svg"}
    if not name.endswith(".js"):
        return
    for imported in re.findall(r'(?:from|import\() ?"([^"]+)"', text):
        assert imported.removeprefix("./") in ASSETS


@pytest.mark.parametrize("name", ["nothing.js", "files.py", "wall.html", "look.css.js"])
def test_what_is_no_file_of_the_pages_is_not_there(served: Served, name: str) -> None:
    refusal(served.get(f"/pages/{name}", token=None), 404, "not_found")


def test_what_strangers_ask_for_is_not_kept() -> None:
    assert static_file("look.css") is not None
    gc.collect()
    before = sys.getallocatedblocks()
    assert not any(static_file(f"nothing-{number}.js") for number in range(20_000))
    assert sys.getallocatedblocks() - before < 2_000


def test_a_file_in_another_form_than_asked_for_is_refused(served: Served) -> None:
    answer = served.get("/pages/look.css", token=None, headers={"Accept": "image/png"})
    refusal(answer, 406, "not_acceptable")


def test_the_catalogue_names_twelve_months_and_seven_days() -> None:
    times = json.loads(static_file("texts.en.json").body)["times"]  # type: ignore[union-attr]
    assert list(times["month"]) == [str(month) for month in range(1, 13)]
    assert list(times["weekday"]) == [str(day) for day in range(7)]


def test_every_text_a_page_asks_for_by_name_is_in_the_catalogue() -> None:
    catalogue = json.loads(static_file("texts.en.json").body)  # type: ignore[union-attr]
    asked = set()
    for name in STATIC:
        text = files("coatledger_api.shop_pages").joinpath("static", name).read_text("utf-8")
        asked |= set(re.findall(r'\bt\(\s*"([\w.]+)"', text))
        asked |= set(re.findall(r'data-(?:text|label|hint)="([\w.]+)"', text))
    missing = []
    for place in sorted(asked):
        at = catalogue
        for step in place.split("."):
            at = at.get(step, {}) if isinstance(at, dict) else {}
        if not at:
            missing.append(place)
    assert asked
    assert not missing
