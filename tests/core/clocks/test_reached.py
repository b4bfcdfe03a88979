"""The quick answer whether a film was ready never disagrees with the clock."""

from bench import Bench, on_day
from coatledger.clocks.clocks import piece_clock
from coatledger.clocks.reached import Reach
from coatledger.computations.drying import STAGES, Stage
from coatledger.ledger.record import micros
from hypothesis import given
from hypothesis import strategies as st

READING = st.tuples(st.integers(10, 30), st.integers(20, 90))


def shop(readings: list[tuple[int, int]], second: int | None) -> Bench:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    for i, (air_c, rh_pct) in enumerate(readings):
        bench.climate(float(air_c), float(rh_pct), at=f"1 {7 + i}:30")
    bench.coat("T-1", at="1 08:00")
    if second is not None:
        bench.coat("T-1", at=f"1 {8 + second}:00", wet_film_um=130.0)
    return bench


@given(
    readings=st.lists(READING, max_size=4),
    second=st.none() | st.integers(1, 5),
    stage=st.sampled_from(STAGES),
    hour=st.integers(14, 23),
    day=st.sampled_from([1, 2, 3, 12]),
)
def test_the_quick_bound_agrees_with_the_clock(
    readings: list[tuple[int, int]], second: int | None, stage: Stage, hour: int, day: int
) -> None:
    bench = shop(readings, second)
    at = f"{day} {hour}:00"
    view, at_us = bench.view(at), micros(on_day(at))
    piece = view.piece("T-1")
    likely = piece_clock(view, piece, at_us).faces[0].at(stage).likely
    ready = likely is not None and micros(likely) <= at_us
    assert (Reach(view).wait(piece, stage, at_us) is None) == ready


def test_a_bare_piece_waits_for_nothing() -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    view = bench.view()
    assert Reach(view).wait(view.piece("T-1"), "sandable", bench.now_us) is None


def test_a_wait_tells_its_film_and_how_much_of_it_had_passed() -> None:
    bench = shop([(21, 50)], None)
    view, at_us = bench.view("1 09:30"), micros(on_day("1 09:30"))
    wait = Reach(view).wait(view.piece("T-1"), "sandable", at_us)
    assert wait is not None
    assert wait.ready_us == micros(on_day("1 11:00"))
    assert wait.share == 0.5
    assert not wait.assumed


def test_only_the_faces_asked_for_count() -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    bench.coat("T-1", at="1 08:00", faces=("underside",))
    view, at_us = bench.view("1 09:00"), micros(on_day("1 09:00"))
    piece, reach = view.piece("T-1"), Reach(view)
    assert reach.wait(piece, "sandable", at_us, ("show",)) is None
    assert reach.wait(piece, "sandable", at_us, ("underside",)) is not None
