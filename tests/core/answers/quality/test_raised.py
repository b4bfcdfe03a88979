"""Findings as facts to compare: each coat's own, and those of the work before it."""

from collections.abc import Set
from uuid import UUID

import pytest
from coatledger.answers.quality.raised import Raised, raised
from coatledger.answers.quality.why import why
from coatledger.events.base import Fact
from coatledger.events.coating import CoatApplied
from coatledger.events.finish import LotReceived
from coatledger.events.judging import DefectFound
from coatledger.events.preparing import BlownOff
from coatledger.findings.find import findings_of_piece
from coatledger.ledger.record import micros
from coatledger.subjects.asked import ask
from quality_shop import bad_weeks
from story import fact, given, inspected, sanded, started, voided


def coat(at: str, *pieces: str, n: int = 0) -> CoatApplied:
    return fact(CoatApplied, at, n, pieces=pieces, lot="L1", gun="g1", room="spray")


CAN = fact(LotReceived, "1 07:00", lot="L1", product="clear-w", amount_l=5.0)
FIRST, SECOND = coat("1 09:00", "a", "b"), coat("1 15:00", "a", "b")
DUSTY = (
    CAN,
    started("a", "b", at="1 08:00"),
    sanded("a", "b", at="1 08:30"),
    fact(BlownOff, "1 08:45", pieces=("a",), by="vacuum"),
    FIRST,
    SECOND,
    inspected("a", "b", at="2 09:00"),
)


def told(*facts: Fact) -> Raised:
    story = given(*facts)
    with story.bench.store.reading() as reader:
        view = story.view(reader)
        asked = ask(reader, story.bench.now)
        return raised(reader, asked, [view.piece(word) for word in ("a", "b")])


def codes(found: Raised, event: UUID, word: str) -> Set[str]:
    return found[event, word]


def test_a_finding_is_of_the_pieces_it_names_and_not_of_their_whole_act() -> None:
    found = told(*DUSTY)
    assert "no_blow_off" in codes(found, FIRST.id, "b")
    assert "no_blow_off" not in codes(found, FIRST.id, "a")


def test_what_lies_with_the_room_is_told_of_every_act_of_the_day() -> None:
    found = told(*DUSTY)
    for event in (FIRST.id, SECOND.id):
        for word in ("a", "b"):
            assert "no_climate_reading" in codes(found, event, word)


def test_what_a_rule_says_of_sanding_goes_to_the_coat_after_it_and_to_no_other() -> None:
    wet = sanded("a", at="1 09:05", stage="between_coats", grit=320)
    found = told(*DUSTY, wet)
    assert "sanded_before_dry" in codes(found, SECOND.id, "a")
    assert "sanded_before_dry" not in codes(found, SECOND.id, "b")
    assert "sanded_before_dry" not in codes(found, FIRST.id, "a")


def test_a_voided_act_of_work_raises_nothing() -> None:
    wet = sanded("a", at="1 09:05", stage="between_coats", grit=320)
    found = told(*DUSTY, wet, voided(wet, at="2 10:00"))
    assert "sanded_before_dry" not in codes(found, SECOND.id, "a")


def test_safety_and_what_nobody_described_are_no_candidates() -> None:
    every = set().union(*told(*DUSTY).values())
    assert not every & {"oily_rags_today", "flammable_spraying", "not_yet_described"}


@pytest.mark.parametrize("seed", range(2))
def test_each_code_of_a_pieces_own_findings_is_told_of_one_of_its_coats(seed: int) -> None:
    """A piece's own findings are judged by other readings and states at hand: the codes agree."""
    store, now = bad_weeks(seed)
    with store.reading() as reader:
        asked = ask(reader, now)
        view = asked.view(reader)
        words = [f"p{number}-0" for number in range(12)]
        pieces = [view.piece(word) for word in words if view.piece(word).ever_coated]
        found = raised(reader, asked, pieces)
        for piece in pieces:
            coats = {coat.event for coat in piece.ever_coated}
            mine = set().union(*(found[coat, piece.piece] for coat in coats))
            own = {
                one.code
                for one in findings_of_piece(reader, piece.piece, as_of_us=micros(now))
                if one.about in coats
            }
            assert mine == own - {"film_void", "not_yet_described", "can_not_stirred"}
            assert mine


def test_a_rule_broken_where_defects_follow_is_ranked_with_its_trial() -> None:
    facts: list[Fact] = [CAN]
    for number in range(24):
        word, day = f"p{number}", number % 6 + 1
        hour = 8 + number // 6 * 2
        facts += [
            started(word, at=f"{day} {hour:02}:00"),
            sanded(word, at=f"{day} {hour:02}:10"),
        ]
        if number % 2:
            facts.append(fact(BlownOff, f"{day} {hour:02}:20", pieces=(word,), by="vacuum"))
        facts.append(coat(f"{day} {hour:02}:30", word))
        if not number % 2 or number == 1:
            facts.append(fact(DefectFound, f"{day} {hour + 1:02}:00", pieces=(word,), kind="nib"))
        facts.append(inspected(word, at="8 09:00"))
    story = given(*facts)
    with story.bench.store.reading() as reader:
        (kind,) = why(reader, ask(reader, story.bench.now)).kinds
    (mine,) = (one for one in kind.candidates if one.fact == "finding no blow off")
    assert (mine.value, mine.with_bad, mine.with_all) == ("yes", 12, 12)
    assert (mine.without_bad, mine.without_all, mine.named) == (1, 12, True)
    assert mine.says.startswith("Nib goes with finding no blow off: yes. It followed 12 of 12")
    assert "one so that finding no blow off is raised and one so that it is not" in mine.trial
