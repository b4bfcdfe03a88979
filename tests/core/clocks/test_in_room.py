"""What dries in a room: at what speed, and what its air puts at risk."""

from bench import Bench
from coatledger.clocks.in_room import FilmHere, films_here
from coatledger.events.setup import ProductDescribed
from coatledger.subjects.asked import ask


def films(bench: Bench, room: str = "spray") -> tuple[FilmHere, ...]:
    with bench.store.reading() as reader:
        asked = ask(reader, bench.now)
        view = asked.view(reader)
        return films_here(view, reader, asked, room, view.climate_before(room))


def test_films_tell_their_speed_and_those_at_risk_come_first() -> None:
    """The sheet's own climate is speed 1; at 9 C and 60 % a wet film falls below its 8 C."""
    bench = Bench().open_shop()
    bench.climate()
    bench.clear("other", mfft_c=0.0, air_min_c=5.0)
    bench.can("can-2", "other")
    bench.pieces("a", "b")
    bench.coat("a")
    bench.coat("b", lot="can-2")
    at_home = films(bench)
    assert [(film.product, film.drying_speed) for film in at_home] == [("clear-w", 1), ("other", 1)]
    assert not any(film.risks for film in at_home)
    bench.later(0.2).climate(9.0, 60.0)
    first, second = films(bench)
    assert first.pieces == ("a",)
    assert any("needs 8 C to form" in risk for risk in first.risks)
    assert any("below the sheet's 15 C" in risk for risk in first.risks)
    assert second.product == "other"
    assert second.drying_speed is not None
    assert second.drying_speed < 0.6
    bench.later(3)
    assert any("void already" in risk for risk in films(bench)[0].risks)


def test_lacquer_in_damp_air_may_whiten_and_in_dry_air_not() -> None:
    bench = Bench().open_shop()
    bench.record(ProductDescribed, product="nc", kind="lacquer", burns_in=True)
    bench.can("can-nc", "nc")
    bench.climate(22.0, 80.0)
    bench.pieces("a")
    bench.coat("a", lot="can-nc")
    assert "it may whiten" in films(bench)[0].risks[0]
    bench.climate(22.0, 40.0)
    assert not films(bench)[0].risks


def test_without_a_reading_pieces_are_named_and_no_risk_is_told() -> None:
    bench = Bench().open_shop()
    bench.pieces("a")
    bench.coat("a")
    (film,) = films(bench)
    assert (film.pieces, film.drying_speed, film.risks) == (("a",), None, ())


def test_cured_films_and_other_rooms_are_left_out() -> None:
    bench = Bench().open_shop()
    bench.climate()
    bench.pieces("a")
    bench.coat("a")
    assert films(bench, "rack") == ()
    bench.later(24 * 30)
    assert films(bench) == ()
