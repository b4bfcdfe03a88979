"""A piece's facts as people read them: the same as its state, in times instead of microseconds."""

from bench import on_day
from coatledger.events.coating import Moved
from coatledger.events.judging import DefectFound
from coatledger.ledger.record import micros
from coatledger.subjects.piece_facts import piece_facts
from story import (
    coated,
    fact,
    given,
    inspected,
    packed,
    returned,
    rework,
    reworked,
    shipped,
    started,
)


def test_every_kind_of_fact_is_told_with_its_event_and_time() -> None:
    coat = coated("a", wet_film_um=95.5, room="spray", gun="g1")
    story = given(
        started("a", declared_value=250000, currency="EUR"),
        coat,
        fact(Moved, "1 11:00", pieces=("a",), room="rack-room", place="7"),
        fact(DefectFound, "1 15:00", pieces=("a",), kind="nib"),
        rework("a", at="1 16:00", because="nib", remedy="spot_sand"),
        reworked("a", at="1 17:00", done="spot_sand"),
        inspected("a"),
        packed("a"),
        shipped("a"),
        returned("a"),
    )
    told = piece_facts(story.piece("a"), micros(story.bench.now))
    assert (told.coats[0].event, told.coats[0].at) == (coat.id, on_day("1 10:00"))
    assert (told.coats[0].wet_film_um, told.coats[0].gun) == (95.5, "g1")
    assert (told.defects[0].kind, told.defects[0].coats_before) == ("nib", 1)
    assert (told.reworks[0].started, told.reworks[0].ended) == (
        on_day("1 16:00"),
        on_day("1 17:00"),
    )
    assert (told.inspections[0].point, told.inspections[0].passed) == ("final", True)
    assert (told.room, told.place) == ("rack-room", "7")
    assert (told.declared_value, told.currency) == (250000, "EUR")
    assert (told.shipped_at, told.returned_at) == (on_day("3 15:00"), on_day("6 10:00"))
    assert told.packed_at is None


def test_what_nobody_told_is_left_out() -> None:
    told = piece_facts(given(started("a")).piece("a"), 0)
    assert told.coats == ()
    assert (told.shipped_at, told.scrapped_at) == (None, None)
    assert (told.room, told.place) == (None, None)
