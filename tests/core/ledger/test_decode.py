"""Bytes that were posted become facts, or a refusal that names every fault."""

import json
from typing import Any

import msgspec
import pytest
from coatledger.events.about import RagsDealtWith
from coatledger.events.catalogue import AnyEvent
from coatledger.events.preparing import Sanded
from coatledger.ledger.batch import Batch, Condition, Posted
from coatledger.ledger.decode import plain, posted, sorted_out
from coatledger.ledger.faults import faults_of
from coatledger.refusal import Refused
from hypothesis import given
from hypothesis import strategies as st

ID = "019cad58-bd80-7000-8000-00000000000{}"
RAGS: dict[str, Any] = {
    "type": "rags_dealt_with", "id": ID.format(1), "occurred_at": "2026-03-02T16:00:00Z",
    "how": "spread_outdoors",
}  # fmt: skip
SANDED: dict[str, Any] = {
    "type": "sanded", "id": ID.format(2), "occurred_at": "2026-03-02T08:00:00+01:00",
    "pieces": ["T-1"], "stage": "bare", "grit": 150,
}  # fmt: skip


def text(value: Any) -> bytes:
    return json.dumps(value).encode()


def refused(body: bytes) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as refusal:
        posted(body)
    return [(fault.rule, fault.pointer) for fault in refusal.value.faults]


def test_one_fact_and_a_batch_are_told_apart() -> None:
    assert isinstance(posted(text(RAGS)), RagsDealtWith)
    batch = posted(text({"type": "batch", "events": [RAGS, SANDED]}))
    assert isinstance(batch, Batch)
    assert [type(event) for event in batch.events] == [RagsDealtWith, Sanded]


def test_a_whole_number_with_a_point_is_the_whole_number() -> None:
    event = posted(text({**SANDED, "grit": 150.0}))
    assert event == posted(text(SANDED))
    assert refused(text({**SANDED, "grit": 150.5})) == [("invalid", "/grit")]


def test_places_are_json_pointers() -> None:
    odd = {**RAGS, "a/b~c": 1}
    assert refused(text(odd)) == [("invalid", "/a~1b~0c")]
    nested = {"type": "batch", "events": [SANDED, {**SANDED, "pieces": ["T-1", "T 2", 3]}]}
    assert refused(text(nested)) == [
        ("invalid", "/events/1/pieces/1"),
        ("invalid", "/events/1/pieces/2"),
    ]


def test_a_replacement_is_looked_into_and_is_no_correction() -> None:
    amended = {
        "type": "event_amended", "id": ID.format(3), "occurred_at": "2026-03-02T16:00:00Z",
        "original": ID.format(2), "replacement": {**SANDED, "grit": 1},
    }  # fmt: skip
    assert refused(text(amended)) == [("invalid", "/replacement/grit")]
    twice = {**amended, "replacement": amended}
    assert refused(text(twice)) == [("invalid", "/replacement/type")]


def test_a_word_nearly_right_is_named() -> None:
    with pytest.raises(Refused, match="did you mean `pieces`"):
        posted(text({**SANDED, "peices": ["T-2"]}))
    with pytest.raises(Refused, match="did you mean `sanded`"):
        posted(text({**SANDED, "type": "sandded"}))
    with pytest.raises(Refused, match="not one of bare, between_coats, final, spot"):
        posted(text({**SANDED, "stage": "raw"}))


def test_everything_wrong_with_a_value_is_found_and_the_rest_mended() -> None:
    value = {"subject": "T-1", "after": 3.0, "before": 4}
    mended, faults = faults_of(value, Condition, "/conditions/0")
    assert [fault.pointer for fault in faults] == ["/conditions/0/subject", "/conditions/0/before"]
    assert mended["after"] == 3
    assert type(mended["after"]) is int
    assert faults_of({"subject": "shop", "after": 0}, Condition)[1] == ()


def test_a_body_full_of_faults_is_answered_with_a_hundred() -> None:
    batch = {"type": "batch", "events": [{"type": "sanded"}] * 1000}
    assert len(refused(text(batch))) == 100


@pytest.mark.parametrize(
    "body",
    [
        b"", b"{", b"\xff", b'"\\ud800"', b"NaN", b"[" * 100_000, b'{"a":' * 100_000, b"1e999",
        b"\xef\xbb\xbf{}",
    ],
)  # fmt: skip
def test_what_is_no_json_is_malformed(body: bytes) -> None:
    with pytest.raises(Refused) as refusal:
        plain(body)
    assert refusal.value.rule == "malformed"


def test_a_lenient_batch_gives_each_fact_or_why_it_is_none() -> None:
    read = sorted_out(text({"type": "batch", "events": [{"type": "x"}, RAGS, 5]}))
    first, second, third = read.each
    assert isinstance(first, Refused)
    assert first.faults[0].pointer == "/events/0/type"
    assert isinstance(second, RagsDealtWith)
    assert isinstance(third, Refused)
    assert read.batch is not None
    assert read.batch.events == (second,)


def test_the_frame_of_a_lenient_batch_must_be_right() -> None:
    for wrong, place in (
        ({"events": []}, "/events"),
        ({"events": 3}, "/events"),
        ({}, "/events"),
        ({"events": [{}] * 1001}, "/events"),
        ({"events": [{}], "sent_at": "noon"}, "/sent_at"),
        ({"events": [{}], "colour": "red"}, "/colour"),
    ):
        with pytest.raises(Refused) as refusal:
            sorted_out(text({"type": "batch", **wrong}))
        assert [fault.pointer for fault in refusal.value.faults] == [place]


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=8) | st.sampled_from(["2026-03-02T08:00:00Z", ID.format(2), "T-1", "bare"]),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(
        st.sampled_from([*SANDED, "events", "conditions", "sent_at", "replacement", "readings"]),
        inner, max_size=6,
    ),
    max_leaves=12,
)  # fmt: skip
TAGS = st.sampled_from(["sanded", "batch", "event_amended", "climate_read", "order_taken"])


@given(value=JSON, tag=TAGS)
def test_any_json_is_read_or_refused_as_the_strict_decoder_says(value: Any, tag: str) -> None:
    body = text({**SANDED, **value, "type": tag} if isinstance(value, dict) else value)
    strict: AnyEvent | Batch | None
    try:
        strict = msgspec.json.decode(body, type=Posted)
    except msgspec.ValidationError:
        strict = None
    try:
        read: AnyEvent | Batch | None = posted(body)
    except Refused:
        read = None
    if strict is not None:
        assert read == strict
    elif read is not None:  # only whole numbers written with a point are read beyond the strict
        assert msgspec.json.decode(msgspec.json.encode(read), type=Posted) == read
        assert b".0" in body or b"e" in body


def test_a_fourth_decimal_is_named_beside_the_other_faults() -> None:
    body = (
        b'{"type":"coat_applied","id":"x","occurred_at":"2026-03-02T10:00:00Z","pieces":["T-1"],'
        b'"lot":"can-1","wet_film_um":1.23456}'
    )
    with pytest.raises(Refused) as refused:
        posted(body)
    assert {fault.pointer for fault in refused.value.faults} == {"/id", "/wet_film_um"}
