"""Safety at day's end, and facts about other facts: voided, amended, a finding settled."""

from typing import Annotated, Literal
from uuid import UUID

from msgspec import Meta

from coatledger.events.base import Fact, Word, whole

FindingCode = Annotated[str, Meta(pattern=whole("[a-z][a-z0-9_]{2,59}"))]
Reason = Literal[
    "wrong_piece", "wrong_time", "wrong_value", "entered_twice", "never_happened", "other"
]


class RagsDealtWith(Fact, frozen=True, kw_only=True, tag="rags_dealt_with"):
    """Oily rags put where they cannot heat up."""

    how: Literal["closed_metal_can_with_water", "spread_outdoors", "collected_by_service"]
    room: Word | None = None


class EventVoided(Fact, frozen=True, kw_only=True, tag="event_voided"):
    """An earlier fact did not happen."""

    original: UUID
    reason: Reason = "other"


class FindingSettled(Fact, frozen=True, kw_only=True, tag="finding_settled"):
    """A finding is over: accepted, wrong, or cured by another fact."""

    about: Annotated[UUID, Meta(description="The fact the finding was about.")]
    code: FindingCode
    how: Literal["accepted", "wrong", "cured"]
    cured_by: UUID | None = None
