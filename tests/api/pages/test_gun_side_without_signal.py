"""The gun-side page without signal: acts wait on the device, in their order, and go later."""

import json

import pytest
from bench import on_day
from browser import Door
from gun_side import Finisher, describe_shop, finisher
from listening_service import Listening
from playwright.sync_api import Error


def begun(listens: Listening) -> None:
    """A shop with two shelves at the bench and one can."""
    served = listens.served.at("1 06:00")
    describe_shop(listens)
    served.record("lot_received", lot="can-1", product="clear-w", amount_l=5)
    served.record(
        "piece_started", pieces=["S-1", "S-2"], kind="shelf", species="white-oak",
        coat_area_m2=0.4, use="shelf", schedule="shelves",
    )  # fmt: skip


def test_a_day_without_signal_goes_on_by_the_schedule_and_arrives_in_order(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").choose("Sand · P150")
        who.device.away()
        _without_signal(who.main("Sand 2 × shelf"))
        _without_signal(who.main("Take the dust off").tapes("vacuum").main("Log it"))
        _without_signal(who.main("Coat 2 × shelf"))
        assert "3 acts wait" in who.device.reads("header")
        assert "its clock is told once there is signal" in who.device.reads("#view")
        assert [t for t in who.types() if t in ("sanded", "coat_applied")] == []
        who.device.away(away=False)
        who.rests()
        assert who.types()[-3:] == ["sanded", "blown_off", "coat_applied"]
        assert who.device.small_targets() == []


def _without_signal(who: Finisher) -> None:
    who.device.waits_for("Kept on this device", within=".after")
    who.device.tap("Go on")
    who.later()


def test_a_label_read_without_signal_opens_the_page_with_what_was_seen_last(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.away().open("/gun-side#piece=S-2")
        assert "No signal: acts are kept here · as seen 07:00" in who.device.reads("header")
        who.main("Sand S-2")
        who.device.waits_for("Kept on this device", within=".after")
        who.device.away(away=False)
        assert who.recorded().types()[-1] == "sanded"


def test_loading_anew_without_signal_loses_no_act(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").choose("Sand · P150")
        style = "getComputedStyle(document.documentElement).overscrollBehaviorY"
        assert who.device.page.evaluate(style) == "contain"
        who.device.away()
        _without_signal(who.main("Sand 2 × shelf"))
        with pytest.raises(Error, match="ERR_INTERNET_DISCONNECTED"):
            who.device.page.reload()
        who.device.page.wait_for_url("chrome-error://**")
        who.device.away(away=False)
        who.at("1 07:05").rests()
        assert who.types().count("sanded") == 1


def test_a_lost_answer_is_no_second_fact(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.loses_answers(share=1)
        who.choose("Sand · P150").main("Sand 2 × shelf")
        who.device.page.locator("header", has_text="No signal").wait_for()
        assert who.types()[-1] == "sanded"
        who.device.hears_answers()
        who.device.page.evaluate("dispatchEvent(new Event('online'))")
        who.recorded()
        assert who.types().count("sanded") == 1


def test_two_tabs_of_one_phone_show_and_send_the_same_acts_once(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.away()
        other = door.another(who.device.page.context, listens.url, on_day("1 07:00"))
        who.device.away(away=False)
        other.open("/gun-side")
        who.device.away()
        who.choose("Sand · P150").main("Sand 2 × shelf")
        other.page.locator("header", has_text="1 act waits").wait_for()
        who.device.away(away=False)
        for one in (who.device, other):
            one.page.evaluate("dispatchEvent(new Event('online'))")
        for one in (who.device, other):
            one.page.locator("header", has_text="Everything is recorded").wait_for()
        assert who.types().count("sanded") == 1


def test_a_refused_act_says_why_and_is_dropped_with_a_reason(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").choose("Sand · P150")
        who.device.tap("S-2", within=".singles")
        who.device.away()
        _without_signal(who.main("Sand S-1"))
        # Meanwhile somebody at the office shipped it, before it was sanded.
        listens.served.at("1 06:59").record("shipped", pieces=["S-1"])
        who.at_the_same("1 07:10")
        who.device.away(away=False)
        who.device.page.locator("header", has_text="1 act was refused").wait_for()
        who.opens_log()
        assert "Refused:" in who.device.reads("#view")
        assert who.device.barriers() == []
        assert who.device.small_targets() == []
        who.device.page.get_by_text("Drop it").tap()
        who.device.tap("wrong piece", within="#view")
        who.device.waits_for("Dropped: wrong piece")
        assert "Everything is recorded" in who.device.reads("header")
        assert "sanded" not in who.types()


def test_a_refused_act_is_mended_and_sent_again(door: Door, listens: Listening) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").act("Turn over").fill(Pieces="S-9").main("Log it")
        who.device.waits_for("Refused: no piece S-9", within=".after")
        who.opens_log()
        who.device.tap("Mend")
        who.device.tap("S-9", within="#view")
        who.fill(other_pieces="S-1 S-2").main("Save").recorded()
        turned = who.facts()[-1]
        assert (turned["type"], turned["pieces"]) == ("turned", ["S-1", "S-2"])
        assert "Everything is recorded" in who.device.reads("header")


def test_a_device_without_a_database_keeps_its_acts_all_the_same(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.device.page.context.add_init_script(
            "Object.defineProperty(window, 'indexedDB', {get() { throw new Error('none') }})"
        )
        who.at("1 07:00").device.away()
        who.choose("Sand · P150").main("Sand 2 × shelf")
        who.device.waits_for("Kept on this device", within=".after")
        kept = who.device.page.evaluate(
            "Object.entries(localStorage).filter(([k]) => k.startsWith('coatledger.act.'))"
        )
        assert [json.loads(text)["fact"]["type"] for _, text in kept] == ["sanded"]
        who.device.away(away=False)
        who.recorded()
        assert who.types().count("sanded") == 1


def test_a_key_that_was_ended_is_told_and_what_waits_goes_with_the_next_one(
    door: Door, listens: Listening
) -> None:
    begun(listens)
    with finisher(door, listens) as who:
        who.at("1 07:00").device.away()
        who.choose("Sand · P150").main("Sand 2 × shelf")
        kept = "localStorage.getItem('coatledger.key')"
        token = json.loads(who.device.page.evaluate(kept))["token"]
        listens.served.keys.revoke(token[4:12], 1)
        who.at_the_same("1 07:10").device.away(away=False)
        who.device.page.locator("header", has_text="key is not good").wait_for()
        anew = json.dumps({"token": listens.served.key("record", "read"), "scopes": ["record"]})
        who.device.page.evaluate(f"localStorage.setItem('coatledger.key', {anew!r})")
        who.device.open("/gun-side")
        assert who.rests().types()[-1] == "sanded"
