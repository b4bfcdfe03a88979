"""What every fact carries, and the bounded value types its fields are made of.

The types are the contract: msgspec checks them when a body is decoded, and the OpenAPI document is
written from the same annotations. Lengths and ranges are generous for a small shop and only there
to catch a slipped digit or a wrong unit.
"""

from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta, Struct


def third_decimal() -> dict[str, float]:
    """A quantity has at most three decimals, so its text form is the same in every language."""
    return {"multipleOf": 0.001}


def within_years() -> dict[str, str]:
    """No time near the ends of the calendar: it could not be moved to UTC."""
    return {"pattern": "^(19|20|21)[0-9]{2}-"}


def whole(pattern: str) -> str:
    """Match the whole text: in Python `$` alone also lets one last line break through."""
    return f"^{pattern}(?!\\n)$"


WORD_PATTERN = "[A-Za-z0-9][A-Za-z0-9._-]{0,39}"
Word = Annotated[
    str,
    Meta(
        pattern=whole(WORD_PATTERN),
        description="The shop's own short word: letters, digits, dot, dash, underscore.",
    ),
]
Label = Annotated[str, Meta(min_length=1, max_length=80, description="A name people read.")]
NoteText = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=2000,
        description="Free words. Kept apart from the ledger; the fact holds only a salted hash.",
    ),
]
Sha256 = Annotated[str, Meta(pattern=whole("[0-9a-f]{64}"), description="SHA-256, lower-case hex.")]
Moment = Annotated[
    datetime,
    Meta(
        tz=True,
        description="RFC 3339 time with an offset or Z.",
        extra_json_schema=within_years(),
    ),
]
Day = Annotated[date, Meta(description="A day, ISO 8601.", extra_json_schema=within_years())]
Days = Annotated[int, Meta(ge=0, le=1000)]
Count = Annotated[int, Meta(ge=1, le=1000)]

Celsius = Annotated[
    float, Meta(description="degrees Celsius", extra_json_schema=third_decimal(), ge=-60, le=120)
]
Percent = Annotated[
    float, Meta(description="percent", extra_json_schema=third_decimal(), ge=0, le=100)
]
Micrometres = Annotated[
    float, Meta(description="micrometres", extra_json_schema=third_decimal(), gt=0, le=5000)
]
Millimetres = Annotated[
    float, Meta(description="millimetres", extra_json_schema=third_decimal(), gt=0, le=20000)
]
Metres = Annotated[
    float, Meta(description="metres", extra_json_schema=third_decimal(), gt=0, le=1000)
]
SquareMetres = Annotated[
    float, Meta(description="square metres", extra_json_schema=third_decimal(), gt=0, le=1000)
]
CubicMetres = Annotated[
    float, Meta(description="cubic metres", extra_json_schema=third_decimal(), gt=0, le=100000)
]
Litres = Annotated[
    float, Meta(description="litres", extra_json_schema=third_decimal(), gt=0, le=1000)
]
LitresLeft = Annotated[
    float, Meta(description="litres", extra_json_schema=third_decimal(), ge=0, le=1000)
]
Parts = Annotated[
    float, Meta(description="parts by volume", extra_json_schema=third_decimal(), gt=0, le=10000)
]
Kilopascals = Annotated[
    float, Meta(description="kilopascals, gauge", extra_json_schema=third_decimal(), ge=0, le=30000)
]
Minutes = Annotated[
    float, Meta(description="minutes", extra_json_schema=third_decimal(), ge=0, le=10080)
]
Hours = Annotated[
    float, Meta(description="hours", extra_json_schema=third_decimal(), gt=0, le=20000)
]
Seconds = Annotated[
    float, Meta(description="seconds", extra_json_schema=third_decimal(), gt=0, le=1000)
]
GlossUnits = Annotated[
    float,
    Meta(description="gloss units, ISO 2813", extra_json_schema=third_decimal(), ge=0, le=2000),
]
Grit = Annotated[int, Meta(ge=12, le=5000, description="P grade, ISO 6344.")]
MinorUnits = Annotated[int, Meta(ge=0, le=10**9, description="Money in minor units.")]
Currency = Annotated[str, Meta(pattern=whole("[A-Z]{3}"), description="ISO 4217 code.")]

Face = Literal["show", "underside", "edges", "inside", "end_grain", "all"]
Pieces = Annotated[
    tuple[Word, ...],
    Meta(
        min_length=1,
        max_length=500,
        description="The pieces of this one act, in the order they were done.",
        extra_json_schema={"uniqueItems": True},
    ),
]
Faces = Annotated[
    tuple[Face, ...],
    Meta(min_length=1, max_length=6, extra_json_schema={"uniqueItems": True}),
]
Source = Literal["bench", "device", "sensor", "office", "storefront", "import"]


class Fact(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One thing that happened in the shop."""

    id: Annotated[UUID, Meta(description="Made by the client (UUIDv7); the same id is one fact.")]
    occurred_at: Moment
    ended_at: Moment | None = None
    actor: Word | None = None
    source: Source = "bench"
    note: NoteText | None = None


class Work(Fact, frozen=True, kw_only=True):
    """A fact that took somebody's hands."""

    hands_on_min: Minutes | None = None
