"""What facts make of a piece: coats counted per face, rework, strips, minutes shared."""

from typing import Any

import pytest
from acts import PIECE_TYPES
from any_event import ANY_STRUCT
from coatledger.events.about import FindingSettled
from coatledger.events.coating import Moved, Turned
from coatledger.events.judging import Held, Released
from coatledger.events.leaving import HandedOver, Unpacked
from coatledger.events.orders import PieceAllotted
from coatledger.events.preparing import GrainRaised, Stained
from coatledger.ledger.record import micros
from coatledger.subjects.piece import FACES, Piece
from coatledger.subjects.piece_fold import evolve, initial, may_follow
from coatledger.subjects.registry import state_bytes, state_of
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from msgspec.structs import replace
from story import (
    coated,
    fact,
    inspected,
    packed,
    returned,
    rework,
    reworked,
    shipped,
    started,
)


def piece_of(*facts: Any, word: str = "a") -> Piece:
    piece = initial(word)
    for told in facts:
        assert may_follow(piece, told), told
        piece = evolve(piece, told)
    return piece


ABOUT_A_PIECE = st.one_of(ANY_STRUCT[FindingSettled], *(ANY_STRUCT[k] for k in PIECE_TYPES))


def naming(event: Any) -> Any:
    """Let an event name the piece, among others."""
    if isinstance(event, FindingSettled):
        return event
    return replace(event, pieces=("a", *(p for p in event.pieces if p != "a")))


@settings(max_examples=150)
@drawn(st.lists(ABOUT_A_PIECE.map(naming), max_size=12))
def test_any_facts_in_any_order_fold(facts: list[Any]) -> None:
    piece = evolve(initial("a"), started("a"))
    kept = piece
    for told in facts:
        piece = evolve(piece, told)
        kept = evolve(state_of("piece", state_bytes(kept)), told)
    assert state_bytes(kept) == state_bytes(piece)
    assert piece.stage != "unborn"


def test_a_coat_counts_on_each_face_it_names() -> None:
    piece = piece_of(
        started("a"),
        coated("a", at="1 10:00", faces=("show", "edges")),
        coated("a", at="1 13:00", faces=("underside",)),
        coated("a", at="1 16:00", faces=("show",)),
    )
    assert [piece.coats_on(face) for face in FACES] == [2, 1, 1, 0, 0]
    assert piece.coat_number(("show",)) == 2
    assert piece.coat_number(("show", "edges")) == 1
    assert piece.coat_number(("show", "inside")) == 0


def test_a_coat_on_all_faces_counts_on_every_one() -> None:
    piece = piece_of(started("a"), coated("a"), coated("a", at="1 13:00", faces=("show",)))
    assert [piece.coats_on(face) for face in FACES] == [2, 1, 1, 1, 1]
    assert piece.coat_number(("all",)) == 1


def test_a_coat_within_rework_builds_film_and_not_the_count() -> None:
    piece = piece_of(
        started("a"), coated("a"), rework("a", at="2 09:00"), coated("a", at="2 10:00"),
        reworked("a", at="2 15:00"), coated("a", at="3 10:00"),
    )  # fmt: skip
    assert [(c.in_rework, c.counts) for c in piece.coats] == [
        (False, True), (True, False), (False, True),
    ]  # fmt: skip
    assert piece.coat_number(("show",)) == 2


def test_each_rework_is_one_span_and_a_second_start_ends_the_first() -> None:
    piece = piece_of(
        started("a"), coated("a"), rework("a", at="2 09:00", because="nib"),
        rework("a", at="2 11:00", remedy="spot_sand"), reworked("a", at="2 12:00", done="recoat"),
    )  # fmt: skip
    first, second = piece.reworks
    assert first.ended_us == second.at_us == second.ended_us - 3_600_000_000  # type: ignore[operator]
    assert (first.because, first.done, second.done) == ("nib", None, "recoat")
    assert (piece.in_rework, piece.stage) == (False, "coated")


def test_rework_after_a_return_is_the_customers() -> None:
    piece = piece_of(
        started("a"), coated("a"), rework("a", at="2 09:00"), reworked("a", at="2 10:00"),
        shipped("a"), returned("a"), rework("a", at="7 09:00"),
    )  # fmt: skip
    assert [r.after_leaving for r in piece.reworks] == [False, True]


def test_minutes_of_an_act_are_split_over_its_pieces_and_nothing_is_lost() -> None:
    act = coated("a", "b", "c", hands_on_min=25.0)
    pieces = [piece_of(started("a", "b", "c"), act, word=word) for word in ("a", "b", "c")]
    assert sum(piece.hands_on_min for piece in pieces) == pytest.approx(25.0, abs=1e-9)
    assert [piece.coats[0].place for piece in pieces] == [0, 1, 2]
    assert {piece.coats[0].sharers for piece in pieces} == {3}


def test_an_impossible_fact_takes_no_minutes_and_is_kept_as_disputed() -> None:
    late = coated("a", at="4 10:00", hands_on_min=25.0)
    before = piece_of(started("a"), shipped("a"))
    assert evolve(before, late) == replace(before, disputed=(late.id,))


def test_handing_over_across_the_bench_is_leaving_and_after_the_carrier_it_is_arriving() -> None:
    handed = fact(HandedOver, "4 10:00", pieces=("a",))
    across = piece_of(started("a"), coated("a"), handed)
    carried = piece_of(started("a"), coated("a"), shipped("a"), handed)
    at_us = micros(handed.occurred_at)
    assert (across.stage, across.shipped_us, across.handed_us) == ("shipped", (at_us,), at_us)
    assert carried.shipped_us == (micros(shipped("a").occurred_at),)
    assert carried.handed_us == at_us


def test_a_piece_shipped_for_another_order_leaves_its_line() -> None:
    allotted = fact(PieceAllotted, "1 08:30", pieces=("a",), order="o-1", line="1")
    own = piece_of(started("a"), allotted, shipped("a", order="o-1"))
    other = piece_of(started("a"), allotted, shipped("a", order="o-2"))
    assert (own.order, own.line) == ("o-1", "1")
    assert (other.order, other.line) == ("o-2", None)


def test_allotted_to_none_a_piece_is_stock_again() -> None:
    piece = piece_of(
        started("a"), fact(PieceAllotted, "1 08:30", pieces=("a",), order="o-1", line="1"),
        fact(PieceAllotted, "1 08:40", pieces=("a",)),
    )  # fmt: skip
    assert (piece.order, piece.line) == (None, None)


def test_a_hold_is_a_mark_and_no_stage() -> None:
    held = piece_of(started("a"), coated("a"), fact(Held, "1 11:00", pieces=("a",)))
    assert (held.held, held.stage) == (True, "coated")
    released = evolve(held, fact(Released, "1 12:00", pieces=("a",)))
    assert (released.held, released.stage) == (False, "coated")


def test_where_a_piece_stood_is_told_by_its_moves_and_coats() -> None:
    piece = piece_of(
        started("a"), coated("a", at="1 10:00", room="spray"),
        fact(Turned, "1 10:30", pieces=("a",), resting_on="points"),
        fact(Moved, "1 11:00", pieces=("a",), room="drying", place="r-1"),
        coated("a", at="1 15:00", room="spray"), coated("a", at="1 17:00", room="spray"),
    )  # fmt: skip
    assert [m.room for m in piece.moves] == ["spray", None, "drying", "spray"]
    for at, room in (("1 09:00", None), ("1 10:45", "spray"), ("1 12:00", "drying")):
        assert piece.room_at(micros(fact(Held, at, pieces=("a",)).occurred_at)) == room


def test_unpacked_a_piece_is_what_its_own_coats_say() -> None:
    def out(*work: Any) -> Piece:
        unpacked = fact(Unpacked, "3 10:00", pieces=("a",))
        return piece_of(started("a"), *work, packed("a"), unpacked)

    assert out().stage == "bare"
    assert out(fact(GrainRaised, "1 09:00", pieces=("a",))).stage == "prepared"
    assert out(coated("a"), inspected("a")).stage == "coated"
    assert out(coated("a")).packing is None


def test_stained_wood_is_known_as_stained_whatever_the_order_said() -> None:
    piece = piece_of(started("a"), fact(Stained, "1 09:00", pieces=("a",), lot="smoke"))
    assert (piece.stained, piece.layers[0].what, piece.layers[0].lot) == (True, "stain", "smoke")


def test_only_the_first_final_inspection_is_the_first() -> None:
    piece = piece_of(
        started("a"), inspected("a", at="1 09:00", point="incoming"),
        inspected("a", at="2 09:00", passed=False), inspected("a", at="2 15:00"),
    )  # fmt: skip
    assert piece.first_final is not None
    assert piece.first_final.passed is False
    assert piece.stage == "passed"
