"""Every event type has a golden: one realistic body, in its normal form, spread over lines.

A golden, once merged, is never edited: it stands for what lies in somebody's ledger already. A type
that gains a field keeps its golden; the new field is shown in another golden, `<tag>.2.json`.
"""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import msgspec
import pytest
from coatledger.events.base import Fact, Work
from coatledger.events.catalogue import (
    ABOUT_EVENTS,
    EVENT_TYPES,
    TAG_OF,
    TAGS,
    original_of,
    subjects_of,
)
from coatledger.ledger.normal import normal_form
from coatledger.ledger.record import decode_event
from coatledger.recording.judge import body_faults

FOLDER = Path(__file__).resolve().parents[2] / "golden" / "events"
GOLDENS = tuple(sorted(path.name for path in FOLDER.glob("*.json")))

Seen = dict[type[msgspec.Struct], set[str]]

# What each golden names, in the order of its fields. Facts about events name none themselves; the
# ledger adds those of the event they are about.
SUBJECTS: Mapping[str, tuple[str, ...]] = {
    "shop_described": ("shop",),
    "room_described": ("room:spray-room",),
    "gun_described": ("gun:gun-1",),
    "product_described": ("product:clear-satin",),
    "schedule_described": ("schedule:oak-three-coat", "product:clear-satin"),
    "offering_described": ("offering:harbour-shelf", "schedule:oak-three-coat"),
    "closure_announced": ("shop",),
    "person_absent": ("shop", "person:a2"),
    "instrument_checked": ("instrument:hygro-2",),
    "order_taken": ("order:o-1042", "offering:harbour-shelf"),
    "order_changed": ("order:o-1042", "offering:harbour-shelf"),
    "order_cancelled": ("order:o-1043",),
    "piece_allotted": ("piece:oak-01", "piece:oak-02", "order:o-1042"),
    "promise_made": ("order:o-1042",),
    "promise_revised": ("order:o-1042",),
    "customer_told": ("order:o-1042",),
    "piece_expected": ("piece:dine-01", "schedule:table-five-coat"),
    "piece_started": ("piece:oak-01", "piece:oak-02", "piece:oak-03", "schedule:oak-three-coat"),
    "wood_moisture_read": ("piece:oak-01", "instrument:pin-meter"),
    "condition_recorded": ("piece:oak-03",),
    "sanded": ("piece:oak-01", "piece:oak-02", "piece:oak-03"),
    "grain_raised": ("piece:oak-01",),
    "blown_off": ("piece:oak-01", "piece:oak-02", "piece:oak-03", "room:spray-room"),
    "grain_filled": ("piece:oak-01", "piece:oak-02", "lot:filler-7", "room:bench-room"),
    "stained": ("piece:oak-01", "lot:smoke-3", "room:bench-room"),
    "coat_applied": (
        "piece:oak-01",
        "piece:oak-02",
        "piece:oak-03",
        "lot:can-31",
        "gun:gun-1",
        "room:spray-room",
    ),
    "turned": ("piece:oak-01",),
    "moved": ("piece:oak-01", "piece:oak-02", "room:drying-room"),
    "dryness_checked": ("piece:oak-01",),
    "inspected": ("piece:oak-01", "piece:oak-02"),
    "defect_found": ("piece:oak-02",),
    "photo_taken": ("piece:oak-02",),
    "gloss_measured": ("piece:jewel-04", "instrument:gloss-1"),
    "rework_started": ("piece:oak-02",),
    "rework_finished": ("piece:oak-02",),
    "held": ("piece:ash-11",),
    "released": ("piece:ash-11",),
    "rubbed_out": ("piece:dine-01",),
    "polished": ("piece:dine-01",),
    "packed": ("piece:jewel-04", "piece:jewel-05"),
    "unpacked": ("piece:jewel-05",),
    "shipped": ("piece:jewel-04", "order:o-1038"),
    "handed_over": ("piece:jewel-04", "order:o-1038"),
    "damage_reported": ("piece:jewel-04",),
    "returned": ("piece:jewel-04", "order:o-1038"),
    "scrapped": ("piece:jewel-04",),
    "climate_read": ("room:spray-room", "instrument:hygro-2"),
    "air_moved": ("room:spray-room",),
    "gun_set_up": ("gun:gun-1", "lot:can-31"),
    "test_sprayed": ("gun:gun-1", "lot:can-31"),
    "gun_flushed": ("gun:gun-1",),
    "gun_strip_cleaned": ("gun:gun-1",),
    "air_line_serviced": ("shop", "room:spray-room"),
    "lot_received": ("lot:can-31", "product:clear-satin"),
    "lot_opened": ("lot:can-31",),
    "lot_stirred": ("lot:can-31",),
    "lot_strained": ("lot:can-31",),
    "lot_mixed": ("lot:mix-9", "product:clear-satin", "lot:can-31", "lot:ext-2"),
    "viscosity_measured": ("lot:mix-9",),
    "lot_measured": ("lot:can-31",),
    "lot_frozen": ("lot:can-29",),
    "lot_discarded": ("lot:can-29",),
    "rags_dealt_with": ("shop", "room:bench-room"),
    "event_voided": (),
    "event_amended": (),
    "finding_settled": (),
}
# Goldens that came later name more.
MORE_SUBJECTS: Mapping[str, tuple[str, ...]] = {
    "order_taken.2.json": ("order:o-1050", "schedule:oak-three-coat"),
    "promise_made.2.json": ("order:o-1050", "offering:harbour-shelf"),
}


def read(name: str) -> bytes:
    return (FOLDER / name).read_bytes()


def tag_of(name: str) -> str:
    return name.partition(".")[0]


def test_every_type_has_its_golden_and_no_golden_is_of_an_unknown_type() -> None:
    assert {tag_of(name) for name in GOLDENS} == set(TAGS) == set(SUBJECTS)
    assert len(EVENT_TYPES) == len(TAGS)


@pytest.mark.parametrize("name", GOLDENS)
def test_a_golden_decodes_strictly_to_its_type(name: str) -> None:
    event = decode_event(read(name))
    assert TAG_OF[type(event)] == tag_of(name)
    assert body_faults(event, "") == ()


@pytest.mark.parametrize("name", GOLDENS)
def test_a_golden_is_the_normal_form_spread_over_lines(name: str) -> None:
    body = normal_form(decode_event(read(name)))
    spread = json.dumps(json.loads(body), indent=2, sort_keys=True, ensure_ascii=False)
    assert spread + "\n" == read(name).decode()
    assert (
        body
        == json.dumps(
            json.loads(body), separators=(",", ":"), sort_keys=True, ensure_ascii=False
        ).encode()
    )


@pytest.mark.parametrize("name", GOLDENS)
def test_a_golden_names_its_subjects(name: str) -> None:
    event = decode_event(read(name))
    assert subjects_of(event) == MORE_SUBJECTS.get(name, SUBJECTS[tag_of(name)])
    assert (original_of(event) is not None) == isinstance(event, ABOUT_EVENTS)


@pytest.mark.parametrize("name", GOLDENS)
def test_a_golden_with_one_unknown_field_is_refused(name: str) -> None:
    body = {**json.loads(read(name)), "colour_of_the_sky": "grey"}
    with pytest.raises(msgspec.ValidationError, match="colour_of_the_sky"):
        decode_event(json.dumps(body).encode())


@pytest.mark.parametrize("tag", TAGS)
def test_the_goldens_of_a_type_show_every_field_it_has(tag: str) -> None:
    shown = {key for name in GOLDENS if tag_of(name) == tag for key in json.loads(read(name))}
    common = set(Work.__struct_fields__) - {"hands_on_min"}
    own = set(TAGS[tag].__struct_fields__) - common
    assert own <= shown


def test_the_goldens_together_show_every_field_all_facts_share() -> None:
    shown = {key for name in GOLDENS for key in json.loads(read(name))}
    assert set(Fact.__struct_fields__) <= shown


def nested(kind: msgspec.inspect.Type, value: Any, seen: Seen) -> None:
    """Note which fields of the structs inside an event are shown."""
    match kind:
        case msgspec.inspect.Metadata():
            nested(kind.type, value, seen)
        case msgspec.inspect.UnionType():
            structs = [t for t in kind.types if isinstance(t, msgspec.inspect.VarTupleType)]
            for part in structs if value is not None else ():
                nested(part, value, seen)
        case msgspec.inspect.VarTupleType():
            for item in value:
                nested(kind.item_type, item, seen)
        case msgspec.inspect.StructType():
            shown = {name for name in kind.cls.__struct_fields__ if shows(value, name)}
            seen.setdefault(kind.cls, set()).update(shown)
            for field in kind.fields:
                nested(field.type, getattr(value, field.name), seen)
        case _:
            return


def shows(value: msgspec.Struct, name: str) -> bool:
    return name in json.loads(normal_form(value))


def test_the_goldens_show_every_field_of_the_structs_inside_events() -> None:
    seen: Seen = {}
    for name in GOLDENS:
        event = decode_event(read(name))
        nested(msgspec.inspect.type_info(type(event)), event, seen)
    inside = {kind: shown for kind, shown in seen.items() if not issubclass(kind, Fact)}
    # Opening hours, a step, an order line, a hold before a promise, a reading, a parent of a mix.
    assert len(inside) == 6
    for kind, shown in inside.items():
        assert set(kind.__struct_fields__) == shown, kind.__name__
