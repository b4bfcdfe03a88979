"""The air along a piece's way: which rooms, which readings, which silences."""

from bench import Bench, on_day
from coatledger.clocks.films import films_of
from coatledger.clocks.rooms import ALWAYS_US, Path, Rooms, path_of, readings_of
from coatledger.events.coating import Moved
from coatledger.ledger.record import micros


def shop() -> Bench:
    bench = Bench().open_shop()
    bench.pieces("T-1")
    bench.climate(21.0, 50.0, at="1 07:30")
    bench.climate(19.0, 60.0, room="store", at="1 07:40")
    return bench.at("1 08:00")


def path(bench: Bench) -> Path:
    view = bench.view()
    piece = view.piece("T-1")
    return path_of(piece, films_of(view, piece), bench.now_us)


def rooms(bench: Bench) -> Rooms:
    return Rooms(bench.view(), bench.now_us, micros(on_day("1 08:00")))


def test_a_piece_that_stays_has_one_room_and_a_bare_one_none() -> None:
    bench = shop()
    assert path(bench) == ()
    bench.coat("T-1")
    assert path(bench) == ((ALWAYS_US, "spray"),)


def test_a_move_begins_a_new_part_and_a_new_place_in_the_same_room_does_not() -> None:
    bench = shop()
    bench.coat("T-1")
    bench.later(1).record(Moved, pieces=("T-1",), room="spray", place="r2")
    bench.later(1).record(Moved, pieces=("T-1",), room="store")
    assert path(bench) == ((ALWAYS_US, "spray"), (micros(on_day("1 10:00")), "store"))


def test_a_room_named_only_later_is_taken_for_the_time_before() -> None:
    bench = shop()
    bench.coat("T-1", room=None)
    bench.later(1).record(Moved, pieces=("T-1",), room="store")
    assert path(bench) == ((ALWAYS_US, "store"),)


def test_the_reading_that_held_at_the_start_is_read_with_its_own_time() -> None:
    bench = shop()
    bench.climate(22.0, 45.0, at="1 09:00")
    found = readings_of(bench.view(), "spray", micros(on_day("1 08:00")), bench.now_us)
    assert [row.air_c for row in found] == [21.0, 22.0]
    along = rooms(bench).along(((ALWAYS_US, "spray"),))
    assert list(along.times_us) == [micros(on_day("1 07:30")), micros(on_day("1 09:00"))]


def test_after_a_move_the_new_rooms_air_holds_from_the_move_on() -> None:
    bench = shop().at("1 10:00")
    way = ((ALWAYS_US, "spray"), (micros(on_day("1 09:00")), "store"))
    along = rooms(bench).along(way)
    assert list(along.air_c) == [21.0, 19.0]
    assert list(along.times_us)[1] == micros(on_day("1 09:00"))
    assert rooms(bench).stale(way) == ()


def test_an_old_reading_of_the_new_room_is_a_silence() -> None:
    bench = shop().at("1 14:00")
    moved = micros(on_day("1 12:00"))
    way = ((ALWAYS_US, "spray"), (moved, "store"))
    assert rooms(bench).stale(way) == ((moved, bench.now_us),)
    bench.climate(19.0, 60.0, room="store", at="1 13:00")
    assert rooms(bench).stale(way) == ((moved, micros(on_day("1 13:00"))),)


def test_a_reading_no_model_knows_is_left_out_and_said() -> None:
    bench = shop()
    bench.climate(75.0, 50.0, at="1 09:00")
    way = ((ALWAYS_US, "spray"),)
    seen = rooms(bench)
    assert list(seen.along(way).air_c) == [21.0]
    assert "1 reading(s) outside -20 to 60 C were left out" in seen.says(way)


def test_a_piece_in_no_room_says_so() -> None:
    says = rooms(shop()).says(((ALWAYS_US, None),))
    assert says == ("no room is known for the piece: the sheet's reference climate is taken",)
