"""Quality told apart by each dimension: every piece once under each value that is true of it."""

from datetime import date
from typing import Any

import pytest
from bench import on_day
from coatledger.answers.quality.table import DIMENSIONS, Dimension, QualityAnswer, quality
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived
from coatledger.events.judging import DefectFound, Inspected, ReworkFinished
from coatledger.events.leaving import Scrapped
from coatledger.events.room_gun import ClimateRead, GunSetUp, Reading
from coatledger.subjects.asked import ask
from coatledger.subjects.span import Within
from night_shop import AUCKLAND, COUNTED, LISBON, NEW_YORK, night_shop
from story import Story, fact, given, inspected, rework, reworked, started


def answer(story: Story, as_of: str | None = None, **asked: Any) -> QualityAnswer:
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now, on_day(as_of) if as_of else None)
        return quality(reader, place, **asked)


def coat(at: str, *pieces: str, **fields: Any) -> CoatApplied:
    given = {"lot": "L1", "gun": "g1", "room": "spray", "actor": "mae"}
    return fact(CoatApplied, at, pieces=pieces, **{**given, **fields})


def two_cans() -> Story:
    """Ash a and b from can L1; cherry c from L1 then L2, with a nib, reworked; d given up."""
    return given(
        fact(LotReceived, "1 07:00", lot="L1", product="clear-w", amount_l=5.0),
        fact(LotReceived, "1 07:01", lot="L2", product="satin-w", amount_l=5.0),
        started("a", "b", at="1 08:00"),
        started("c", "d", at="1 08:00", species="cherry"),
        fact(ClimateRead, "1 08:50", room="spray", readings=(Reading(air_c=21.0, rh_pct=70.0),)),
        fact(GunSetUp, "1 08:55", gun="g1", lot="L1", nozzle_mm=1.3),
        coat("1 09:00", "a", "b", "c"),
        fact(Inspected, "1 12:00", pieces=("a", "b"), point="between_coats", passed=True),
        fact(Inspected, "1 12:00", 1, pieces=("c",), point="between_coats", passed=False),
        fact(DefectFound, "1 12:05", pieces=("c",), kind="nib"),
        rework("c", at="1 13:00", because="nib"),
        coat("1 14:00", "c", lot="L2", gun="g2", actor="tom", hands_on_min=6, amount_l=0.1),
        fact(ReworkFinished, "1 15:00", pieces=("c",), done="recoat", hands_on_min=4),
        fact(Scrapped, "1 16:00", pieces=("d",)),
        inspected("a", "b", "c", at="2 09:00"),
    )


def table(by: Dimension, **asked: Any) -> dict[str | None, tuple[int, int, int, int]]:
    """value -> produced, passed at first, reworked, scrapped."""
    return {
        row.value: (
            row.produced, row.first_pass_yield.count, row.rework_ratio.count, row.scrap_ratio.count
        )
        for row in answer(two_cans(), by=by, **asked).rows
    }  # fmt: skip


def test_each_dimension_counts_a_piece_once_under_each_of_its_values() -> None:
    assert table("week") == {"2026-W10": (4, 2, 1, 1)}
    assert table("wood") == {"ash": (2, 2, 0, 0), "cherry": (2, 0, 1, 1)}
    assert table("defect") == {"nib": (1, 0, 1, 0)}
    assert table("lot") == {"L1": (3, 2, 1, 0), "L2": (1, 0, 1, 0)}
    assert table("product") == {"clear-w": (3, 2, 1, 0), "satin-w": (1, 0, 1, 0)}
    assert table("gun") == {"g1": (3, 2, 1, 0), "g2": (1, 0, 1, 0)}
    assert table("nozzle") == {"1.3 mm": (3, 2, 1, 0), None: (1, 0, 1, 0)}
    assert table("person") == {"mae": (3, 2, 1, 0), "tom": (1, 0, 1, 0)}
    assert table("room") == {"spray": (3, 2, 1, 0)}
    assert table("coat") == {"1": (3, 2, 1, 0), "2": (1, 0, 1, 0)}
    assert table("climate") == {"20 to 24 °C, 65 % RH or more": (3, 2, 1, 0)}


def test_the_total_is_of_all_pieces_whatever_the_dimension() -> None:
    for by in DIMENSIONS:
        told = answer(two_cans(), by=by)
        assert (told.total.produced, told.total.inspected) == (4, 3)
        assert told.few


def test_with_a_kind_of_defect_only_its_reworks_count() -> None:
    assert table("lot", defect="nib")["L1"] == (3, 2, 1, 0)
    assert table("lot", defect="sag")["L1"] == (3, 2, 0, 0)


def test_the_rolled_yield_is_the_product_of_the_first_looks_at_each_point() -> None:
    told = answer(two_cans())
    assert [(s.point, s.passed.count, s.passed.of) for s in told.steps] == [
        ("between_coats", 2, 3), ("final", 3, 3),
    ]  # fmt: skip
    assert told.rolled_throughput_yield == pytest.approx(2 / 3)


def test_rework_costs_hands_litres_and_days() -> None:
    (cost,) = answer(two_cans()).cost
    assert (cost.where, cost.because, cost.reworks, cost.ended) == ("shop", "nib", 1, 1)
    assert cost.hands_on_h == pytest.approx(10 / 60, abs=5e-4)
    assert cost.finish_l == 0.1
    assert cost.away_days == pytest.approx(2 / 24, abs=5e-4)


LATER = Within(first_week="2026-W11", last_week="2026-W20")


def test_only_the_weeks_asked_for_count_and_the_past_knows_no_more_than_then() -> None:
    assert answer(two_cans(), within=LATER).total.produced == 0
    assert answer(two_cans(), as_of="1 20:00").total.produced == 1
    assert answer(two_cans(), as_of="9 20:00").rows == answer(two_cans()).rows


def test_without_weeks_it_is_the_year_up_to_now() -> None:
    told = answer(given(started("a"), inspected("a")))
    assert (told.first_week, told.last_week) == ("2025-W11", "2026-W11")


def test_a_piece_reworked_later_moves_from_one_fate_to_another() -> None:
    story = two_cans()
    story.bench.at("10 08:00")
    story.when(rework("a", at="3 09:00", because="haze"), reworked("a", at="3 10:00")).accepted()
    told = answer(story, by="wood")
    ash = next(row for row in told.rows if row.value == "ash")
    assert (ash.rework_ratio.count, ash.first_pass_yield.count) == (1, 2)


@pytest.mark.parametrize("zone", [LISBON, NEW_YORK, AUCKLAND])
@pytest.mark.parametrize("by", ["day", "week", "month"])
def test_days_weeks_and_months_are_those_of_the_zone(zone: str, by: str) -> None:
    told = answer(night_shop(), by=by, within=Within(zone=zone))
    assert {row.value: row.produced for row in told.rows} == COUNTED[by][zone]


def test_only_the_days_asked_for_count() -> None:
    days = Within(first_day=date(2026, 3, 29), last_day=date(2026, 3, 30))
    told = answer(night_shop(), by="wood", within=days)
    assert (told.total.produced, told.first_week, told.last_week) == (2, "2026-W13", "2026-W14")
    assert (told.first_day, told.last_day) == (days.first_day, days.last_day)
