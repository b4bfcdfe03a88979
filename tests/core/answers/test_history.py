"""A piece's history: every event, in its place, with its own bytes and what was corrected."""

import msgspec
from bench import on_day
from coatledger.answers.history import HistoryAnswer, history_of
from coatledger.subjects.asked import ask
from story import Story, amended, coated, given, sanded, started, voided


def answer(story: Story, word: str, known_at: str | None = None) -> HistoryAnswer | None:
    with story.bench.store.reading() as reader:
        known = on_day(known_at) if known_at else None
        return history_of(reader, f"piece:{word}", ask(reader, story.bench.now, None, known))


def test_events_stand_in_the_order_in_which_they_happened() -> None:
    story = given(started("a"), coated("a", at="1 10:00"), sanded("a", at="1 09:00"))
    told = answer(story, "a")
    assert told is not None
    assert [entry.type for entry in told.entries] == ["piece_started", "sanded", "coat_applied"]
    assert [entry.position for entry in told.entries] == [1, 3, 2]


def test_a_correction_is_seen_on_what_it_corrected_and_by_itself() -> None:
    first, second = sanded("a"), coated("a", "b")
    story = given(started("a", "b"), first, second, voided(first), amended(second, pieces=("b",)))
    told = answer(story, "a")
    assert told is not None
    standing = {entry.type: entry.standing for entry in told.entries}
    assert standing == {
        "piece_started": "stands",
        "sanded": "voided",
        "coat_applied": "amended",
        "event_voided": "correction",
        "event_amended": "correction",
    }
    by = {entry.type: entry.corrected_by for entry in told.entries}
    assert len(by["sanded"]) == len(by["coat_applied"]) == 1


def test_what_was_not_yet_known_is_not_told() -> None:
    first = sanded("a")
    story = given(started("a"), first)
    story.bench.at("10 08:00")
    story.when(voided(first, at="10 07:00")).accepted()
    before = answer(story, "a", known_at="9 21:00")
    assert before is not None
    assert [entry.standing for entry in before.entries] == ["stands", "stands"]


def test_the_facts_own_bytes_and_its_note_are_given() -> None:
    story = given(started("a"), sanded("a", note="by the window"))
    told = answer(story, "a")
    assert told is not None
    entry = told.entries[1]
    assert entry.note == "by the window"
    assert msgspec.json.decode(bytes(entry.fact))["note"].startswith("sha256:")
    assert entry.late.total_seconds() == (story.bench.now - entry.occurred_at).total_seconds()


def test_a_word_nobody_used_has_no_history() -> None:
    assert answer(given(), "zz") is None
