"""Films run over their air together are what each is alone."""

import numpy as np
from bench import Bench, on_day
from coatledger.clocks.films import films_of, stacks_of
from coatledger.clocks.rooms import LOOK_BACK_US, Rooms, path_of
from coatledger.clocks.runs import Run, run_all
from coatledger.computations.drying_climate import NEVER_US
from coatledger.ledger.record import micros
from hypothesis import given
from hypothesis import strategies as st

COATS = st.lists(st.tuples(st.integers(0, 9), st.sampled_from([60.0, 100.0, 180.0])), max_size=4)


def runs(bench: Bench, words: list[str]) -> list[Run]:
    view, now_us = bench.view(), bench.now_us
    every = []
    for word in words:
        piece = view.piece(word)
        films = films_of(view, piece)
        path = path_of(piece, films, now_us)
        every += [Run(stack, path, piece.checks, now_us) for stack in stacks_of(films)]
    run_all(every, Rooms(view, now_us, micros(on_day("1 07:00"))), {})
    return every


@given(first=COATS, second=COATS)
def test_together_is_as_alone(
    first: list[tuple[int, float]], second: list[tuple[int, float]]
) -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1", "T-2")
    for hour, (air_c, rh_pct) in enumerate(((21.0, 50.0), (18.0, 65.0), (23.0, 40.0))):
        bench.climate(air_c, rh_pct, at=f"1 {8 + 3 * hour}:00")
    for word, coats in (("T-1", first), ("T-2", second)):
        for hour, film_um in sorted(coats):
            bench.coat(word, at=f"1 {8 + hour}:30", wet_film_um=film_um)
    bench.at("1 20:00")
    alone = [run for word in ("T-1", "T-2") for run in runs(bench, [word])]
    together = runs(bench, ["T-1", "T-2"])
    assert [run.below_um for run in together] == [run.below_um for run in alone]
    for one, other in zip(together, alone, strict=True):
        assert np.array_equal(one.times_us, other.times_us)


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
    assert run.void_us == [NEVER_US]
    bench.coat("T-1", at="1 13:00")
    bench.at("140 08:00").coat("T-1")
    (run,) = runs(bench, ["T-1"])
    assert [film.applied_us for film in run.films] == [micros(on_day("140 08:00"))]
    assert run.films[0].applied_us > bench.now_us - LOOK_BACK_US
