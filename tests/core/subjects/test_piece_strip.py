"""A strip takes the film off, and a rework ends as what was done and not as what was planned."""

from typing import Any

from coatledger.events.preparing import BlownOff, GrainRaised, Stained
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_fold import evolve, initial
from coatledger.subjects.piece_strip import put_back, strip
from msgspec.structs import replace
from story import coated, fact, rework, reworked, sanded, started


def piece_of(*facts: Any) -> Piece:
    piece = initial("a")
    for told in facts:
        piece = evolve(piece, told)
    assert piece.disputed == ()
    return piece


def test_after_a_strip_the_schedule_begins_again_even_within_rework() -> None:
    piece = piece_of(
        started("a"), sanded("a"), coated("a"), rework("a", at="2 09:00", remedy="strip"),
        coated("a", at="2 12:00"), reworked("a", at="2 15:00", done="strip"),
        coated("a", at="3 10:00"),
    )  # fmt: skip
    assert (piece.coat_number(("show",)), piece.stripped, piece.sandings) == (2, 1, ())
    assert piece.taken_off is None


def test_a_strip_leaves_bare_wood() -> None:
    piece = piece_of(
        started("a"), sanded("a"), fact(BlownOff, "1 09:30", pieces=("a",), by="vacuum"),
        coated("a"), rework("a", at="2 09:00", remedy="strip"),
        reworked("a", at="2 15:00", done="strip"),
    )  # fmt: skip
    assert (piece.stage, piece.coats, piece.blown) == ("bare", (), None)


def test_a_rework_that_ended_as_a_strip_counts_what_was_put_on_since() -> None:
    piece = piece_of(
        started("a"), sanded("a"), coated("a"), coated("a", at="1 14:00"),
        rework("a", at="2 09:00", remedy="spot_sand"),
        sanded("a", at="2 10:00"), coated("a", at="2 12:00"),
        reworked("a", at="2 15:00", done="strip"),
    )  # fmt: skip
    assert (piece.coat_number(("show",)), piece.stripped, piece.stage) == (1, 2, "coated")
    assert [s.coats_before for s in piece.sandings] == [0]


def test_a_strip_that_was_none_after_all_puts_the_old_film_back() -> None:
    piece = piece_of(
        started("a"), sanded("a"), coated("a"), coated("a", at="1 14:00"),
        rework("a", at="2 09:00", remedy="strip"),
        sanded("a", at="2 10:00"), coated("a", at="2 12:00"),
        reworked("a", at="2 15:00", done="spot_sand"),
    )  # fmt: skip
    assert [c.counts for c in piece.coats] == [True, True, False]
    assert [s.coats_before for s in piece.sandings] == [0, 2]
    assert (piece.stripped, piece.stage, piece.taken_off) == (0, "coated", None)


def test_a_strip_put_back_at_once_changes_nothing() -> None:
    before = piece_of(
        started("a"), sanded("a"), fact(GrainRaised, "1 09:10", pieces=("a",)),
        fact(Stained, "1 09:20", pieces=("a",)), coated("a"),
    )  # fmt: skip
    stripped = strip(before)
    assert stripped.taken_off is not None
    assert (stripped.stripped, stripped.coats, stripped.layers, stripped.raised_us) == (
        1, (), (), None,
    )  # fmt: skip
    assert put_back(stripped, stripped.taken_off) == replace(before, taken_off=stripped.taken_off)


def test_what_was_blown_off_before_a_late_strip_is_forgotten_and_what_was_since_is_kept() -> None:
    blown = fact(BlownOff, "1 09:30", pieces=("a",), by="vacuum")
    start = (started("a"), blown, coated("a"), rework("a", at="2 09:00"))
    end = reworked("a", at="2 15:00", done="strip")
    since = fact(BlownOff, "2 10:00", pieces=("a",), by="damp_cloth")
    assert piece_of(*start, end).blown is None
    kept = piece_of(*start, since, end).blown
    assert kept is not None
    assert kept.by == "damp_cloth"


def test_a_second_start_leaves_the_strip_of_the_first_as_told() -> None:
    piece = piece_of(
        started("a"), coated("a"), rework("a", at="2 09:00", remedy="strip"),
        rework("a", at="2 12:00", remedy="spot_sand"), coated("a", at="2 13:00"),
        reworked("a", at="2 15:00", done="spot_sand"),
    )  # fmt: skip
    assert (piece.stripped, [c.counts for c in piece.coats]) == (1, [False])
