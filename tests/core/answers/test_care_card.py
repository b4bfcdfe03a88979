"""The card for the buyer: a day by the cure clock, and none where the finish is not whole."""

from bench import Bench
from coatledger.answers.care_card import ALWAYS, UNTIL_THEN, CareCard, CarePiece, care_card
from coatledger.clocks.clocks import piece_clock
from coatledger.events.judging import DefectFound, ReworkStarted
from coatledger.events.leaving import Packed, Shipped
from coatledger.events.setup import ScheduleDescribed, Step
from coatledger.subjects.asked import ask

STEPS = (Step(act="sand"), Step(act="coat", product="clear-w"), Step(act="pack"))


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.record(ScheduleDescribed, schedule="one", steps=STEPS)
    bench.climate()
    bench.pieces("a", "b", schedule="one")
    return bench


def told(bench: Bench, *words: str) -> CareCard:
    with bench.store.reading() as reader:
        return care_card(reader, ask(reader, bench.now), None, words)


def one(bench: Bench) -> CarePiece:
    (found,) = told(bench, "a").pieces
    return found


def test_the_day_is_that_of_the_cure_clock() -> None:
    bench = shop()
    bench.later(1).coat("a")
    bench.later(30).record(Packed, pieces=("a",), touching="paper")
    bench.later(1).record(Shipped, pieces=("a",))
    use = piece_clock(bench.view(), bench.view().piece("a"), bench.now_us).ready_for("use")
    assert use is not None
    found = one(bench)
    assert (found.likely, found.sure, found.in_use) == (use.likely, use.sure, False)
    assert found.finish == ("clear-w",)
    assert told(bench, "a").until_then == UNTIL_THEN


def test_once_cured_nothing_is_forbidden_that_is_not_for_good() -> None:
    bench = shop()
    bench.later(1).coat("a")
    bench.later(24 * 40)
    assert one(bench).in_use
    assert told(bench, "a").until_then == ()
    assert told(bench, "a").always == ALWAYS
    assert told(bench, "a", "b").until_then == UNTIL_THEN, "another of the card is not"


def test_a_finish_that_is_not_whole_has_no_day() -> None:
    bench = shop()
    assert one(bench).why_not == "its finish is not whole yet"
    bench.later(1).coat("a")
    assert one(bench).why_not is None
    bench.later(30).record(DefectFound, pieces=("a",), kind="nib")
    bench.later(1).record(ReworkStarted, pieces=("a",), remedy="recoat", because="nib")
    assert one(bench).why_not == "it is being reworked"
    assert one(bench).sure is None


def test_a_film_that_dried_too_cold_is_no_film() -> None:
    bench = shop()
    bench.climate(air_c=2.0, rh_pct=60.0)
    bench.later(1).coat("a")
    bench.later(30)
    assert one(bench).why_not == "its film dried too cold to become sound"


def test_pieces_nobody_knows_are_named() -> None:
    assert told(shop(), "a", "x").missing == ("x",)
