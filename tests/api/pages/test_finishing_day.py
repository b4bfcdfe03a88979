"""A whole finishing day on the gun-side page alone, from the first can to the last box."""

from browser import Door
from gun_side import Finisher, describe_shop, finisher
from listening_service import Listening

PIECES = ("S-1", "S-2", "S-3")


def test_a_day_is_logged_by_tapping_and_the_service_answers_the_same(
    door: Door, listens: Listening
) -> None:
    describe_shop(listens)
    with finisher(door, listens) as who:
        before = len(who.types())
        _bring_in(who.at("1 07:00"))
        _first_coat(who)
        _second_coat(who.at("1 11:30"))
        _one_comes_back(who)
        _end_the_day(who)
        _pack_and_ship(who.at("3 07:30"))
        assert who.device.wrong == []
        facts = who.facts()[before:]
    ids = [fact["id"] for fact in facts]
    assert len(ids) == len(set(ids))
    assert [fact["type"] for fact in facts] == [
        "lot_received", "lot_opened", "lot_stirred", "lot_strained", "viscosity_measured",
        "climate_read", "piece_started",
        "sanded", "event_voided", "sanded", "blown_off", "coat_applied",
        "sanded", "blown_off", "coat_applied", "event_amended", "coat_applied",
        "defect_found", "rework_started", "sanded", "rework_finished", "coat_applied",
        "dryness_checked", "gun_flushed", "climate_read",
        "inspected", "packed", "shipped",
    ]  # fmt: skip
    for piece in PIECES:
        answer = listens.served.get(f"/v1/pieces/{piece}").json()
        assert answer["stage"] == "shipped"
        assert (answer["coats_done"], answer["coats_wanted"]) == (2, 2)
    coats = [fact for fact in facts if fact["type"] == "coat_applied"]
    assert {(c["lot"], c.get("gun"), c.get("room")) for c in coats} == {("can-1", "g1", "spray")}
    assert [c.get("role", "build") for c in coats][:2] == ["sealer", "top"]


def _bring_in(who: Finisher) -> None:
    who.act("A can came in").fill(Can="can-1", Product="clear-w", How_much="5").log_it()
    who.device.open("/gun-side#lot=can-1")
    for done in ("Opened", "Stirred", "Strained"):
        who.device.waits_for("Done to can can-1")
        who.tapes(done).recorded().later().device.open("/gun-side#lot=can-1")
    who.tapes("Measure viscosity", "Ford cup 4").fill(Time_through="30").log_it()
    who.device.open("/gun-side#room=spray")
    who.tapes("Read the room's air").fill(Air="21", Humidity="50").log_it()
    who.act("Start pieces").fill(Pieces=" ".join(PIECES), Kind="shelf", Wood="white-oak")
    who.fill(Area_to_coat="0.4").tapes("shelf")
    who.device.page.get_by_text("More, if you know it").tap()
    who.fill(Schedule="shelves").log_it()


def _first_coat(who: Finisher) -> None:
    who.device.tap("Go on")
    who.choose("Sand · P150").main("Sand 3 × shelf, white oak").recorded()
    who.device.page.wait_for_timeout(800)  # a second touch of the same tap is no undo
    who.main("Undo: Sanded")
    who.device.page.locator(".after").wait_for(state="detached")
    who.later().device.page.locator(".foot .main", has_text="Sand").wait_for()
    who.main("Sand").go_on()
    who.main("Take the dust off").tapes("vacuum").log_it()
    who.device.tap("Go on")
    who.later().main("Coat 3 × shelf, white oak").recorded()
    told = who.device.reads(".after")
    assert "Touch-dry not before 07:" in told
    assert "Next coat likely from 10:" in told


def _second_coat(who: Finisher) -> None:
    who.choose("Scuff · P320").main("Scuff 3 × shelf").go_on()
    who.main("Take the dust off 3 × shelf").go_on()
    who.device.tap("S-3", within=".singles")
    who.main("Coat 2 × shelf").recorded()
    who.device.page.get_by_text("One of them was wrong").tap()
    who.device.tap("Without S-2")
    who.device.waits_for("put right", within=".after")
    who.rests().later().device.open("/gun-side#piece=S-2")
    who.main("Coat S-2").recorded().later()


def _one_comes_back(who: Finisher) -> None:
    who.later(60).device.open("/gun-side#piece=S-1")
    who.device.tap("A fault", within="#view")
    who.tapes("nib (speck)").recorded().later()
    who.device.tap("Go on")
    who.main("Start rework S-1").tapes("spot sand").log_it()
    who.device.tap("Go on")
    who.act("Sand").tapes("one spot", "P400").log_it()
    who.device.tap("Go on")
    who.main("Rework is done S-1").tapes("spot sand").log_it()


def _end_the_day(who: Finisher) -> None:
    who.at("1 15:40").device.open("/gun-side#piece=S-3")
    who.main("Coat S-3").recorded().later(30)
    who.device.open("/gun-side#piece=S-1")
    who.device.tap("Dry yet?", within="#view")
    who.tapes("touch-dry", "yes").log_it()
    who.device.open("/gun-side#gun=g1")
    who.tapes("Flushed with water").recorded().later()
    who.device.tap("Room air", within="#view")
    who.fill(Air="20.5", Humidity="48").log_it()


def _pack_and_ship(who: Finisher) -> None:
    who.choose("Look over").main("Pass at the final look 3 × shelf").go_on()
    who.main("Pack 3 × shelf").tapes("paper").log_it()
    who.device.tap("Go on")
    who.later().main("Ship 3 × shelf").recorded()
