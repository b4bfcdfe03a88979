"""Films on one another: what is still wet below, and runs at moments of the past."""

from bench import Bench, on_day
from coatledger.clocks.films import films_of
from coatledger.clocks.rooms import LOOK_BACK_US, Rooms, path_of
from coatledger.clocks.runs import Run, runs_of
from coatledger.computations.drying_climate import NEVER_US
from coatledger.events.coating import Moved
from coatledger.ledger.record import micros
from hypothesis import given
from hypothesis import strategies as st

COATS = st.lists(st.tuples(st.integers(0, 9), st.sampled_from([60.0, 100.0, 180.0])), max_size=4)


def runs(bench: Bench, words: list[str]) -> list[Run]:
    view, now_us = bench.view(), bench.now_us
    rooms = Rooms(view, now_us, micros(on_day("1 07:00")))
    pieces = [view.piece(word) for word in words]
    return [run for piece in pieces for run in runs_of(piece, films_of(view, piece), now_us, rooms)]


@given(
    COATS, st.lists(st.tuples(st.integers(7, 20), st.sampled_from(["spray", "rack"])), max_size=3),
    st.integers(7, 23),
)  # fmt: skip
def test_a_run_at_an_earlier_moment_knows_nothing_of_what_came_later(
    coats: list[tuple[int, float]], moves: list[tuple[int, str]], hour: int
) -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    for room, air_c in (("spray", 21.0), ("rack", 17.0)):
        for step in range(3):
            bench.climate(air_c + step, 50.0 + step, room=room, at=f"1 {8 + 3 * step}:00")
    for at, film_um in sorted(coats):
        bench.coat("T-1", at=f"1 {8 + at}:30", wet_film_um=film_um, room=None)
    for at, room in sorted(moves):
        bench.record(Moved, pieces=("T-1",), room=room, at=f"1 {at}:00")
    bench.at("1 23:30")
    view, then_us = bench.view(), micros(on_day(f"1 {hour}:30"))
    piece = view.piece("T-1")
    films = films_of(view, piece)
    whole = Rooms(view, bench.now_us, micros(on_day("1 07:00")))
    whole.follow(path_of(piece, films, bench.now_us))
    early = runs_of(piece, films, then_us, whole)
    own = runs_of(piece, films, then_us, Rooms(view, then_us, micros(on_day("1 07:00"))))
    assert [(run.below_um, run.times_us, run.void_us) for run in early] == [
        (run.below_um, run.times_us, run.void_us) for run in own
    ]


def test_what_is_still_wet_below_shrinks_as_the_next_coat_waits() -> None:
    below = []
    for hour in (8, 9, 10, 11):
        bench = Bench().open_shop()
        bench.pieces("T-1")
        bench.coat("T-1", at="1 08:00")
        bench.coat("T-1", at=f"1 {hour}:00")
        (run,) = runs(bench.at("1 12:00"), ["T-1"])
        below.append(run.below_um[1])
    assert below == sorted(below, reverse=True)
    assert (below[0], below[-1]) == (100.0, 0.0)


def test_a_sound_film_is_never_void_and_an_old_one_is_left_alone() -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    bench.coat("T-1", at="1 08:00")
    (run,) = runs(bench.at("1 12:00"), ["T-1"])
    assert run.void_us == (NEVER_US,)
    bench.coat("T-1", at="1 13:00")
    bench.at("140 08:00").coat("T-1")
    (run,) = runs(bench, ["T-1"])
    assert [film.applied_us for film in run.films] == [micros(on_day("140 08:00"))]
    assert run.films[0].applied_us > bench.now_us - LOOK_BACK_US
