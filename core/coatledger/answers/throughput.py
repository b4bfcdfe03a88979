"""How fast work leaves: shipped by day, week or month, work in process, lead time.

*Reference:* ISO 22400-2 for the throughput rate PQ/AOET, which is another number than what a shop
calls pieces shipped a week. A piece counts at its first shipment.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.computations.kpis import throughput_rate_per_h
from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.buckets import (
    BUCKETS_MAX,
    DAY,
    Bucket,
    begin_of,
    begins_of,
    between_days,
    local_day,
    name_of,
)
from coatledger.subjects.counts import Counts, counts, shares
from coatledger.subjects.span import OPEN, Span, Within, span_of

NAMES = ("started", "shipped", "scrapped", "lead_h", "in_process")


class ThroughputRow(Struct, frozen=True, kw_only=True):
    """One day, ISO week or month of the zone, named by `value`. `in_process_end` is started less
    gone, up to its end."""

    value: str
    started: int
    shipped: int
    scrapped: int
    in_process_end: int
    lead_days_median: float | None


class LeadTime(Struct, frozen=True, kw_only=True):
    """Days from start to first shipment, of the pieces shipped in the span (whole hours kept)."""

    pieces: int
    mean_days: float | None
    p10_days: float | None
    p50_days: float | None
    p90_days: float | None


class ThroughputAnswer(Struct, frozen=True, kw_only=True):
    """How fast work leaves. `in_process` counts pieces here now, by stage."""

    position: int
    as_of: datetime | None
    zone: str
    first_day: date
    last_day: date
    bucket: Bucket
    shipped: int
    shipped_per_week: float | None
    throughput_rate_per_h: float | None
    in_process: Mapping[str, int]
    in_process_total: int
    lead_time: LeadTime
    rows: tuple[ThroughputRow, ...]
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "shipped_per_week": "pieces first shipped / ISO 8601 weeks from the first with something to"
    " the last; of a week that the range cuts, its days there, each a seventh; the week of now is"
    " whole",
    "throughput_rate_per_h": "pieces first shipped / the sum of their hours from start to shipment"
    " (ISO 22400-2: PQ / AOET)",
    "lead_time": "from piece_started to the first shipment, waiting and drying included",
    "in_process": "started and not yet shipped or scrapped, and what came back",
    "rows": "from the first day, ISO 8601 week or month with something to the last; only days from"
    " first_day to last_day count, so the first and last may be parts",
}


def throughput(
    reader: Reader, asked: Asked, *, within: Within = OPEN, bucket: Bucket = "week"
) -> ThroughputAnswer:
    """Count what left within some days, by day, week or month."""
    span = span_of(reader, asked, within, BUCKETS_MAX, bucket)
    tallies = counts(reader, asked, NAMES)
    timed = {key: value for key, value in tallies.items() if key[0] != "in_process"}
    in_process = {
        key: int(value) for (name, key), value in sorted(tallies.items()) if name == "in_process"
    }
    rows, weeks = _rows(timed, span, bucket, asked.now_us)
    hours = _lead_hours(timed, span)
    shipped = sum(row.shipped for row in rows)
    return ThroughputAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_day=span.first_day,
        last_day=span.last_day,
        bucket=bucket,
        shipped=shipped,
        shipped_per_week=shipped / weeks if weeks else None,
        throughput_rate_per_h=_rate(hours),
        in_process={stage: count for stage, count in in_process.items() if count},
        in_process_total=sum(in_process.values()),
        lead_time=_lead(hours),
        rows=rows,
        definitions=DEFINITIONS,
    )


def _rows(
    timed: Counts, span: Span, bucket: Bucket, now_us: int
) -> tuple[tuple[ThroughputRow, ...], float]:
    """Return the rows, and how many weeks of the span they take up."""
    within = {key: value for key, value in timed.items() if span.first <= key[1] <= span.last}
    begins = begins_of((key for _, key in within), bucket, ZoneInfo(span.zone))
    found: dict[date, dict[str, int]] = {}
    leads: dict[date, list[int]] = {}
    for (name, key), value in within.items():
        row = found.setdefault(begins[key[:16]], {})
        row[name] = row.get(name, 0) + int(value)
        if name == "lead_h":
            leads.setdefault(begins[key[:16]], []).extend([int(shares(key)[0])] * int(value))
    if not found:
        return (), 0.0
    first, last = min(found), max(found)
    here = sum(_step(name) * int(value) for (name, key), value in timed.items() if key < span.first)
    rows = []
    for begin in between_days(first, last, bucket):
        row = found.get(begin, {})
        here += sum(_step(name) * count for name, count in row.items())
        rows.append(
            ThroughputRow(
                value=name_of(begin, bucket),
                started=row.get("started", 0),
                shipped=row.get("shipped", 0),
                scrapped=row.get("scrapped", 0),
                in_process_end=here,
                lead_days_median=_quantile(sorted(leads.get(begin, ())), 0.5),
            )
        )
    return tuple(rows), _weeks([key for _, key in within], span, now_us)


def _weeks(keys: Sequence[str], span: Span, now_us: int) -> float:
    """Return how many weeks there are from that of the first key to that of the last, as far as
    they lie in the span: the same whatever the buckets. The week of now counts whole."""
    zone = ZoneInfo(span.zone)
    first = max(begin_of(local_day(min(keys), zone), "week"), span.first_day)
    last = begin_of(local_day(max(keys), zone), "week") + 6 * DAY
    if span.last_day < moment(now_us).astimezone(zone).date():
        last = min(last, span.last_day)
    return ((last - first).days + 1) / 7


def _step(name: str) -> int:
    """Return by how much a count changes what is here."""
    return {"started": 1, "shipped": -1, "scrapped": -1}.get(name, 0)


def _lead_hours(timed: Counts, span: Span) -> tuple[int, ...]:
    hours: list[int] = []
    for (name, key), value in timed.items():
        if name == "lead_h" and span.first <= key <= span.last:
            hours.extend([int(shares(key)[0])] * int(value))
    return tuple(sorted(hours))


def _lead(hours: tuple[int, ...]) -> LeadTime:
    return LeadTime(
        pieces=len(hours),
        mean_days=round(sum(hours) / len(hours) / 24, 3) if hours else None,
        p10_days=_quantile(hours, 0.1),
        p50_days=_quantile(hours, 0.5),
        p90_days=_quantile(hours, 0.9),
    )


def _rate(hours: tuple[int, ...]) -> float | None:
    total = sum(hours)
    return round(throughput_rate_per_h(len(hours), total), 6) if total else None


def _quantile(hours: Iterable[int], share: float) -> float | None:
    """Linear between order statistics (Hyndman and Fan 1996, type 7), in days."""
    values = tuple(hours)
    if not values:
        return None
    place = share * (len(values) - 1)
    low = int(place)
    high = min(low + 1, len(values) - 1)
    return round((values[low] + (values[high] - values[low]) * (place - low)) / 24, 3)
