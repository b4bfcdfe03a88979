"""What stands after corrections, read whole and read from its end."""

from typing import Any

import pytest
from bench import on_day
from coatledger.events.base import Fact
from coatledger.ledger.correct import FAR, effective, history, last
from coatledger.ledger.memory import MemoryStore
from coatledger.ledger.record import micros, recorded
from coatledger.ledger.store import ClimateRow
from story import amended, coated, given, sanded, started, voided

COATS = tuple(coated("a", at=f"2 {hour:02}:00", lot=f"can-{hour}") for hour in range(8, 18))
TYPES = ("coat_applied",)


def ledger(*facts: Fact) -> MemoryStore:
    store = MemoryStore("trial")
    given(started("a", "b"), *facts, store=store)
    return store


def lots(found: Any) -> list[str]:
    return [placed.fact.lot for placed in found]


def the_last(store: MemoryStore, at: str, count: int = 1, **place: Any) -> list[str]:
    return lots(last(store, "piece:a", TYPES, micros(on_day(at)), count=count, **place))


def test_the_last_few_facts_come_oldest_first_up_to_and_including_a_time() -> None:
    store = ledger(sanded("a"), *COATS)
    assert the_last(store, "2 12:00", count=2) == ["can-11", "can-12"]
    assert the_last(store, "2 07:00") == []
    assert the_last(store, "9 00:00", count=99) == [coat.lot for coat in COATS]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_however_many_of_the_newest_are_voided_the_ones_before_are_found(count: int) -> None:
    store = ledger(*COATS, *(voided(coat) for coat in COATS[-6:]))
    assert the_last(store, "9 00:00", count) == [coat.lot for coat in COATS[:4]][-count:]


def test_a_fact_amended_into_the_time_asked_for_is_found_and_one_amended_out_is_not() -> None:
    store = ledger(
        *COATS, amended(COATS[9], to="2 08:30"), amended(COATS[0], to="2 16:30", lot="can-8")
    )
    assert the_last(store, "2 08:45", count=2) == ["can-17"]
    assert the_last(store, "2 16:45", count=2) == ["can-16", "can-8"]


def test_a_fact_amended_to_another_piece_is_that_ones() -> None:
    store = ledger(*COATS, amended(COATS[9], pieces=("b",)))
    assert the_last(store, "9 00:00") == ["can-16"]
    assert lots(last(store, "piece:b", TYPES, micros(on_day("9 00:00")))) == ["can-17"]
    assert lots(history(store, "piece:b", types=TYPES)) == ["can-17"]


def test_among_facts_of_one_minute_only_those_recorded_before_a_position_count() -> None:
    """However many share the minute: three came after the place, and one before it."""
    same = [coated("a", at="2 10:00", n=n, lot=f"can-{n}") for n in range(4)]
    store = ledger(coated("a", at="2 09:00", lot="early"), *same)
    assert the_last(store, "2 10:00", before=4) == ["can-0"]
    assert the_last(store, "2 10:00", before=3) == ["early"]
    assert the_last(store, "2 10:00", before=FAR) == ["can-3"]
    late_told = ledger(*same, coated("a", at="2 09:00", lot="late-told"))
    assert the_last(late_told, "2 10:00", before=2) == ["late-told"]


def test_a_correction_is_not_known_before_its_position() -> None:
    store = ledger(*COATS, voided(COATS[9]))
    assert the_last(store, "9 00:00", known=11) == ["can-17"]
    assert the_last(store, "9 00:00", known=12) == ["can-16"]


def test_history_ends_at_the_time_asked_for_by_the_corrected_times() -> None:
    store = ledger(*COATS[:2], amended(COATS[0], to="2 12:00"))
    until = micros(on_day("2 10:00"))
    assert lots(history(store, "piece:a", types=TYPES, until_us=until)) == ["can-9"]


def test_effective_facts_carry_their_originals_position_and_their_amendments() -> None:
    store = ledger(COATS[0], COATS[1], amended(COATS[0], to="2 12:00"))
    rows = [recorded(row) for row in store.of_subject("piece:a")]
    placed = effective("piece:a", rows)
    assert [(p.position, p.corrected_at) for p in placed] == [(1, 0), (3, 0), (2, 4)]


@pytest.mark.parametrize(
    ("known", "counts"), [(None, False), (4, False), (5, True), (8, True), (9, False), (10, False)]
)
def test_a_reading_is_in_force_from_its_position_until_it_is_taken_back(
    known: int | None, counts: bool
) -> None:
    row = ClimateRow("spray", 0, 5, 20.0, 50.0, None, 9)
    assert row.in_force(known) is counts
    assert row._replace(gone_at=None).in_force() is True
