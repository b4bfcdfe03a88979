"""The one list of event types, the union they form, and the subjects each names.

A type that is not in `Plain` does not exist for the ledger. Tags are for ever: a tag is never
reused, a field's type never changes, a new field has a default.
"""

import functools
from collections.abc import Mapping
from typing import Union, get_args
from uuid import UUID

import msgspec

from coatledger.events import (
    about,
    bare,
    coating,
    finish,
    judging,
    leaving,
    orders,
    preparing,
    room_gun,
    setup,
)
from coatledger.events.base import Fact

Plain = Union[  # noqa: UP007 - get_args and a readable table
    setup.ShopDescribed, setup.RoomDescribed, setup.GunDescribed, setup.ProductDescribed,
    setup.ScheduleDescribed, setup.OfferingDescribed, setup.ClosureAnnounced, setup.PersonAbsent,
    setup.InstrumentChecked,
    orders.OrderTaken, orders.OrderChanged, orders.OrderCancelled, orders.PieceAllotted,
    orders.PromiseMade, orders.PromiseRevised, orders.CustomerTold,
    bare.PieceExpected, bare.PieceStarted, bare.WoodMoistureRead, bare.ConditionRecorded,
    preparing.Sanded, preparing.GrainRaised, preparing.BlownOff, preparing.GrainFilled,
    preparing.Stained,
    coating.CoatApplied, coating.Turned, coating.Moved, coating.DrynessChecked,
    judging.Inspected, judging.DefectFound, judging.PhotoTaken, judging.GlossMeasured,
    judging.ReworkStarted, judging.ReworkFinished, judging.Held, judging.Released,
    leaving.RubbedOut, leaving.Polished, leaving.Packed, leaving.Unpacked, leaving.Shipped,
    leaving.HandedOver, leaving.DamageReported, leaving.Returned, leaving.Scrapped,
    room_gun.ClimateRead, room_gun.AirMoved, room_gun.GunSetUp, room_gun.TestSprayed,
    room_gun.GunFlushed, room_gun.GunStripCleaned, room_gun.AirLineServiced,
    finish.LotReceived, finish.LotOpened, finish.LotStirred, finish.LotStrained, finish.LotMixed,
    finish.ViscosityMeasured, finish.LotMeasured, finish.LotFrozen, finish.LotDiscarded,
    about.RagsDealtWith,
]  # fmt: skip


class EventAmended(Fact, frozen=True, kw_only=True, tag="event_amended"):
    """An earlier fact happened otherwise: `replacement` is the whole fact as it should read.

    The replacement is of the same type and carries the original's id.
    """

    original: UUID
    replacement: Plain
    reason: about.Reason = "other"


Correction = about.EventVoided | EventAmended
AnyEvent = Plain | about.EventVoided | EventAmended | about.FindingSettled
EVENT_TYPES: tuple[type[Fact], ...] = get_args(AnyEvent)
TAGS: Mapping[str, type[Fact]] = {str(t.__struct_config__.tag): t for t in EVENT_TYPES}
TAG_OF: Mapping[type, str] = {t: tag for tag, t in TAGS.items()}
CORRECTIONS: tuple[type[Fact], ...] = (about.EventVoided, EventAmended)
# These name another event and so its subjects, which only the ledger can look up.
ABOUT_EVENTS: tuple[type[Fact], ...] = (*CORRECTIONS, about.FindingSettled)

# A field of this name, in an event or a struct inside it, names a subject of this kind.
SUBJECT_FIELDS: Mapping[str, str] = {
    "piece": "piece", "pieces": "piece", "lot": "lot", "gun": "gun", "room": "room",
    "order": "order", "product": "product", "schedule": "schedule", "offering": "offering",
    "instrument": "instrument", "person": "person",
}  # fmt: skip
# Acts of the whole shop name the shop.
SHOP_WIDE: tuple[type[Fact], ...] = (
    setup.ShopDescribed,
    setup.ClosureAnnounced,
    setup.PersonAbsent,
    room_gun.AirLineServiced,
    about.RagsDealtWith,
)


def subjects_of(event: Fact) -> tuple[str, ...]:
    """Name the subjects a fact names, each once, in the order its fields name them.

    A fact about another event names that event's subjects too; the ledger adds those.
    """
    found: dict[str, None] = {}
    if isinstance(event, SHOP_WIDE):
        found["shop"] = None
    _collect(event, found)
    return tuple(found)


def _collect(struct: msgspec.Struct, found: dict[str, None]) -> None:
    for name, kind, many, nested in _plan(type(struct)):
        value = getattr(struct, name)
        if value is None:
            continue
        if nested:
            for inner in value:
                _collect(inner, found)
        elif many:
            for word in value:
                found[f"{kind}:{word}"] = None
        else:
            found[f"{kind}:{value}"] = None


@functools.cache
def _plan(struct: type[msgspec.Struct]) -> tuple[tuple[str, str, bool, bool], ...]:
    """Which fields name subjects: (field, kind, many words?, structs inside?)."""
    plan: list[tuple[str, str, bool, bool]] = []
    for field in msgspec.inspect.type_info(struct).fields:  # type: ignore[attr-defined]
        kind = _bare(field.type)
        item = kind.item_type if isinstance(kind, msgspec.inspect.VarTupleType) else None
        if item is not None and isinstance(_bare(item), msgspec.inspect.StructType):
            plan.append((field.name, "", True, True))
        elif field.name in SUBJECT_FIELDS:
            plan.append((field.name, SUBJECT_FIELDS[field.name], item is not None, False))
    return tuple(plan)


def _bare(kind: msgspec.inspect.Type) -> msgspec.inspect.Type:
    """Take annotations and `or None` off a type."""
    if isinstance(kind, msgspec.inspect.Metadata):
        return _bare(kind.type)
    if isinstance(kind, msgspec.inspect.UnionType):
        given = [t for t in kind.types if not isinstance(t, msgspec.inspect.NoneType)]
        return _bare(given[0]) if len(given) == 1 else kind
    return kind


def original_of(event: Fact) -> UUID | None:
    """Return the id of the event this one is about, or None for a plain fact."""
    if isinstance(event, (about.EventVoided, EventAmended)):
        return event.original
    return event.about if isinstance(event, about.FindingSettled) else None
