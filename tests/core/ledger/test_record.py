"""The envelope: what is stamped around a fact, and that its bytes are read back as they were."""

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import rfc8785
from acts import golden
from any_event import ANY_EVENT, ANY_MOMENT
from coatledger.events.catalogue import TAG_OF
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.normal import normal_form
from coatledger.ledger.record import (
    EPOCH,
    Row,
    body_of,
    leaf_bytes,
    micros,
    moment,
    on_true_time,
    recorded,
)
from hypothesis import given
from hypothesis import strategies as st

WORDS = st.text(st.characters(codec="utf-8"), max_size=12)


def row_of(event: Any, offset_ms: int = 0, **stamps: Any) -> Row:
    given_stamps: dict[str, Any] = {
        "shop": "trial", "position": 3, "recorded_us": 1_000_001, "by": "key",
        "previous": {"piece:a": 2}, **stamps,
    }  # fmt: skip
    leaf = leaf_bytes(body=normal_form(event), offset_ms=offset_ms, **given_stamps)
    return Row(3, event.id, TAG_OF[type(event)], micros(event.occurred_at), 1_000_001, leaf)


@given(ANY_EVENT, WORDS, WORDS, st.dictionaries(WORDS.filter(str.isascii), st.integers(0, 10**6)))
def test_the_leaf_is_rfc_8785_and_gives_the_body_back(
    event: Any, shop: str, by: str, previous: dict[str, int]
) -> None:
    row = row_of(event, shop=shop, by=by, previous=previous)
    assert row.leaf == rfc8785.dumps(json.loads(row.leaf))
    assert body_of(row) == normal_form(event)
    read = recorded(row)
    assert (read.by, read.previous, read.position) == (by, previous, 3)
    assert normal_form(read.event) == normal_form(event)
    assert read.recorded_at == EPOCH + timedelta(microseconds=1_000_001)


@given(ANY_MOMENT)
def test_microseconds_count_exactly_in_every_zone(aware: datetime) -> None:
    assert moment(micros(aware)) == aware
    assert moment(micros(aware)).tzinfo is UTC


def test_an_offset_is_taken_out_of_the_times_a_device_gave() -> None:
    read = golden("climate_read")
    assert isinstance(read, ClimateRead)
    true = recorded(row_of(read, offset_ms=90_000)).event
    late = timedelta(seconds=90)
    assert isinstance(true, ClimateRead)
    assert read.ended_at is not None
    assert (true.occurred_at, true.ended_at) == (read.occurred_at - late, read.ended_at - late)
    assert [r.at for r in true.readings] == [None if r.at is None else r.at - late
                                             for r in read.readings]  # fmt: skip


def test_a_replacement_was_given_by_a_person_and_keeps_its_times() -> None:
    told: Any = golden("event_amended")
    true: Any = on_true_time(told, 90_000)
    assert true.occurred_at == told.occurred_at - timedelta(seconds=90)
    assert true.replacement == told.replacement
    assert on_true_time(told, 0) is told
