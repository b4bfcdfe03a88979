"""When the pieces that dry now may be touched and packed: the clocks' own words, by act."""

from bench import on_day
from coatledger.answers.day_plan.films import minute
from coatledger.answers.pieces import clock_list
from coatledger.events.coating import DrynessChecked, Moved
from coatledger.events.leaving import Packed
from coatledger.subjects.asked import ask
from planned import planned, shop


def test_pieces_of_one_act_stand_together_with_the_last_one_s_times() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", "b", schedule="two")
    bench.coat("a", "b")
    plan = planned(bench.later(0.1))
    (one,) = plan.drying
    assert one.pieces == ("a", "b")
    assert [film.purpose for film in one.ready] == ["touch", "recoat", "stack", "pack", "use"]
    with bench.store.reading() as reader:
        told = clock_list(reader, ask(reader, bench.now)).clocks
    for film in one.ready:
        times = [clock.ready_for(film.purpose) for clock in told]
        assert film.sure == max(minute(time.sure) for time in times if time and time.sure)


def test_what_is_past_is_left_out_and_what_is_packed_is_no_longer_looked_at() -> None:
    bench = shop("1 08:00")
    bench.pieces("a", schedule="two")
    bench.coat("a")
    plan = planned(bench.at("1 16:00"))
    assert [film.purpose for film in plan.drying[0].ready] == ["stack", "pack", "use"]
    bench.at("4 08:00")
    assert planned(bench).drying == ()
    bench.record(Packed, pieces=("a",), touching="paper")
    assert planned(bench).drying == ()


def test_pieces_whose_times_have_drawn_apart_are_told_apart() -> None:
    bench = shop("1 08:00")
    bench.climate(air_c=12.0, rh_pct=80.0, room="cold")
    bench.pieces("a", "b", schedule="two")
    bench.coat("a", "b")
    bench.record(Moved, pieces=("b",), room="cold")
    assert len(planned(bench.later(0.5)).drying) == 2
    warm = shop("1 08:00")
    warm.pieces("a", "b", schedule="two")
    warm.coat("a", "b")
    warm.at("1 10:00").record(DrynessChecked, pieces=("b",), stage="sandable", ready=False)
    assert [one.pieces for one in planned(warm).drying] == [("a",), ("b",)]


def test_nothing_is_ready_before_its_time() -> None:
    assert minute(on_day("1 08:00")) == on_day("1 08:00")
    assert minute(on_day("1 08:00").replace(second=1)) == on_day("1 08:01")
