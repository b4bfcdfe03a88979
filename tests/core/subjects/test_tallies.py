"""What one piece adds to the shop's counts, each thing once and at the time that decides."""

from typing import Any

import pytest
from bench import on_day
from coatledger.events.judging import DefectFound
from coatledger.events.leaving import HandedOver, Scrapped
from coatledger.ledger.record import micros
from coatledger.subjects.piece_fold import evolve, initial
from coatledger.subjects.tallies import of_piece, quarter
from story import coated, fact, inspected, packed, returned, rework, reworked, shipped, started

Counts = dict[tuple[str, str], float]


def counted(*facts: Any) -> Counts:
    piece = initial("a")
    for told in facts:
        piece = evolve(piece, told)
    assert piece.disputed == ()
    return dict(of_piece(piece))


def names(counts: Counts, *wanted: str) -> list[str]:
    return [name for name, _ in counts if name in wanted]


@pytest.mark.parametrize(
    ("at", "key"),
    [
        ("1 10:00", "2026-03-02T10:00"),
        ("1 10:14", "2026-03-02T10:00"),
        ("1 10:15", "2026-03-02T10:15"),
        ("1 23:59", "2026-03-02T23:45"),
    ],
)
def test_a_moment_lies_in_its_quarter_hour(at: str, key: str) -> None:
    assert quarter(micros(on_day(at))) == key
    assert quarter(-1) == "1969-12-31T23:45"


def test_a_piece_in_the_shop_counts_by_its_stage_and_one_away_does_not() -> None:
    assert counted(started("a"))["in_process", "bare"] == 1
    assert counted(started("a"), coated("a"), packed("a"))["in_process", "packed"] == 1
    assert names(counted(started("a"), shipped("a")), "in_process") == []
    assert counted() == {}


def test_only_the_first_shipment_counts_with_its_lead_in_whole_hours() -> None:
    counts = counted(
        started("a", at="1 08:00"), shipped("a", at="3 15:30"), returned("a", at="6 10:00"),
        shipped("a", at="8 15:00"),
    )  # fmt: skip
    assert counts["shipped", "2026-03-04T15:30|ash"] == 1
    assert counts["lead_h", "2026-03-04T15:30|55"] == 1
    assert len(names(counts, "shipped", "lead_h")) == 2


def test_handed_over_across_the_bench_counts_as_shipped_and_after_a_carrier_not_again() -> None:
    handed = fact(HandedOver, "4 10:00", pieces=("a",))
    assert ("shipped", "2026-03-05T10:00|ash") in counted(started("a"), handed)
    carried = counted(started("a"), shipped("a", at="3 15:00"), handed)
    assert names(carried, "shipped") == ["shipped"]
    assert ("shipped", "2026-03-04T15:00|ash") in carried


def test_first_pass_is_the_first_final_look_passed_without_rework_before_it() -> None:
    start, coat = started("a"), coated("a")
    look, again = inspected("a", at="2 09:00"), inspected("a", at="3 09:00")
    passed = counted(start, coat, look, again)
    assert names(passed, "first_final", "first_pass", "produced") == [
        "produced", "first_final", "first_pass",
    ]  # fmt: skip
    failed = counted(start, coat, inspected("a", at="2 09:00", passed=False), again)
    assert names(failed, "first_final", "first_pass") == ["first_final"]
    repaired = counted(
        start, coat, rework("a", at="1 14:00"), reworked("a", at="1 16:00"), look
    )  # fmt: skip
    assert names(repaired, "first_final", "first_pass", "reworked") == ["reworked", "first_final"]


def test_rework_after_the_look_still_counts_as_reworked_at_the_looks_place() -> None:
    counts = counted(
        started("a"), coated("a"), inspected("a", at="2 09:00"), rework("a", at="2 15:00"),
    )  # fmt: skip
    assert counts["reworked", "2026-03-03T09:00|ash"] == 1
    assert counts["first_pass", "2026-03-03T09:00|ash"] == 1


def test_rework_counts_where_it_came_from_and_why() -> None:
    counts = counted(
        started("a"), coated("a"), rework("a", at="2 09:00", because="nib"),
        reworked("a", at="2 10:00"), shipped("a"), returned("a"), rework("a", at="7 09:00"),
    )  # fmt: skip
    assert counts["rework", "2026-03-03T09:00|shop|nib|ash"] == 1
    assert counts["rework", "2026-03-08T09:00|customer|unknown|ash"] == 1


def test_a_piece_given_up_before_any_look_is_produced_and_rejected() -> None:
    scrapped = fact(Scrapped, "2 09:00", pieces=("a",))
    counts = counted(started("a"), coated("a"), scrapped)
    at = "2026-03-03T09:00|ash"
    assert {("produced", at), ("rejected", at), ("scrapped", at)} <= set(counts)


def test_defects_of_one_kind_in_one_quarter_hour_are_added() -> None:
    nibs = [
        fact(DefectFound, "2 09:00", n=n, pieces=("a",), kind="nib", found_by="shop")
        for n in range(2)
    ]
    assert counted(started("a"), coated("a"), *nibs)["defect", "2026-03-03T09:00|shop|nib|ash"] == 2
