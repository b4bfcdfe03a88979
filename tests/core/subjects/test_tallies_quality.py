"""What a piece adds to the counts of quality, and that a key says again what it was made of."""

from typing import Any

from coatledger.events.coating import CoatApplied
from coatledger.events.judging import DefectFound, Inspected, ReworkFinished
from coatledger.events.leaving import Scrapped
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_fold import evolve, initial
from coatledger.subjects.tallies import of_piece
from coatledger.subjects.tallies_quality import (
    KEY_CHARACTERS_MAX,
    Case,
    CaseCoat,
    case_of,
    kinds_of,
)
from story import fact, inspected, returned, rework, shipped, started


def piece_of(*facts: Any) -> Piece:
    piece = initial("a")
    for told in facts:
        piece = evolve(piece, told)
    assert piece.disputed == ()
    return piece


def coat(at: str, **fields: Any) -> CoatApplied:
    given = {"pieces": ("a", "b"), "lot": "can-1", "gun": "g1", "room": "spray", "actor": "mae"}
    return fact(CoatApplied, at, **{**given, **fields})


def case(piece: Piece) -> Case:
    keys = [key for name, key in of_piece(piece) if name == "case"]
    assert len(keys) == 1
    return case_of(keys[0])


def costs(piece: Piece) -> dict[str, float]:
    return {
        key.split("|", 1)[1]: value
        for (name, key), value in of_piece(piece).items()
        if name == "rework_cost"
    }


def test_a_key_says_again_what_became_of_the_piece_and_what_its_coats_were() -> None:
    piece = piece_of(
        started("a", at="1 08:00"),
        fact(Inspected, "1 08:30", pieces=("a",), point="bare", passed=True),
        coat("1 09:00"),
        coat("1 13:00"),
        coat("2 09:00", lot="can-2", gun=None, actor=None),
        fact(DefectFound, "2 13:00", pieces=("a",), kind="nib"),
        inspected("a", at="2 15:10", passed=False),
        rework("a", at="2 16:00", because="dent"),
    )
    assert case(piece) == Case(
        at="2026-03-03T15:00",
        outcome="fr",
        looks="Bf",
        wood="ash",
        kinds=("dent", "nib"),
        coats=(
            CaseCoat("can-1", "g1", "spray", "mae", 120),
            CaseCoat("can-1", "g1", "spray", "mae", 104),
            CaseCoat("can-2", None, "spray", None, 24),
        ),
        whole=True,
    )


def test_a_piece_that_passed_at_first_and_one_given_up_differ() -> None:
    assert case(piece_of(started("a"), coat("1 09:00"), inspected("a"))).outcome == "fp"
    gone = piece_of(started("a"), fact(Scrapped, "1 15:00", pieces=("a",)))
    assert (case(gone).outcome, case(gone).coats, case(gone).kinds) == ("s", (), ())


def test_what_a_customer_found_is_not_among_the_kinds() -> None:
    piece = piece_of(
        started("a"),
        inspected("a"),
        shipped("a"),
        returned("a"),
        fact(DefectFound, "6 10:30", pieces=("a",), kind="haze", found_by="customer"),
        rework("a", at="6 11:00", because="haze"),
    )
    assert kinds_of(piece) == ()
    assert case(piece).outcome == "fp"
    assert costs(piece) == {"customer|haze|count": 1}


def test_a_coat_that_was_stripped_off_is_still_among_the_coats() -> None:
    facts = (
        started("a", at="1 08:00"), coat("1 09:00", lot="bad"),
        rework("a", at="1 12:00", remedy="strip"),
    )  # fmt: skip
    during = piece_of(*facts)
    after = piece_of(
        *facts,
        fact(ReworkFinished, "1 15:00", pieces=("a",), done="strip"),
        coat("2 09:00", lot="good"),
        inspected("a", at="2 15:00"),
    )
    assert [c.lot for c in during.ever_coated] == ["bad"]
    assert [c.lot for c in after.coats] == ["good"]
    assert [c.lot for c in case(after).coats] == ["bad", "good"]


def test_a_key_stays_short_and_says_that_more_coats_were() -> None:
    piece = piece_of(
        started("a", at="1 08:00"),
        *(
            coat(f"{day} 09:00", lot=f"{'l' * 36}{day}", gun="g" * 40, actor="p" * 40)
            for day in range(2, 25)
        ),
        inspected("a", at="30 10:00"),
    )
    (key,) = (key for name, key in of_piece(piece) if name == "case")
    found = case_of(key)
    assert len(key) <= KEY_CHARACTERS_MAX + 20
    assert not found.whole
    assert 3 <= len(found.coats) < 23


def test_a_piece_is_found_by_its_time() -> None:
    piece = piece_of(started("a"), inspected("a", at="2 10:20"))
    assert ("case_of", "2026-03-03T10:15|a") in of_piece(piece)
