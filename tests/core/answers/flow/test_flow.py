"""How work flows: where each hour went, Little's law to the quarter-hour, and the bottleneck."""

from collections.abc import Callable
from itertools import pairwise

from bench import on_day
from coatledger.answers.flow.answer import DEFINITIONS
from coatledger.answers.flow.counted import little_of
from coatledger.answers.flow.covered import Covered, at_least, both, without
from coatledger.ledger.record import micros
from coatledger.subjects.asked import ask
from coatledger.subjects.span import Within, pieces_that_stayed, span_of
from flow_shop import answer, busy_shop
from hypothesis import given as drawn
from hypothesis import strategies as st
from msgspec.structs import replace
from story import given

TWELVE = Within(first_week="2026-W12")
SPANS = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12)).map(lambda s: (s[0], sum(s))))


def test_littles_law_holds_to_the_quarter_hour_and_for_any_weeks() -> None:
    story = busy_shop()
    for first, last in (("", ""), ("2026-W12", "2026-W14"), ("2026-W15", "")):
        told = answer(story, within=Within(first_week=first, last_week=last))
        assert told.little is not None
        assert told.residual_share is not None
        assert told.residual_share < 0.02
        assert told.little.work_in_process > 0.2
    assert answer(story, as_of="30 12:00", within=TWELVE).residual_share < 0.02  # type: ignore[operator]


def test_a_shipment_that_is_missing_breaks_littles_law() -> None:
    story = busy_shop()
    with story.bench.store.reading() as reader:
        place = ask(reader, story.bench.now)
        span = span_of(reader, place, replace(TWELVE, last_week="2026-W14"))
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


def test_an_empty_shop_has_no_numbers_rather_than_noughts() -> None:
    told = answer(given())
    assert (told.left, told.lead_time, told.touch_share, told.busy) == (0, (), None, ())
    assert told.residual_share is None
    assert told.definitions == DEFINITIONS


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
