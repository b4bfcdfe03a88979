"""What changed in the shop, to lay beside a chart: a first can, person, gun or room, another
nozzle, a filter. None of them is said to be why."""

from collections.abc import Iterator, Sequence
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.answers.quality.cases import Counted, Nozzles, coat_us
from coatledger.events.room_gun import AirLineServiced
from coatledger.ledger.correct import last
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.buckets import name_of
from coatledger.subjects.span import Span
from coatledger.subjects.tallies import quarter

# A new can a week is a mark a week: the newest of each kind are told.
EACH_MOST = 60
SERVICES_MAX = 500


class Mark(Struct, frozen=True, kw_only=True):
    """One thing that was new in one week; `near_change` when it lies in the change's interval."""

    week: str
    at: str
    what: str
    says: str
    near_change: bool


def marks(
    reader: Reader, asked: Asked, span: Span, rows: Sequence[Counted],
    near: tuple[str, str] | None,
) -> tuple[Mark, ...]:  # fmt: skip
    """List what was new in the weeks of a span, in order of time.

    What is already in the span's first week is not new as far as the span can tell.
    """
    zone = ZoneInfo(span.zone)
    found: list[Mark] = []
    for what in ("lot", "person", "gun", "room"):
        found += _firsts(what, rows, zone)[-EACH_MOST:]
    guns = {coat.gun for row in rows for coat in row.case.coats if coat.gun is not None}
    found += list(_nozzles(reader, asked, sorted(guns), zone))[-EACH_MOST:]
    found += list(_services(reader, asked, zone))[-EACH_MOST:]
    kept = (mark for mark in found if span.first_week < mark.week <= span.last_week)
    return tuple(
        Mark(
            week=mark.week, at=mark.at, what=mark.what, says=mark.says,
            near_change=near is not None and near[0] <= mark.week <= near[1],
        )
        for mark in sorted(kept, key=lambda mark: (mark.at, mark.what, mark.says))
    )  # fmt: skip


def _firsts(what: str, rows: Sequence[Counted], zone: ZoneInfo) -> list[Mark]:
    first: dict[str, int] = {}
    for row in rows:
        for coat in row.case.coats:
            word = getattr(coat, what)
            at_us = coat_us(row.case, coat)
            if word is not None and at_us < first.get(word, at_us + 1):
                first[word] = at_us
    words = {"lot": "first coat from can", "person": "first coat by", "gun": "first coat with gun",
             "room": "first coat in room"}  # fmt: skip
    # The earliest of all is there since before the span.
    begun = sorted(first.items(), key=lambda item: item[1])[1:]
    return [_mark(at_us, zone, what, f"{words[what]} {word}") for word, at_us in begun]


def _nozzles(reader: Reader, asked: Asked, guns: Sequence[str], zone: ZoneInfo) -> Iterator[Mark]:
    nozzles = Nozzles(reader, asked, asked.now_us)
    for gun in guns:
        times, sizes = nozzles.of(gun)
        for at_us, before, size in zip(times[1:], sizes, sizes[1:], strict=False):
            if size != before:
                yield _mark(at_us, zone, "nozzle", f"{gun}: nozzle {size} after {before}")


def _services(reader: Reader, asked: Asked, zone: ZoneInfo) -> Iterator[Mark]:
    told = last(
        reader, "shop", ("air_line_serviced",), asked.now_us, known=asked.known,
        count=SERVICES_MAX,
    )  # fmt: skip
    for one in told:
        if isinstance(one.fact, AirLineServiced) and one.fact.filter_changed:
            yield _mark(one.at_us, zone, "filter", "the air line's filter was changed")


def _mark(at_us: int, zone: ZoneInfo, what: str, says: str) -> Mark:
    week = name_of(moment(at_us).astimezone(zone).date(), "week")
    return Mark(week=week, at=quarter(at_us), what=what, says=says, near_change=False)
