"""The one table of a piece's life, walked through cell by cell."""

from collections.abc import Mapping

import pytest
from acts import ACTS, PIECE_TYPES, act
from coatledger.events.base import Work
from coatledger.events.catalogue import TAG_OF, TAGS
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_fold import evolve, initial, may_follow
from coatledger.subjects.piece_life import (
    BACK,
    IN_PROCESS,
    NEXT,
    OPEN_STAGES,
    STAGES,
    act_of,
    acts_possible,
)
from msgspec.structs import replace

COATED = ("piece_started", "sanded", "coat_applied")
# How a piece comes to each stage, and the stage its own coats and preparation give it there.
WAYS: Mapping[str, tuple[tuple[str, ...], str]] = {
    "unborn": ((), "bare"),
    "expected": (("piece_expected",), "bare"),
    "bare": (("piece_started",), "bare"),
    "prepared": (("piece_started", "sanded"), "prepared"),
    "coated": (COATED, "coated"),
    "passed": ((*COATED, "passed_final"), "coated"),
    "in_rework": ((*COATED, "rework_started"), "bare"),
    "packed": ((*COATED, "packed"), "coated"),
    "shipped": ((*COATED, "shipped"), "coated"),
    "scrapped": ((*COATED, "scrapped"), "coated"),
}


def at_stage(stage: str) -> Piece:
    piece = initial("a")
    for i, name in enumerate(WAYS[stage][0]):
        piece = evolve(piece, act(name, f"1 08:{i:02}"))
    assert piece.stage == stage
    return piece


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("name", ACTS)
def test_the_fold_goes_where_the_table_says_or_stays_and_notes_the_dispute(
    stage: str, name: str
) -> None:
    piece, fact = at_stage(stage), act(name, "2 09:00")
    after = evolve(piece, fact)
    assert may_follow(piece, fact) == (name in NEXT[stage])
    if name not in NEXT[stage]:
        assert after == replace(piece, disputed=(fact.id,))
        return
    expected = NEXT[stage][name]
    if expected == BACK:
        expected = "coated" if name in ("coat_applied", "rework_finished") else WAYS[stage][1]
    assert (after.stage, after.disputed, after.last_event) == (expected, (), fact.id)


def test_every_event_that_names_pieces_is_an_act_somewhere() -> None:
    named = {TAG_OF[kind] for kind in PIECE_TYPES}
    assert named - set(ACTS) == set()
    assert set(ACTS) - named == {"passed_final", "failed_final", "finding_settled"}


def test_every_act_is_a_tag_or_an_inspection_by_its_result() -> None:
    assert set(ACTS) - {"passed_final", "failed_final"} <= set(TAGS)
    assert act_of(act("passed_final")) == "passed_final"
    assert act_of(act("failed_final")) == "failed_final"
    assert act_of(act("inspected")) == "inspected"


def test_every_next_stage_is_a_row_of_the_table() -> None:
    named = {after for row in NEXT.values() for after in row.values()}
    assert named - {BACK} <= set(NEXT)
    assert set(STAGES) == set(WAYS)
    assert set(IN_PROCESS) <= set(OPEN_STAGES) < set(STAGES)


def test_nothing_but_a_birth_can_happen_to_what_nobody_started() -> None:
    assert set(acts_possible("unborn")) == {"piece_expected", "piece_started"}


@pytest.mark.parametrize("stage", ["unborn", "expected", "shipped", "scrapped"])
def test_no_hand_is_laid_on_a_piece_that_is_not_here(stage: str) -> None:
    work = {TAG_OF[kind] for kind in PIECE_TYPES if issubclass(kind, Work)}
    assert work.isdisjoint(NEXT[stage])
    assert {"passed_final", "failed_final", "dryness_checked"}.isdisjoint(NEXT[stage])


def test_only_unpacking_is_work_on_a_packed_piece() -> None:
    work = {TAG_OF[kind] for kind in PIECE_TYPES if issubclass(kind, Work)}
    assert work & set(NEXT["packed"]) == {"unpacked"}


@pytest.mark.parametrize("stage", ["bare", "prepared", "coated", "passed", "in_rework"])
def test_bad_practice_is_never_impossible(stage: str) -> None:
    """A coat on unsanded wood, packing wet film, shipping without a look: findings, no refusals."""
    assert {"coat_applied", "sanded", "stained", "grain_raised", "packed", "shipped"} <= set(
        NEXT[stage]
    )


def test_a_word_is_never_born_again() -> None:
    assert [s for s in STAGES if "piece_started" in NEXT[s]] == ["unborn", "expected"]


def test_a_finding_can_be_settled_on_any_piece_there_ever_was() -> None:
    assert [s for s in STAGES if "finding_settled" not in NEXT[s]] == ["unborn"]


@pytest.mark.parametrize("name", ["sanded", "grain_raised", "stained", "failed_final"])
def test_work_on_a_bare_piece_that_passed_does_not_make_it_coated(name: str) -> None:
    piece = evolve(evolve(initial("a"), act("piece_started")), act("passed_final", "1 09:00"))
    expected = "bare" if name == "failed_final" else "prepared"
    assert evolve(piece, act(name, "1 10:00")).stage == expected


@pytest.mark.parametrize(("away", "back"), [("packed", "unpacked"), ("shipped", "returned")])
def test_a_piece_that_left_within_rework_comes_back_within_it(away: str, back: str) -> None:
    piece = evolve(at_stage("in_rework"), act(away, "2 09:00"))
    piece = evolve(piece, act(back, "2 10:00"))
    assert (piece.stage, piece.in_rework) == ("in_rework", True)
    piece = evolve(piece, act("rework_finished", "2 11:00", done="spot_sand"))
    assert (piece.stage, piece.in_rework) == ("coated", False)
