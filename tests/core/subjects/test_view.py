"""One place in the ledger: a time, seen from one knowledge."""

from bench import on_day
from coatledger.events.finish import LotReceived
from coatledger.events.room_gun import ClimateRead, GunFlushed, Reading
from coatledger.events.setup import (
    GunDescribed,
    OpenHours,
    ProductDescribed,
    RoomDescribed,
    ScheduleDescribed,
    ShopDescribed,
    Step,
)
from coatledger.ledger.record import micros
from coatledger.subjects.view import View, fold
from story import Story, amended, coated, fact, given, sanded, shipped, started, voided

SHEETS = (
    fact(ProductDescribed, "2 08:00", product="clear", kind="lacquer", recoat_h=2.0),
    fact(ProductDescribed, "4 08:00", product="clear", kind="lacquer", recoat_h=3.0),
)


def view(story: Story, at: str, known: int | None = None) -> View:
    store = story.bench.store
    with store.reading() as reader:
        return View(reader, micros(on_day(at)), known=known)


def test_as_of_a_time_a_piece_was_what_it_had_become_by_then() -> None:
    story = given(started("a"), sanded("a"), coated("a"), shipped("a"))
    stages = [story.piece(at=at).stage for at in ("1 07:00", "1 08:00", "1 09:30", "2 00:00")]
    assert stages == ["unborn", "bare", "prepared", "coated"]
    assert story.piece(at="9 00:00").stage == story.piece().stage == "shipped"


def test_what_was_told_late_was_true_then_and_not_known_then() -> None:
    story = given(started("a"), shipped("a"), coated("a"))
    assert story.piece(at="2 00:00").stage == "coated"
    assert story.piece(at="2 00:00", known=2).stage == "bare"


def test_a_corrected_fact_counts_for_what_it_was_until_it_was_corrected() -> None:
    coat = coated("a", lot="can-1")
    story = given(started("a"), coat, amended(coat, lot="can-2"), voided(coat))
    lots = [[c.lot for c in story.piece(known=k).coats] for k in (1, 2, 3, 4)]
    assert lots == [[], ["can-1"], ["can-2"], []]


def test_a_sheet_counts_from_its_own_time_on_and_the_first_one_before_it_too() -> None:
    story = given(*SHEETS)
    hours = [view(story, at).product("clear") for at in ("1 08:00", "3 08:00", "4 08:00")]
    assert [sheet.recoat_h if sheet else None for sheet in hours] == [2.0, 2.0, 3.0]
    known = view(story, "5 08:00", known=1).product("clear")
    assert known is not None
    assert known.recoat_h == 2.0
    assert view(story, "5 08:00").product("unheard-of") is None
    assert view(story, "5 08:00").product(None) is None


def test_everything_described_later_than_it_was_used_is_known_of_all_the_same() -> None:
    hours = OpenHours(day="mon", opens="08:00", closes="17:00")
    story = given(
        fact(GunDescribed, "5 08:00", gun="g1", body="steel"),
        fact(RoomDescribed, "5 08:00", room="r1", air_min_c=18.0),
        fact(ScheduleDescribed, "5 08:00", schedule="s1", steps=(Step(act="coat"),)),
        fact(ShopDescribed, "5 08:00", zone="UTC", hours=(hours,)),
        SHEETS[1],
        fact(LotReceived, "1 07:00", lot="can-1", product="clear", amount_l=5.0),
    )
    seen = view(story, "1 08:00")
    gun, room = seen.gun_described("g1"), seen.room("r1")
    assert gun is not None
    assert gun.body == "steel"
    assert room is not None
    assert room.air_min_c == 18.0
    assert seen.schedule("s1") is not None
    assert seen.shop() is not None
    assert seen.product_of_lot("can-1") == SHEETS[1]
    assert seen.product_of_lot("can-2") is None
    unknown = view(story, "1 08:00", known=0)
    assert unknown.gun_described("g1") is None
    assert unknown.room("r1") is None
    assert unknown.shop() is None


def test_a_guns_care_is_what_was_done_before_this_place() -> None:
    flushes = [fact(GunFlushed, at, gun="g1") for at in ("1 12:00", "1 17:00")]
    story = given(*flushes)
    noon = view(story, "1 13:00").gun("g1")
    assert noon.flushed == flushes[0]
    assert view(story, "1 08:00").gun("g1").flushed is None


def test_the_air_is_read_up_to_this_place_as_known() -> None:
    reads = [
        fact(ClimateRead, at, room="r", readings=(Reading(air_c=air, rh_pct=50.0),))
        for at, air in (("1 08:00", 18.0), ("1 12:00", 21.0))
    ]
    story = given(*reads)
    before = [view(story, at).climate_before("r") for at in ("1 07:00", "1 09:00", "1 13:00")]
    assert [row.air_c if row else None for row in before] == [None, 18.0, 21.0]
    known = view(story, "1 13:00", known=1).climate_before("r")
    assert known is not None
    assert known.air_c == 18.0
    assert view(story, "1 13:00").climate_before(None) is None
    first, last = micros(on_day("1 00:00")), micros(on_day("2 00:00"))
    assert len(view(story, "1 13:00").climate("r", first, last)) == 2


def test_a_fold_of_nothing_is_the_word_nobody_used() -> None:
    assert fold("piece:a", ()) == given().piece("a")
