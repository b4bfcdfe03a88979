"""The films on a piece: in what order, how thick, on which faces."""

import pytest
from bench import Bench, on_day
from coatledger.clocks.films import done_us, films_of, stacks_of
from coatledger.events.finish import LotMixed, Parent
from coatledger.events.judging import ReworkStarted
from coatledger.events.preparing import GrainFilled, Stained
from coatledger.ledger.record import micros


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.pieces("T-1", "T-2")
    return bench.at("1 08:00")


def films(bench: Bench, piece: str = "T-1") -> list[tuple[str, float]]:
    view = bench.view()
    return [(f.what, round(f.wet_film_um, 1)) for f in films_of(view, view.piece(piece))]


def test_stain_filler_and_coats_lie_in_the_order_they_went_on() -> None:
    bench = shop()
    bench.record(Stained, pieces=("T-1",))
    bench.later(1).record(GrainFilled, pieces=("T-1",))
    bench.later(1).coat("T-1", wet_film_um=110.0)
    assert films(bench) == [("stain", 50.0), ("filler", 50.0), ("coat", 110.0)]


def test_a_stripped_piece_is_bare_again() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.later(1).record(ReworkStarted, pieces=("T-1",), remedy="strip")
    assert films(bench) == []


def test_faces_with_the_same_films_share_a_stack() -> None:
    bench = shop()
    bench.coat("T-1", faces=("underside",))
    bench.later(1).coat("T-1", faces=("show", "edges"))
    bench.later(1).coat("T-1", faces=("show", "edges"))
    view = bench.view()
    stacks = stacks_of(films_of(view, view.piece("T-1")))
    assert [(s.faces, len(s.films)) for s in stacks] == [
        (("show", "edges"), 2),
        (("underside",), 1),
    ]


def test_a_piece_is_done_when_its_turn_in_the_act_ends() -> None:
    bench = shop()
    bench.coat("T-1", "T-2", ended_at=on_day("1 08:10"))
    view = bench.view()
    turns = [done_us(view.piece(word).coats[0]) for word in ("T-1", "T-2")]
    assert turns == [micros(on_day("1 08:05")), micros(on_day("1 08:10"))]


def test_the_litres_of_some_faces_lie_on_those_faces_only() -> None:
    bench = shop()
    # 0.1 L on the show face, 0.4 of half a square metre, 65 % staying: 325 um.
    bench.coat("T-1", faces=("show",), wet_film_um=None, amount_l=0.1)
    assert films(bench) == [("coat", 325.0)]


def test_a_piece_whose_start_was_taken_back_is_taken_to_be_as_large() -> None:
    bench = shop()
    other = bench.pieces("T-9", coat_area_m2=4.0)
    bench.coat("T-1", "T-9", wet_film_um=None, amount_l=0.2)
    bench.later(1).void(other)
    view = bench.view()
    assert films(bench) == [("coat", 130.0)]
    assert any("taken to be alike" in says for says in films_of(view, view.piece("T-1"))[0].assumed)


@pytest.mark.parametrize("film_um", [0.5, 2500.0])
def test_a_film_that_is_no_coat_is_not_used_and_said(film_um: float) -> None:
    bench = shop()
    bench.coat("T-1", wet_film_um=film_um)
    view = bench.view()
    (film,) = films_of(view, view.piece("T-1"))
    assert film.wet_film_um == 100.0
    assert any("is no coat" in says for says in film.assumed)


def test_what_was_mixed_in_is_known_to_the_film() -> None:
    bench = shop()
    parents = (
        Parent(lot="can-1", amount_l=0.9),
        Parent(lot="x", amount_l=0.1, part="crosslinker"),
        Parent(lot="e", amount_l=0.8, part="extender"),
    )
    bench.record(LotMixed, lot="m-1", product="clear-w", parents=parents)
    bench.coat("T-1", lot="m-1")
    view = bench.view()
    (film,) = films_of(view, view.piece("T-1"))
    assert film.crosslinked
    assert film.extender_pct == 50.0
    assert "80 % of extender is more than the clock knows: 50" in film.assumed


def test_a_film_keeps_the_sheet_that_was_in_force_when_it_went_on() -> None:
    bench = shop()
    bench.coat("T-1", wet_film_um=None)
    bench.record(Stained, pieces=("T-1",), lot="can-1")
    bench.at("3 08:00").clear("clear-w", reference_wet_film_um=120.0, recoat_h=5.0)
    bench.coat("T-1", wet_film_um=None)
    bench.record(Stained, pieces=("T-1",), lot="can-1")
    view = bench.view("9 08:00")
    found = films_of(view, view.piece("T-1"))
    assert [film.read.sheet.stage_hours["sandable"] for film in found] == [3.0, 3.0, 5.0, 5.0]
    assert [film.wet_film_um for film in found if film.what == "coat"] == [100.0, 120.0]
    assert len({film.read.key for film in found}) == 4


def test_a_sheet_described_after_the_first_coat_is_taken_for_that_coat_too() -> None:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    bench.can("can-2", "new")
    bench.coat("T-1", lot="can-2")
    bench.later(1).clear("new", recoat_h=4.0)
    view = bench.view()
    (film,) = films_of(view, view.piece("T-1"))
    assert film.read.sheet.stage_hours["sandable"] == 4.0
