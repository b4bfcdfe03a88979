"""One piece's life: what is shared between its places is what each place would have read itself."""

import pytest
from bench import Bench, on_day
from coatledger.clocks.clocks import piece_clock
from coatledger.events.coating import DrynessChecked, Moved
from coatledger.events.finish import LotStirred
from coatledger.events.judging import ReworkFinished, ReworkStarted
from coatledger.events.leaving import Packed
from coatledger.findings.find import findings_of_life
from coatledger.findings.life import Life
from coatledger.ledger.record import micros
from coatledger.subjects.view import View
from judged import ready, scuffed


def lived(cold_c: float = 21.0, later_c: float | None = None) -> Bench:
    """Coats, moves, checks and a strip over three days; the air read for six weeks."""
    bench = ready()
    for day in range(1, 43):
        rack_c = cold_c if later_c is None or day < 23 else later_c
        for room, air_c in (("spray", 21.0), ("rack", rack_c)):
            bench.climate(air_c, 55.0, room=room, at=f"{day} 07:50")
    bench.now = on_day("1 08:00")
    bench.coat("T-1", "T-2")
    bench.record(Moved, pieces=("T-1", "T-2"), room="rack")
    bench.later(2).record(DrynessChecked, pieces=("T-1",), stage="sandable", ready=False)
    bench.at("2 08:00").record(ReworkStarted, pieces=("T-1",), remedy="strip")
    bench.later(1).record(ReworkFinished, pieces=("T-1",), done="strip")
    scuffed(bench.later(1), "T-1")
    bench.record(LotStirred, lot="can-1")
    bench.coat("T-1")
    bench.record(Moved, pieces=("T-1",), room="rack")
    bench.later(1).coat("T-1")
    bench.record(Moved, pieces=("T-1",), room="rack")
    return bench.at("43 08:00")


def life(bench: Bench) -> Life:
    with bench.store.reading() as reader:
        return Life(View(reader, bench.now_us), "T-1")


def test_a_state_stands_before_each_fact_and_one_at_the_end() -> None:
    one = life(lived())
    assert len(one.states) == len(one.placed) + 1
    assert one.states[0].stage == "unborn"
    assert one.end == one.view.piece("T-1")


def test_what_is_folded_on_from_place_to_place_is_what_each_place_folds_itself() -> None:
    one = life(lived())
    for placed, state in zip(one.placed, one.states, strict=False):
        shared = one.before(placed, state)
        own = View(one.view.reader, placed.at_us, before=placed.position)
        assert shared.piece("T-1") == own.piece("T-1")
        assert shared.piece("T-2") == own.piece("T-2")
        assert shared.lot("can-1") == own.lot("can-1")
        assert shared.lot("nobody's") == own.lot("nobody's")
        assert shared.gun_described("g1") == own.gun_described("g1")
        assert shared.last("gun:g1", ("coat_applied",), 3) == own.last(
            "gun:g1", ("coat_applied",), 3
        )


@pytest.mark.parametrize("cold_c", [21.0, 17.0, 2.0])
def test_air_read_only_while_it_matters_gives_the_clock_that_all_of_it_gives(cold_c: float) -> None:
    """At 2 C the film is not cured for weeks: the rooms are read on for it."""
    bench = lived(cold_c)
    one = life(bench)
    by_all = piece_clock(one.view, one.end, bench.now_us)
    assert one.air.last_us < bench.now_us
    assert piece_clock(one.view, one.end, bench.now_us, rooms=one.air) == by_all
    assert (one.air.last_us == bench.now_us) == (cold_c < 10.0)


@pytest.mark.parametrize(("later_c", "is_cured"), [(2.0, False), (35.0, True)])
def test_a_wait_weeks_later_reads_on_when_the_film_was_not_there(
    later_c: float, is_cured: bool
) -> None:
    """Some weeks are foreseen; what the air was after them decides on the thirtieth day."""
    bench = lived(2.0, later_c)
    bench.record(Packed, pieces=("T-1",), touching="plastic_film", at="30 08:00")
    found = {finding.code for finding in findings_of_life(life(bench))}
    assert ("clinging_wrap" in found) != is_cured


def test_the_stripped_films_own_air_is_read_too() -> None:
    one = life(lived())
    assert one.air.first_us == micros(on_day("1 08:00"))
