"""Flat rows of one position: joined as known then, corrected readings left out, page by page."""

from __future__ import annotations

import pytest
from coatledger.answers.flat import paged
from coatledger.answers.flat.columns import CoatRow, DefectRow, PieceRow, ReadingRow
from coatledger.answers.flat.paged import (
    Page,
    Told,
    coats_told,
    defects_told,
    paged_pieces,
    paged_readings,
    piece_told,
)
from coatledger.events.finish import LotReceived
from coatledger.events.judging import DefectFound
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.ledger.record import micros
from coatledger.subjects.asked import Asked
from story import Story, amended, coated, fact, given, inspected, rework, shipped, started, voided

CAN = fact(LotReceived, "1 07:00", lot="can-1", product="clear-w", amount_l=4.0)
AIR = fact(
    ClimateRead, "1 08:30", room="spray",
    readings=(Reading(air_c=21.0, rh_pct=50.0), Reading(air_c=22.0, rh_pct=48.0)),
)  # fmt: skip


def told(story: Story, what: Told, *, after: str = "", known: int | None = None) -> Page:
    with story.bench.store.reading() as reader:
        asked = Asked(now_us=micros(story.bench.now), known=known)
        return paged_pieces(reader, asked, after, what)


def readings(story: Story, *, after: str = "", known: int | None = None) -> Page:
    with story.bench.store.reading() as reader:
        asked = Asked(now_us=micros(story.bench.now), known=known)
        return paged_readings(reader, asked, after)


def test_air_counts_for_twelve_hours_and_silence_stays_silence() -> None:
    story = given(
        CAN, AIR, started("a"),
        coated("a", at="1 10:00", lot="can-1", room="spray"),
        coated("a", at="1 21:00", lot="can-1", room="spray"),
        coated("a", at="2 21:00", lot="can-2"),
    )  # fmt: skip
    rows = [row for row in told(story, coats_told).rows if isinstance(row, CoatRow)]
    assert [(row.air_c, row.product) for row in rows] == [
        (22.0, "clear-w"), (None, "clear-w"), (None, None)
    ]  # fmt: skip
    assert [row.waited_h for row in rows] == [None, 11.0, 24.0]


def test_what_came_of_a_coat_is_what_was_found_before_the_next() -> None:
    story = given(
        started("a"), coated("a", at="1 10:00"),
        fact(DefectFound, "1 12:00", pieces=("a",), kind="nib"),
        fact(DefectFound, "1 12:30", pieces=("a",), kind="fish_eye"),
        coated("a", at="1 14:00"),
        inspected("a", at="2 09:00"), rework("a", at="2 10:00"),
    )  # fmt: skip
    rows = [row for row in told(story, coats_told).rows if isinstance(row, CoatRow)]
    assert [(row.defects, row.reworked) for row in rows] == [("fish_eye nib", False), ("", True)]
    defects = [row for row in told(story, defects_told).rows if isinstance(row, DefectRow)]
    assert [(row.defect, row.coat_number) for row in defects] == [("nib", 1), ("fish_eye", 1)]
    (piece,) = told(story, piece_told).rows
    assert isinstance(piece, PieceRow)
    assert (piece.passed_first, piece.reworks, piece.coats) == (True, 1, 2)


def test_a_position_keeps_its_rows_whatever_is_corrected_afterwards() -> None:
    first, can = coated("a", at="1 10:00", lot="can-1"), CAN
    story = given(can, started("a", "b"), first, shipped("b", at="1 11:00"))
    position = story.head().size
    then = told(story, coats_told), told(story, piece_told)
    story.when(voided(first)).accepted()
    story.when(amended(can, product="lacquer")).accepted()
    story.when(started("c", at="2 08:00")).accepted()
    assert (
        told(story, coats_told, known=position),
        told(story, piece_told, known=position),
    ) == then
    assert told(story, coats_told).rows == ()
    assert len(told(story, piece_told).rows) == 3


def test_readings_that_were_corrected_give_way_at_their_position() -> None:
    story = given(AIR)
    assert len(readings(story).rows) == 2
    story.when(amended(AIR, readings=(Reading(air_c=19.0, rh_pct=60.0),))).accepted()
    rows = [row for row in readings(story).rows if isinstance(row, ReadingRow)]
    assert [(row.position, row.air_c) for row in rows] == [(2, 19.0)]
    assert len(readings(story, known=1).rows) == 2
    assert readings(story, after="2").rows == ()


def test_pages_put_together_are_the_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    story = given(started(*"abcde"), AIR, fact(ClimateRead, "2 08:00", room="dry",
                  readings=(Reading(air_c=20.0, rh_pct=55.0),)))  # fmt: skip
    whole = told(story, piece_told)
    assert whole.after is None
    monkeypatch.setattr(paged, "PIECES_A_PAGE", 2)
    monkeypatch.setattr(paged, "EVENTS_A_PAGE", 1)
    rows: list[object] = []
    after, pages = "", 0
    while True:
        page = told(story, piece_told, after=after)
        rows += page.rows
        pages += 1
        if page.after is None:
            break
        after = page.after
    assert (tuple(rows), pages) == (whole.rows, 3)
    assert readings(story, after="1").after == "2"
