"""How work flows: lead times, where the time went, Little's law as a check, and the bottleneck.

*Reference:* Little, Operations Research 9 (1961), edges corrected; Hyndman and Fan 1996, type 8;
Hopp and Spearman, Factory Physics, for the bottleneck; ISO 22400-2 allocation ratio for the share
of time in hands.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.answers.flow.busy import Busy, busy_of
from coatledger.answers.flow.counted import Reached, cumulative_of, little_of
from coatledger.answers.flow.covered import Covered, at_least
from coatledger.answers.flow.waiting import REASONS, shop_of, time_of
from coatledger.computations.calendar import open_intervals
from coatledger.computations.flow import (
    LittleCheck,
    lead_time_percentiles,
)
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.buckets import Bucket
from coatledger.subjects.piece import Piece
from coatledger.subjects.span import OPEN, Within, pieces_that_stayed, span_of
from coatledger.subjects.working import working

HOUR_US = 3_600_000_000
DAY_H = 24.0
PERCENTS = (10.0, 25.0, 50.0, 75.0, 90.0, 95.0)


class Percentile(Struct, frozen=True, kw_only=True):
    """Days within which so many of a hundred pieces left."""

    percent: float
    days: float


class Spent(Struct, frozen=True, kw_only=True):
    """Hours a piece spent so on average, and their share of its time."""

    reason: str
    hours: float
    share: float


class FlowAnswer(Struct, frozen=True, kw_only=True):
    """How work moved within some days. `little` holds the kept tally against the pieces' own times:
    its residual is rounding of quarter-hours, and more of it means that a fact is missing."""

    position: int
    as_of: datetime | None
    zone: str
    first_week: str
    last_week: str
    first_day: date
    last_day: date
    bucket: Bucket
    left: int
    lead_time: tuple[Percentile, ...]
    touch_share: float | None
    told_hands: int
    spent: tuple[Spent, ...]
    little: LittleCheck | None
    residual_share: float | None
    cumulative: tuple[Reached, ...]
    busy: tuple[Busy, ...]
    bottleneck: str | None
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "lead_time": "days from piece_started to first leaving, of pieces that left in the span"
    " (Hyndman and Fan 1996, type 8)",
    "touch_share": "hands-on minutes told / time from start to leaving (ISO 22400-2 allocation"
    " ratio), of the pieces of which minutes were told",
    "spent": "hands: within acts that tell their end; clock: as long as the data sheet asks before"
    " the next act; closed: the shop was closed; finish, rack, gun, people: what the rest waited"
    " for, read off the record",
    "little": "L from the kept tally, rate and time in from the pieces' times, each piece with its"
    " time inside the window (Little 1961; Little and Graves 2008)",
    "cumulative": "at the end of each day, ISO 8601 week or month of the zone, at last at the end"
    " of last_day, or now",
    "busy": "hours of work told / hours available; the busiest is the bottleneck (Factory Physics)",
}


def flow(
    reader: Reader, asked: Asked, *, within: Within = OPEN, bucket: Bucket = "week",
    holidays: Iterable[date] = (),
) -> FlowAnswer:  # fmt: skip
    """Tell how work moved within some days (a year if none are given)."""
    span = span_of(reader, asked, within)
    # It does not reach beyond now.
    window = span.first_us, max(span.first_us + 1, min(span.end_us, asked.now_us + 1))
    stayed = tuple(p for p in pieces_that_stayed(reader, asked, span) if p.started_us is not None)
    here = tuple(p for p in stayed if p.started_us is not None and p.started_us < window[1])
    left = tuple(p for p in here if p.left_us is not None and window[0] <= p.left_us < window[1])
    opened, people, racks = _opened(reader, asked, window, left, tuple(holidays))
    busy = busy_of(left, window, opened, {"people": people})
    little = little_of(reader, asked, span, stayed, window)
    times = [((p.left_us or 0) - (p.started_us or 0)) / HOUR_US / DAY_H for p in left]
    share = None
    if little is not None and little.work_in_process > 0.0:
        share = abs(little.residual) / little.work_in_process
    return FlowAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_week=span.first_week,
        last_week=span.last_week,
        first_day=span.first_day,
        last_day=span.last_day,
        bucket=bucket,
        left=len(left),
        lead_time=_percentiles(times),
        touch_share=_touch(left),
        told_hands=sum(p.hands_on_min > 0 for p in left),
        spent=_spent(reader, asked, left, here, opened, racks),
        little=little,
        residual_share=share,
        cumulative=cumulative_of(here, bucket, ZoneInfo(span.zone), window),
        busy=busy,
        bottleneck=busy[0].resource if busy else None,
        definitions=DEFINITIONS,
    )


def _percentiles(days: Sequence[float]) -> tuple[Percentile, ...]:
    if not days:
        return ()
    found = lead_time_percentiles([day * DAY_H for day in days], PERCENTS)
    return tuple(
        Percentile(percent=percent, days=round(hours / DAY_H, 3))
        for percent, hours in zip(PERCENTS, found, strict=True)
    )


def _touch(left: Sequence[Piece]) -> float | None:
    told = [p for p in left if p.hands_on_min > 0]
    total_min = sum(((p.left_us or 0) - (p.started_us or 0)) / 60_000_000 for p in told)
    return round(sum(p.hands_on_min for p in told) / total_min, 6) if total_min else None


def _opened(
    reader: Reader, asked: Asked, window: tuple[int, int], left: Sequence[Piece],
    holidays: tuple[date, ...],
) -> tuple[Covered, int, int | None]:  # fmt: skip
    """Return when the shop was open from the first piece's start on, its people and rack places."""
    view = asked.view(reader)
    described = view.shop()
    first = min((p.started_us or window[0] for p in left), default=window[0])
    if described is None or not described.hours:
        return at_least(((first, window[1]),)), 1, None
    calendar = working(described, view.shop_state(), holidays)
    # Ten years is as far as a calendar reaches.
    first = max(first, window[1] - 3_600 * 24 * HOUR_US)
    rows = open_intervals(moment(first), moment(window[1]), calendar.hours, calendar.closures)
    return Covered(rows), max(1, described.people), described.rack_places


def _spent(
    reader: Reader, asked: Asked, left: Sequence[Piece], here: Sequence[Piece], opened: Covered,
    racks: int | None,
) -> tuple[Spent, ...]:  # fmt: skip
    if not left:
        return ()
    view = asked.view(reader)
    lots = {coat.lot: view.lot(coat.lot) for piece in here for coat in piece.ever_coated}
    sheets = {lot: view.product(can.product) for lot, can in lots.items()}
    shop = shop_of(here, opened, racks, lots, sheets)
    total: dict[str, int] = dict.fromkeys(REASONS, 0)
    for piece in left:
        for reason, much in time_of(piece, shop).items():
            total[reason] += much
    whole = sum(total.values())
    return tuple(
        Spent(
            reason=reason,
            hours=round(total[reason] / HOUR_US / len(left), 3),
            share=round(total[reason] / whole, 6) if whole else 0.0,
        )
        for reason in REASONS
    )
