"""The normal form is one text for one fact, and the bytes of RFC 8785."""

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any
from uuid import UUID

import msgspec
import pytest
import rfc8785
from any_event import ANY_EVENT, ANY_STRUCT, TEXT
from coatledger.events.catalogue import EVENT_TYPES, TAG_OF, EventAmended, subjects_of
from coatledger.events.finish import LotDiscarded, LotMeasured
from coatledger.events.room_gun import ClimateRead, Reading
from coatledger.events.setup import InstrumentChecked, OfferingDescribed, ProductDescribed
from coatledger.ledger.normal import canonical, normal_form, utc_text
from coatledger.ledger.record import decode_event
from coatledger.refusal import Refused
from hypothesis import given, settings
from hypothesis import strategies as st

ID = UUID("019a0f3c-9c00-7000-8000-000000000001")
NOON = datetime(2026, 10, 5, 12, tzinfo=UTC)


def with_all_defaults(value: Any) -> Any:
    """Write every field out, as a client may that knows nothing of defaults."""
    if isinstance(value, msgspec.Struct):
        config = value.__struct_config__
        out = {} if config.tag_field is None else {config.tag_field: config.tag}
        for name in value.__struct_fields__:
            out[name] = with_all_defaults(getattr(value, name))
        return out
    if isinstance(value, tuple):
        return [with_all_defaults(item) for item in value]
    return msgspec.to_builtins(value)


@settings(max_examples=300)
@given(ANY_EVENT)
def test_the_normal_form_is_rfc_8785(event: Any) -> None:
    body = normal_form(event)
    assert body == rfc8785.dumps(json.loads(body))


@settings(max_examples=200)
@given(ANY_EVENT)
def test_the_normal_form_of_the_normal_form_is_itself(event: Any) -> None:
    body = normal_form(event)
    assert normal_form(decode_event(body)) == body


@settings(max_examples=200)
@given(ANY_EVENT)
def test_defaults_written_out_and_left_out_are_one_text(event: Any) -> None:
    told = json.dumps(with_all_defaults(event), default=str).encode()
    assert normal_form(decode_event(told)) == normal_form(event)


@pytest.mark.parametrize("kind", EVENT_TYPES, ids=TAG_OF.__getitem__)
def test_every_type_is_drawn_named_and_written(kind: Any) -> None:
    @settings(max_examples=3)
    @given(ANY_STRUCT[kind])
    def holds(event: Any) -> None:
        body = normal_form(event)
        assert json.loads(body)["type"] == TAG_OF[kind]
        assert subjects_of(decode_event(body)) == subjects_of(event)

    holds()


@settings(max_examples=200)
@given(st.text(TEXT, min_size=1, max_size=40))
def test_any_words_are_written_as_rfc_8785_writes_them(words: str) -> None:
    event = OfferingDescribed(
        id=ID, occurred_at=NOON, offering="shelf", skus=("S",), schedule="oak", name=words
    )
    body = normal_form(event)
    assert body == rfc8785.dumps(json.loads(body))
    assert json.loads(body)["name"] == words


def left(litres: float) -> bytes:
    return normal_form(LotMeasured(id=ID, occurred_at=NOON, lot="can-1", left_l=litres))


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (3.318, b"3.318"),
        (0.001, b"0.001"),
        (12.0, b"12"),
        (-0.0, b"0"),
        (0.1 + 0.2, b"0.3"),
        (999.999, b"999.999"),
        (1000.0, b"1000"),
    ],
)
def test_a_quantity_has_one_text(quantity: float, text: bytes) -> None:
    assert b'"left_l":' + text + b"," in left(quantity)


def error(value: float) -> bytes:
    return normal_form(
        InstrumentChecked(id=ID, occurred_at=NOON, instrument="h", kind="cup", error=value)
    )


def test_a_million_is_still_a_quantity_and_is_written_without_an_exponent() -> None:
    assert b'"error":1000000,' in error(1e6)
    assert b'"error":-999999.999,' in error(-999_999.999)


@pytest.mark.parametrize("value", [1_000_000.001, -1e7, float("inf"), float("nan"), 1e300])
def test_more_than_a_million_is_no_quantity(value: float) -> None:
    with pytest.raises(Refused) as refused:
        error(value)
    assert refused.value.faults[0].pointer == "/error"


@pytest.mark.parametrize("value", [0.0005, 3.1234, 1.23456789, 0.0001, -0.0001])
def test_a_fourth_decimal_is_refused(value: float) -> None:
    with pytest.raises(Refused, match="at most 3 decimals"):
        error(value)


def test_every_bad_number_is_named_with_its_place() -> None:
    fact = ClimateRead(
        id=ID, occurred_at=NOON, room="spray",
        readings=(Reading(air_c=20.5, rh_pct=50.00001), Reading(air_c=19.12345, rh_pct=50.0)),
    )  # fmt: skip
    with pytest.raises(Refused) as refused:
        normal_form(
            EventAmended(id=ID, occurred_at=NOON, original=ID, replacement=fact), "/events/7"
        )
    places = [fault.pointer for fault in refused.value.faults]
    assert places == [
        "/events/7/replacement/readings/0/rh_pct",
        "/events/7/replacement/readings/1/air_c",
    ]


def test_noise_beside_a_default_is_the_default() -> None:
    noisy = ProductDescribed(
        id=ID, occurred_at=NOON, product="clear", kind="lacquer", reference_air_c=21.0 + 1e-12
    )
    assert b"reference_air_c" not in normal_form(noisy)
    for little in (1e-10, 5e-324):
        with pytest.raises(Refused):  # so small a number is no noise: nobody computed it from zero
            normal_form(LotDiscarded(id=ID, occurred_at=NOON, lot="can-1", left_l=little))


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        (datetime(2026, 10, 5, 12, 0, 0, 5, tzinfo=UTC), "2026-10-05T12:00:00.000005Z"),
        (
            datetime(2026, 10, 5, 1, tzinfo=timezone(timedelta(hours=2))),
            "2026-10-04T23:00:00.000000Z",
        ),
    ],
)
def test_a_time_is_written_in_utc_with_microseconds(moment: datetime, text: str) -> None:
    assert utc_text(moment) == text


@pytest.mark.parametrize(
    "moment",
    [
        datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14))),
        datetime(9999, 12, 31, 23, tzinfo=timezone(-timedelta(hours=14))),
        datetime(2026, 10, 5, 12),  # noqa: DTZ001 - a time without its offset is what is tried
    ],
)
def test_a_time_without_an_offset_or_at_the_ends_of_the_calendar_is_refused(
    moment: datetime,
) -> None:
    with pytest.raises(Refused) as refused:
        normal_form(LotMeasured(id=ID, occurred_at=moment, lot="can-1", left_l=1.0))
    assert refused.value.faults[0].pointer == "/occurred_at"


def test_keys_are_sorted_however_deep() -> None:
    assert canonical({"b": {"z": 1, "a": 2}, "a": [{"d": 1, "c": 2}]}) == (
        b'{"a":[{"c":2,"d":1}],"b":{"a":2,"z":1}}'
    )
