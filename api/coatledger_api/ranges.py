"""Which days a question is about, as parameters of an address: ISO weeks or local days, a zone, and
by what the days are gathered. What is no range is refused, each end by its name.
"""

from collections.abc import Iterator
from typing import Annotated

from coatledger.events.base import Day
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.buckets import BUCKETS_MAX, Bucket
from coatledger.subjects.span import Within, too_many
from msgspec import Meta

from coatledger_api.forms import Formed
from coatledger_api.parameters import Week, Zone, known_zone
from coatledger_api.problems import ProblemError, ProblemFault

REFUSED = ("not_found", "not_a_range")
FIRST_WEEK = (
    "From the Monday of this ISO 8601 week on. Without a first week or day, a year up to the last"
)
ALL = f", but rework and throughput tell all there is of the last {BUCKETS_MAX:,} buckets."


class Ranged(Formed, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """From which local day to which, both included, of which zone, and in which form."""

    first_week: Annotated[Week | None, Meta(description=FIRST_WEEK + ALL)] = None
    last_week: Annotated[
        Week | None,
        Meta(description="Up to the Sunday of this ISO 8601 week. Without an end, that of now."),
    ] = None
    first_day: Annotated[
        Day | None, Meta(description="From this local day on, instead of a week.")
    ] = None
    last_day: Annotated[
        Day | None, Meta(description="Up to this local day and with it, instead of a week.")
    ] = None
    zone: Zone | None = None


class Bucketed(Ranged, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """By what the days are gathered."""

    bucket: Annotated[
        Bucket,
        Meta(
            description="What one row or point stands for: a local day, an ISO 8601 week or a month"
            f" of the zone; at most {BUCKETS_MAX:,} at once."
        ),
    ] = "week"


def within(query: Ranged, reader: Reader, asked: Asked, bucket: Bucket | None = None) -> Within:
    """Return the days asked for, or refuse them; with a bucket, also when they are too many."""
    found = Within(
        first_week=query.first_week or "",
        last_week=query.last_week or "",
        first_day=query.first_day,
        last_day=query.last_day,
        zone=known_zone(query.zone),
    )
    faults = tuple(_faults(query, found))
    if not faults and bucket is not None:
        many = too_many(reader, asked, found, bucket)
        if many is not None:
            name = "first_week" if query.first_week else "first_day"
            says = f"from here there are {many:,} {bucket}s; at most {BUCKETS_MAX:,} are told"
            faults = (_fault(name, says),)
    if faults:
        detail = "; ".join(f"{fault.parameter}: {fault.detail}" for fault in faults)
        raise ProblemError("not_a_range", detail, faults=faults)
    return found


def _faults(query: Ranged, found: Within) -> Iterator[ProblemFault]:
    for end in ("first", "last"):
        if getattr(query, f"{end}_week") and getattr(query, f"{end}_day"):
            yield _fault(f"{end}_day", f"{end}_week says it already: give one of the two")
    if found.first is not None and found.last is not None and found.first > found.last:
        name = "last_week" if query.last_week else "last_day"
        yield _fault(name, f"ends on {found.last}, before the range begins on {found.first}")


def _fault(name: str, says: str) -> ProblemFault:
    return ProblemFault(rule="not_a_range", detail=says, parameter=name)
