"""What a client posts: one fact, or a batch of facts with conditions and the device's clock."""

from typing import Annotated

from msgspec import Meta, Struct

from coatledger.events.base import WORD_PATTERN, Moment, whole
from coatledger.events.catalogue import SUBJECT_FIELDS, AnyEvent

EVENTS_MAX = 1000
SUBJECT_KINDS = tuple(dict.fromkeys(SUBJECT_FIELDS.values()))
Subject = Annotated[
    str,
    Meta(
        pattern=whole(f"(shop|({'|'.join(SUBJECT_KINDS)}):{WORD_PATTERN})"),
        description="A kind and the shop's word for it, such as piece:T-14, or `shop`.",
    ),
]


class Condition(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Nothing naming this subject was recorded after this position."""

    subject: Subject
    after: Annotated[int, Meta(ge=0, le=10**12)]


class Batch(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag="batch"):
    """Up to 1,000 facts, recorded together or, with `Prefer: handling=lenient`, one by one.

    `sent_at` is the device's clock when it sent the batch; an offset of more than two minutes is
    corrected and flagged.
    """

    events: Annotated[tuple[AnyEvent, ...], Meta(min_length=1, max_length=EVENTS_MAX)]
    conditions: Annotated[tuple[Condition, ...], Meta(max_length=1000)] = ()
    sent_at: Moment | None = None


Posted = AnyEvent | Batch
