"""What a way through rework took, and which coats came off for good."""

from typing import Any

from coatledger.events.coating import CoatApplied
from coatledger.events.judging import ReworkFinished
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_fold import evolve, initial
from coatledger.subjects.tallies import of_piece
from story import fact, inspected, rework, started


def piece_of(*facts: Any) -> Piece:
    piece = initial("a")
    for told in facts:
        piece = evolve(piece, told)
    assert piece.disputed == ()
    return piece


def coat(at: str, **fields: Any) -> CoatApplied:
    given = {"pieces": ("a", "b"), "lot": "can-1", "gun": "g1", "room": "spray", "actor": "mae"}
    return fact(CoatApplied, at, **{**given, **fields})


def costs(piece: Piece) -> dict[str, float]:
    return {
        key.split("|", 1)[1]: value
        for (name, key), value in of_piece(piece).items()
        if name == "rework_cost"
    }


def test_rework_costs_the_pieces_even_share_of_minutes_and_litres_and_its_time_away() -> None:
    piece = piece_of(
        started("a", at="1 08:00"),
        coat("1 09:00", hands_on_min=10, amount_l=0.5),
        rework("a", at="1 12:00", because="nib"),
        coat("1 13:00", hands_on_min=5, amount_l=0.2),
        fact(ReworkFinished, "1 14:30", pieces=("a", "b", "c"), done="recoat", hands_on_min=9),
        coat("1 16:00", hands_on_min=10, amount_l=0.5),
    )
    told = piece_of(*(), started("a", at="1 08:00"), inspected("a", at="1 09:00"))
    assert costs(told) == {}
    assert costs(piece) == {
        "shop|nib|count": 1,
        "shop|nib|hands_on_s": 150 + 180,
        "shop|nib|finish_ml": 100,
        "shop|nib|ended": 1,
        "shop|nib|away_s": 9000,
    }


def test_where_the_amount_is_silent_the_film_speaks_and_silent_acts_are_counted() -> None:
    piece = piece_of(
        started("a", at="1 08:00"),
        rework("a", at="1 12:00", because="nib"),
        coat("1 13:00", wet_film_um=100.0),
        coat("1 14:00"),
    )
    area_ml = round(100.0 * (piece.coat_area_m2 or 0.0))
    assert area_ml > 0
    assert costs(piece) == {
        "shop|nib|count": 1, "shop|nib|finish_ml": area_ml, "shop|nib|unsaid": 2,
    }  # fmt: skip


def test_a_strip_that_turned_out_otherwise_counts_each_coat_once() -> None:
    piece = piece_of(
        started("a", at="1 08:00"),
        coat("1 09:00", lot="first"),
        rework("a", at="1 12:00", remedy="strip"),
        fact(ReworkFinished, "1 15:00", pieces=("a",), done="spot_sand"),
    )
    assert [c.lot for c in piece.ever_coated] == ["first"]
    late = piece_of(
        started("a", at="1 08:00"),
        coat("1 09:00", lot="first"),
        rework("a", at="1 12:00", remedy="recoat"),
        coat("1 13:00", lot="second"),
        fact(ReworkFinished, "1 15:00", pieces=("a",), done="strip"),
    )
    assert [c.lot for c in late.ever_coated] == ["first", "second"]
