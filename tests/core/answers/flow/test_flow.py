"""How work flows: where each hour went, Little's law to the quarter-hour, and the bottleneck."""

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from bench import on_day
from coatledger.answers.flow.answer import FlowAnswer, flow
from coatledger.answers.flow.counted import little_of
from coatledger.answers.flow.covered import Covered, at_least, both, without
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived
from coatledger.events.leaving import Scrapped
from coatledger.events.setup import OpenHours, ProductDescribed, ShopDescribed
from coatledger.ledger.record import micros
from coatledger.subjects.asked import ask
from coatledger.subjects.span import pieces_that_stayed, span_of
from hypothesis import given as drawn
from hypothesis import strategies as st
from msgspec.structs import replace
from story import Story, fact, given, inspected, packed, returned, sanded, shipped, started

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")
SPANS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12)).map(lambda s: (s[0], sum(s))))


def shop(**fields: Any) -> tuple[Any, ...]:
    hours = tuple(OpenHours(day=day, opens="08:00", closes="16:00") for day in WEEKDAYS)  # type: ignore[arg-type]
    return (
        fact(ShopDescribed, "1 07:00", zone="UTC", hours=hours, people=2, **fields),
        fact(
            ProductDescribed, "1 07:00", product="clear-w", kind="water_borne", recoat_h=3.0,
            wrap_h=12.0, tack_free_h=1.0,
        ),
        fact(LotReceived, "1 07:05", lot="L1", product="clear-w", amount_l=5.0),
    )  # fmt: skip


def coat(at: str, until: str, *pieces: str, **fields: Any) -> CoatApplied:
    given = {"lot": "L1", "gun": "g1", "ended_at": on_day(until)}
    return fact(CoatApplied, at, pieces=pieces, **{**given, **fields})


def answer(story: Story, as_of: str | None = None, **asked: Any) -> FlowAnswer:
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now, on_day(as_of) if as_of else None)
        return flow(reader, place, **asked)


def hours(told: FlowAnswer) -> dict[str, float]:
    return {one.reason: one.hours for one in told.spent if one.hours}


def test_every_hour_of_a_piece_is_told_once_and_for_a_reason() -> None:
    """Start 8:00; coat 9:00-9:30; dry till 12:30; coat 14:00-14:30; dry 12 h to 2:30; packed 10:00
    next day; shipped 15:00."""
    told = answer(
        given(
            *shop(),
            started("a", at="1 08:00"),
            coat("1 09:00", "1 09:30", "a", hands_on_min=30),
            coat("1 14:00", "1 14:30", "a", hands_on_min=30),
            packed("a", at="2 10:00"),
            shipped("a", at="2 15:00"),
        )
    )
    assert hours(told) == {
        "hands": 1.0, "clock": 3.0 + 12.0, "closed": 5.5, "people": 1.0 + 1.5 + 2.0 + 5.0,
    }  # fmt: skip
    assert sum(hours(told).values()) == pytest.approx(31.0)
    assert told.touch_share == pytest.approx(1 / 31, abs=1e-6)
    assert [one.days for one in told.lead_time if one.percent == 50.0] == [round(31 / 24, 3)]


def test_a_piece_waits_for_finish_for_a_gun_and_for_a_rack_place() -> None:
    late = fact(LotReceived, "1 11:00", lot="L2", product="clear-w", amount_l=5.0)
    told = answer(
        given(
            *shop(), late,
            started("a", "b", at="1 08:00"),
            coat("1 12:00", "1 13:00", "b"),
            coat("1 13:00", "1 13:30", "a", lot="L2"),
            fact(Scrapped, "1 13:30", pieces=("a",)),
        )
    )  # fmt: skip
    # a: finish till 11, then an hour for people, an hour while the gun was at work on b.
    assert hours(told) == {"hands": 0.5, "finish": 3.0, "gun": 1.0, "people": 1.0}
    racked = answer(
        given(
            *shop(rack_places=1),
            started("a", "b", at="1 08:00"),
            coat("1 08:00", "1 08:00", "b"),
            coat("1 15:00", "1 15:00", "b"),
            sanded("a", at="1 11:00"),
            fact(Scrapped, "1 11:00", 1, pieces=("a",)),
        )
    )
    assert hours(racked) == {"rack": 3.0}


def busy_shop() -> Story:
    """Forty pieces over eight weeks; one comes back, one is given up, two are still here."""
    facts: list[Any] = [*shop()]
    for number in range(40):
        day = 1 + (number // 5) * 7 + number % 5
        word = f"p{number}"
        facts += [
            started(word, at=f"{day} 08:{10 + number % 7}"),
            coat(f"{day} 09:00", f"{day} 09:20", word, hands_on_min=20),
            inspected(word, at=f"{day + 1} 09:00"),
        ]
        if number not in (7, 38, 39):
            facts.append(shipped(word, at=f"{day + 2} 15:{number % 9 + 10}"))
    facts += [
        fact(Scrapped, "20 09:00", pieces=("p7",)),
        returned("p3", at="20 10:00"),
        fact(Scrapped, "21 10:00", 1, pieces=("p3",)),
    ]
    story = given()
    story.bench.at("58 16:00")
    story.when(*sorted(facts, key=lambda one: one.occurred_at)).accepted()
    return story


def test_littles_law_holds_to_the_quarter_hour_and_for_any_weeks() -> None:
    story = busy_shop()
    for first, last in (("", ""), ("2026-W12", "2026-W14"), ("2026-W15", "")):
        told = answer(story, first_week=first, last_week=last)
        assert told.little is not None
        assert told.residual_share is not None
        assert told.residual_share < 0.02
        assert told.little.work_in_process > 0.2
    assert answer(story, as_of="30 12:00", first_week="2026-W12").residual_share < 0.02  # type: ignore[operator]


def test_a_shipment_that_is_missing_breaks_littles_law() -> None:
    story = busy_shop()
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now)
        span = span_of(reader, place, "2026-W12", "2026-W14")
        window = (micros(on_day("15 00:00")), micros(on_day("36 00:00")))
        stayed = list(pieces_that_stayed(reader, place, span))
        whole = little_of(reader, place, span, stayed, window)
        lost = [replace(p, shipped_us=()) if p.piece == "p12" else p for p in stayed]
        broken = little_of(reader, place, span, lost, window)
    assert whole is not None
    assert broken is not None
    assert abs(whole.residual) / whole.work_in_process < 0.02
    assert abs(broken.residual) / broken.work_in_process > 0.1


def test_what_has_reached_a_stage_only_grows_and_the_stages_follow_one_another() -> None:
    told = answer(busy_shop())
    rows = [(row.started, row.coated, row.passed, row.left) for row in told.cumulative]
    assert rows[-1] == (40, 40, 40, 38)
    assert all(a <= b for one, two in pairwise(rows) for a, b in zip(one, two, strict=True))
    assert all(row[0] >= row[1] >= row[2] >= row[3] for row in rows)


def test_the_busiest_comes_first_and_one_more_of_it_gives_no_more_than_the_next_allows() -> None:
    told = answer(busy_shop())
    assert told.bottleneck == told.busy[0].resource == "gun g1"
    people = next(one for one in told.busy if one.resource == "people")
    assert people.units == 2
    assert people.one_more_gives == 0.0
    # The gun works 20 minutes a piece, the two people 20 minutes between them.
    assert told.busy[0].one_more_gives == pytest.approx(1.0, abs=1e-6)


def test_an_empty_shop_has_no_numbers_rather_than_noughts() -> None:
    told = answer(given())
    assert (told.left, told.lead_time, told.touch_share, told.busy) == (0, (), None, ())
    assert told.residual_share is None


@drawn(SPANS, SPANS)
def test_covering_is_what_counting_hour_by_hour_gives(
    one: list[tuple[int, int]], other: list[tuple[int, int]]
) -> None:
    def covered(spans: list[tuple[int, int]], hour: int) -> bool:
        return any(start <= hour < end for start, end in spans)

    first, second = at_least(one), at_least(other)
    rules: list[tuple[Covered, Callable[[int], bool]]] = [
        (first, lambda h: covered(one, h)),
        (both(first, second), lambda h: covered(one, h) and covered(other, h)),
        (without(first, second), lambda h: covered(one, h) and not covered(other, h)),
    ]
    for found, rule in rules:
        assert found.within(5, 30) == sum(rule(h) for h in range(5, 30))
        assert found.total_us == sum(rule(h) for h in range(60))
