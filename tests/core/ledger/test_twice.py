"""A name that stands twice in one JSON object is refused where it stands, by every reader."""

import json
from typing import Any

import msgspec
import pytest
from coatledger.ledger.decode import plain, posted, sorted_out
from coatledger.ledger.twice import refuse_twice
from coatledger.refusal import Refused
from hypothesis import given
from hypothesis import strategies as st

STIRRED = (
    b'{"type": "lot_stirred", "id": "01a11597-4e80-7d00-bbbb-89117aa194c0",'
    b' "occurred_at": "2026-03-02T07:00:00Z", "lot": "can-1"}'
)


def refused(body: bytes, read: Any = posted) -> list[str]:
    """The places of what is refused."""
    with pytest.raises(Refused) as caught:
        read(body)
    assert {fault.rule for fault in caught.value.faults} == {"invalid"}
    return [fault.pointer for fault in caught.value.faults]


@pytest.mark.parametrize("read", [posted, sorted_out, plain])
def test_a_fact_with_a_name_twice_is_refused_by_every_reader(read: Any) -> None:
    assert read(STIRRED)
    assert refused(STIRRED[:-1] + b', "lot": "can-1"}', read) == ["/lot"]


def test_the_place_is_told_however_deep_and_all_of_them() -> None:
    body = b'{"type":"batch","events":[' + STIRRED + b"," + STIRRED[:-1] + b',"lot":"x"}],"type":1}'
    assert refused(body, plain) == ["/events/1/lot", "/type"]
    assert refused(b'{"a/b":{"c~d":1,"c~d":2}}', plain) == ["/a~1b/c~0d"]


def test_the_same_name_in_two_objects_or_within_a_text_is_fine() -> None:
    refuse_twice(b'[{"a": 1}, {"a": {"a": 2}}, "{\\"a\\": 1, \\"a\\": 2}"]')


def test_a_name_written_in_two_ways_is_the_same_name() -> None:
    assert refused(b'{"lot": 1, "l\\u006ft": 2}', plain) == ["/lot"]


def test_a_number_of_any_length_takes_no_time() -> None:
    refuse_twice(b"[" + b"9" * 500_000 + b"]")


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=12,
)


@given(JSON)
def test_what_a_json_library_writes_is_never_refused(value: Any) -> None:
    refuse_twice(json.dumps(value).encode())
    assert plain(msgspec.json.encode(value)) == value
