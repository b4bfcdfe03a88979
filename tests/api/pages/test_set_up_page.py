"""The first hour of a shop on the set-up page alone, and everything on it for everybody."""

import json
import re
from collections.abc import Callable, Mapping

import pytest
from browser import DESK, PHONE, Door
from coatledger_api.shop_pages.act_forms import act_forms
from coatledger_api.shop_pages.files import static_file
from listening_service import Listening
from office import Office, office

SHEET = {
    "product": "clear-w", "name": "Clear, water-borne", "reference_wet_film_um": "100",
    "touch_dry_h": "0.5", "recoat_h": "3", "stack_h": "12", "wrap_h": "24", "cure_h": "168",
    "volume_solids_pct": "33",
}  # fmt: skip


def first_hour(who: Office) -> None:
    """Hang up everything a promise needs, and the first pieces."""
    who.goes_to("shop").fill({"zone": "Europe/Lisbon", "people": "2"}).hang_up()
    who.goes_to("room").hang_up()
    who.goes_to("gun").hang_up()
    who.goes_to("product").fill(SHEET).tapes("water-borne").hang_up()
    who.goes_to("schedule").fill({"schedule": "decor-clear"}).choose(used_as="decor")
    who.tapes("Propose the steps").device.waits_for("steps are proposed")
    who.hang_up()
    who.goes_to("offering").fill({"offering": "bedside", "skus": "BT-ASH BT-ASH-L"})
    who.tapes("decor-clear").fill({"species": "ash", "coat_area_m2": "0.9"}).hang_up()
    who.goes_to("pieces").fill({"kind": "bedside table", "species": "ash", "coat_area_m2": "0.9"})
    who.device.page.locator("[name=begins]").fill("BT-01-")
    who.device.page.locator("[name=many]").fill("4")
    who.tapes("decor", "decor-clear").hang_up("They stand at the bench")


def test_the_first_hour_ends_with_a_promised_day_and_a_paired_phone(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        assert who.hangs("shop").endswith("hang this up next")
        first_hour(who)
        assert "4 pieces stand at the bench." in who.says()
        who.goes_to("quote").tapes("Ask for the day").device.waits_for("Ships by")
        told = who.device.reads(".answer")
        who.device.page.go_back()
        who.goes_to("phone").tapes("Show the code")
        code = who.device.reads(".code strong")
        with door.device(listens.url) as phone:
            phone.open(f"/pair#{code}").waits_for("paired as phone at the gun")
            phone.open("/gun-side").waits_for("bedside table")
        who.device.waits_for("Paired: phone at the gun")
        assert "phone at the gun" in who.hangs("phone")
        who.goes_to("phone").hang_up("End the key of phone at the gun")
        assert "the hook is empty" in who.hangs("phone")
        assert who.device.wrong == []
    served = listens.served
    shop = served.get("/v1/shop").json()
    assert (shop["zone"], shop["described"]["people"]) == ("Europe/Lisbon", 2)
    assert [one["room"] for one in served.get("/v1/rooms").json()["rooms"]] == ["spray"]
    pieces = served.get("/v1/pieces").json()["pieces"]
    assert [one["piece"] for one in pieces] == [f"BT-01-{n}" for n in range(1, 5)]
    asked = {"lines": [{"offering": "bedside"}]}
    quote = served.ask("POST", "/v1/promises/quote", json=asked).json()
    day = int(quote["ships_by"][8:])
    assert f"{day} " in told.partition("Ships by")[2].partition(":")[0]
    assert f"{quote['level_pct']:g} %" in told


def test_what_hangs_is_read_back_and_a_change_is_a_later_fact(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        who.goes_to("room").hang_up()
        listens.served.later(minutes=5)
        who.device.at(listens.served.clock).open("/set-up")
        assert "spray" in who.hangs("room")
        who.goes_to("room").tapes("Say anew: spray").fill({"rh_max_pct": "60"})
        who.hang_up("Record it as so from now on")
        before, after = who.last_facts("room_described")
        assert (before["rh_max_pct"], after["rh_max_pct"]) == (50, 60)
        assert before["occurred_at"] < after["occurred_at"]
        assert {**before, **{k: after[k] for k in ("id", "occurred_at", "rh_max_pct")}} == after


def test_what_was_begun_is_there_again_and_nothing_was_written(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        who.goes_to("product").fill({"product": "oil-1", "cure_h": "300"}).tapes("oil-based")
        who.device.open("/set-up#product")
        assert who.device.page.locator("[name=cure_h]").input_value() == "300"
        assert who.device.named("oil-based").get_attribute("aria-pressed") == "true"
        assert listens.served.size == 0


def test_faults_stand_at_their_fields_and_nothing_is_written(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        page = who.device.page
        who.goes_to("room").fill({"room": "no good", "rh_max_pct": "140"}).tapes("Hang it up")
        for name, says in (("room", "one short word"), ("rh_max_pct", "this cannot be")):
            field = page.locator(f'[data-field="{name}"]').last
            assert says in field.locator(".fault").inner_text(), name
            assert field.locator("input").get_attribute("aria-invalid") == "true"
        assert page.evaluate("document.activeElement.name") == "room"
        assert who.device.barriers() == []
        assert listens.served.size == 0


def test_what_the_service_refuses_stands_at_its_field_too(door: Door, listens: Listening) -> None:
    with office(door, listens) as who:
        listens.served.pieces("W-1")
        who.goes_to("pieces").fill({"kind": "shelf", "species": "ash", "coat_area_m2": "1"})
        who.device.page.locator("[name=typed]").fill("W-2 W-1")
        who.tapes("shelf", "They stand at the bench")
        fault = who.device.page.locator('[data-field="pieces"] .fault')
        fault.get_by_text("W-1 is already").wait_for()
        assert listens.served.get("/v1/pieces/W-2").status_code == 404


def test_what_a_silent_sheet_is_reckoned_with_is_named_as_practice(
    door: Door, listens: Listening
) -> None:
    with office(door, listens) as who:
        who.goes_to("product").fill({"recoat_h": "4"}).tapes("water-borne")
        who.device.waits_for("your sheet", within=".reckoned")
        rows = who.device.page.locator(".reckoned tr").all_inner_texts()
        assert [row.split("\t")[-1] for row in rows].count("your sheet") == 1
        assert any("4 h\tyour sheet" in row for row in rows)
        assert [row.split("\t")[-1] for row in rows].count("common practice, not your sheet") == 5


def test_fields_are_in_the_shops_own_units(door: Door, listens: Listening) -> None:
    with office(door, listens) as who:
        who.goes_to("shop").tapes("°F, mil, fl oz, ft²").hang_up()
        who.goes_to("room")
        assert who.device.page.locator("[name=air_min_c]").input_value() == "66"
        assert "(°F)" in who.device.reads(".behind")
        who.fill({"air_max_c": "77"}).hang_up()
        fact = who.last_facts("room_described")[-1]
        assert (fact["air_min_c"], fact["air_max_c"]) == (19, 25)
        who.goes_to("product").fill({"product": "p", "reference_wet_film_um": "4"})
        who.tapes("lacquer").hang_up()
        assert who.last_facts("product_described")[-1]["reference_wet_film_um"] == 101.6


def test_what_the_page_does_not_ask_outlives_a_change(door: Door, listens: Listening) -> None:
    sheet = {"product": "w", "kind": "lacquer", "sheet_sha256": "a" * 64, "cure_h": 100}
    with office(door, listens) as who:
        listens.served.record("product_described", **sheet)
        who.device.at(listens.served.later(minutes=1).clock).open("/set-up")
        who.goes_to("product").tapes("Say anew: w").fill({"cure_h": "120"})
        who.hang_up("Record it as so from now on")
        fact = who.last_facts("product_described")[-1]
        assert {name: fact[name] for name in sheet} == {**sheet, "cure_h": 120}


def test_every_field_of_a_description_is_asked_and_every_hint_is_of_one() -> None:
    forms = json.loads(act_forms())
    catalogue = json.loads(static_file("texts.en.json").body)["set_up"]  # type: ignore[union-attr]
    script = static_file("set-up-sections.js").body.decode()  # type: ignore[union-attr]
    asked = set(re.findall(r'"([a-z0-9_]+)"', script))
    for kind in ("shop", "room", "gun", "product", "schedule", "offering"):
        names = {field["name"] for field in forms[f"{kind}_described"]["fields"]}
        # The sheet's own file and the look, which a proposal asks for, are told elsewhere.
        assert names - asked <= {"note", "sheet_sha256", "look"}, kind
        assert set(catalogue["hints"][kind]) <= names
        assert {"title", "why", "depends"} <= set(catalogue[kind])


def test_days_off_are_told_and_taken_back(door: Door, listens: Listening) -> None:
    with office(door, listens) as who:
        who.goes_to("closures").fill({"first_day": "2026-12-24", "last_day": "2026-12-27"})
        who.hang_up()
        assert "24 Dec 2026" in who.hangs("closures")
        who.goes_to("closures").hang_up("Take back: 24 Dec 2026 to 27 Dec 2026")
        assert "none told" in who.hangs("closures")
        assert [one.get("cancelled", False) for one in who.last_facts("closure_announced")] == [
            False,
            True,
        ]


def test_a_date_is_written_day_first_in_whatever_region_a_browser_is(
    door: Door, listens: Listening
) -> None:
    with office(door, listens, language="en-US") as who:
        who.goes_to("closures").fill({"first_day": "2026-11-02", "last_day": "2026-11-02"})
        who.hang_up()
        assert "2 Nov 2026" in who.hangs("closures")


def test_a_step_can_be_moved_left_out_and_added(door: Door, listens: Listening) -> None:
    with office(door, listens) as who:
        who.goes_to("product").fill({"product": "w"}).tapes("water-borne").hang_up()
        who.goes_to("schedule").fill({"schedule": "mine"}).tapes("Propose the steps")
        who.device.waits_for("steps are proposed")
        steps = who.device.page.locator(".steps > li")
        was = steps.locator("summary").all_inner_texts()
        steps.nth(1).locator("summary").tap()
        who.tapes("Step 2 sooner")
        steps.last.locator("summary").tap()
        who.tapes(f"Leave step {len(was)} out", "One more step")
        steps.last.get_by_role("button", name="pack", exact=True).tap()
        now = steps.locator("summary").all_inner_texts()
        assert now == [was[1], was[0], *was[2:-1], "pack"]
        who.hang_up()
        told = who.last_facts("schedule_described")[-1]["steps"]
        assert len(told) == len(was)
        assert told[-1] == {"act": "pack"}
        assert {s["product"] for s in told if s["act"] == "coat"} == {"w"}


def test_the_page_works_with_a_keyboard_alone(door: Door, listens: Listening) -> None:
    with office(door, listens) as who:
        page = who.device.page
        page.locator('a.peg[href="#room"]').focus()
        page.keyboard.press("Enter")
        page.locator(".behind").wait_for()
        assert page.evaluate("document.activeElement.tagName") == "H2"
        for _ in range(20):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.name") == "room":
                break
        page.keyboard.press("Control+A")
        page.keyboard.type("dry")
        page.keyboard.press("Enter")
        page.locator(".pegs").wait_for()
        assert who.last_facts("room_described")[-1]["room"] == "dry"


PLACES: Mapping[str, Callable[[Office], object]] = {
    place: lambda who, place=place: who.device.open(f"/set-up#{place}")  # type: ignore[misc]
    for place in (
        "", "shop", "closures", "room", "gun", "product", "schedule", "offering", "pieces",
        "phone", "quote", "table",
    )
}  # fmt: skip


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_every_sheet_is_for_everybody(
    door: Door, listens: Listening, size: Mapping[str, int]
) -> None:
    with office(door, listens) as who:
        first_hour(who)
        who.device.page.set_viewport_size(dict(size))  # type: ignore[arg-type]
        for place, goes in PLACES.items():
            goes(who)
            page = who.device.page
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            assert who.device.small_targets() == [], place
            for scheme, media in (("light", "screen"), ("dark", "screen"), ("light", "print")):
                assert who.device.looks(scheme, media).barriers() == [], (place, scheme, media)
            who.device.looks("light")
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], place
        assert who.device.wrong == []


def test_a_key_that_only_looks_is_told_what_it_lacks(door: Door, listens: Listening) -> None:
    with office(door, listens, scopes=("read",)) as who:
        assert "needs a key that may record" in who.device.reads()
        assert who.device.page.locator(".pegs").count() == 0
