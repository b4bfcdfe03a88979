"""The table of subjects: complete, and each fold looks at what it says it looks at."""

from typing import Any

import pytest
from acts import golden
from any_event import ANY_STRUCT
from coatledger.events.base import Fact
from coatledger.events.catalogue import (
    ABOUT_EVENTS,
    EVENT_TYPES,
    SHOP_WIDE,
    SUBJECT_FIELDS,
    TAG_OF,
    subjects_of,
)  # fmt: skip
from coatledger.ledger.batch import SUBJECT_KINDS
from coatledger.subjects.registry import FOLDS, kind_of, state_bytes, state_of, word_of
from hypothesis import given, settings

DESCRIBED = {
    "gun": "gun_described", "room": "room_described", "product": "product_described",
    "schedule": "schedule_described", "offering": "offering_described", "shop": "shop_described",
    "instrument": "instrument_checked", "person": "person_absent",
}  # fmt: skip


def test_every_kind_of_subject_that_a_field_can_name_has_its_fold() -> None:
    assert set(SUBJECT_FIELDS.values()) | {"shop"} == set(FOLDS) == {*SUBJECT_KINDS, "shop"}


@pytest.mark.parametrize("kind", EVENT_TYPES, ids=TAG_OF.__getitem__)
def test_every_fact_changes_a_fold_or_is_a_note_of_the_room_or_about_events(
    kind: type[Fact],
) -> None:
    event = golden(TAG_OF[kind])
    if isinstance(event, ABOUT_EVENTS):
        return
    changed = []
    for subject in subjects_of(event):
        fold = FOLDS[kind_of(subject)]
        state = fold.initial(word_of(subject))
        after = fold.evolve(state, event)
        if after != state:
            changed.append(subject)
            assert fold.types is None or TAG_OF[kind] in fold.types, "a rebuild would miss it"
    only_read = {"climate_read", "test_sprayed"}
    assert changed or TAG_OF[kind] in only_read


@pytest.mark.parametrize("kind", EVENT_TYPES, ids=TAG_OF.__getitem__)
def test_a_fold_with_named_types_changes_by_no_other(kind: Any) -> None:
    event = golden(TAG_OF[kind])
    for subject in subjects_of(event):
        fold = FOLDS[kind_of(subject)]
        if fold.types is not None and TAG_OF[kind] not in fold.types:
            state = fold.initial("w")
            assert fold.evolve(state, event) == state


@pytest.mark.parametrize("kind", DESCRIBED)
def test_what_is_described_is_read_back_as_it_was_written(kind: str) -> None:
    fold = FOLDS[kind]

    @settings(max_examples=8)
    @given(ANY_STRUCT[type(golden(DESCRIBED[kind]))])
    def holds(event: Any) -> None:
        state = fold.evolve(fold.evolve(fold.initial("w"), event), golden(DESCRIBED[kind]))
        data = state_bytes(state)
        assert state_bytes(state_of(kind, data)) == data

    holds()


@pytest.mark.parametrize("kind", SHOP_WIDE, ids=TAG_OF.__getitem__)
def test_acts_of_the_whole_shop_name_the_shop_first(kind: type[Fact]) -> None:
    assert subjects_of(golden(TAG_OF[kind]))[0] == "shop"


def test_a_subject_is_a_kind_and_a_word() -> None:
    assert (kind_of("piece:oak-01"), word_of("piece:oak-01")) == ("piece", "oak-01")
    assert (kind_of("shop"), word_of("shop")) == ("shop", "")
