"""How fast work leaves: shipped per week, work in process, lead time.

*Reference:* ISO 22400-2 for the throughput rate PQ/AOET, which is another number than what a shop
calls pieces shipped a week. A piece counts at its first shipment.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.computations.kpis import throughput_rate_per_h
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.counts import Counts, counts, shares, week_of

NAMES = ("started", "shipped", "scrapped", "lead_h", "in_process")


class WeekRow(Struct, frozen=True, kw_only=True):
    """One ISO week in the shop's zone. `in_process_end` is started less gone, up to its end."""

    week: str
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
    shipped: int
    shipped_per_week: float | None
    throughput_rate_per_h: float | None
    in_process: Mapping[str, int]
    in_process_total: int
    lead_time: LeadTime
    weeks: tuple[WeekRow, ...]
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "shipped_per_week": "pieces first shipped / ISO weeks from the first to the last listed",
    "throughput_rate_per_h": "pieces first shipped / the sum of their hours from start to shipment"
    " (ISO 22400-2: PQ / AOET)",
    "lead_time": "from piece_started to the first shipment, waiting and drying included",
    "in_process": "started and not yet shipped or scrapped, and what came back",
}


def throughput(
    reader: Reader, asked: Asked, *, first_week: str = "", last_week: str = "~"
) -> ThroughputAnswer:
    """Count what left, for weeks between two ISO weeks such as `2026-W40`, ends included."""
    shop = asked.view(reader).shop()
    zone = "UTC" if shop is None else shop.zone
    tallies = counts(reader, asked, NAMES)
    weeks = _weeks(tallies, ZoneInfo(zone))
    shown = tuple(row for row in weeks if first_week <= row.week <= last_week)
    hours = _lead_hours(tallies, ZoneInfo(zone), first_week, last_week)
    shipped = sum(row.shipped for row in shown)
    in_process = {
        key: int(value) for (name, key), value in sorted(tallies.items()) if name == "in_process"
    }
    span = _weeks_between(shown[0].week, shown[-1].week) if shown else 0
    return ThroughputAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=zone,
        shipped=shipped,
        shipped_per_week=shipped / span if span else None,
        throughput_rate_per_h=_rate(hours),
        in_process={stage: count for stage, count in in_process.items() if count},
        in_process_total=sum(in_process.values()),
        lead_time=_lead(hours),
        weeks=shown,
        definitions=DEFINITIONS,
    )


def _weeks(tallies: Counts, zone: ZoneInfo) -> tuple[WeekRow, ...]:
    by_week: dict[str, dict[str, int]] = {}
    leads: dict[str, list[int]] = {}
    for (name, key), value in tallies.items():
        if name == "in_process":
            continue
        week = week_of(key, zone)
        row = by_week.setdefault(week, {})
        row[name] = row.get(name, 0) + int(value)
        if name == "lead_h":
            leads.setdefault(week, []).extend([int(shares(key)[0])] * int(value))
    rows = []
    here = 0
    for week in sorted(by_week):
        row = by_week[week]
        here += row.get("started", 0) - row.get("shipped", 0) - row.get("scrapped", 0)
        rows.append(
            WeekRow(
                week=week,
                started=row.get("started", 0),
                shipped=row.get("shipped", 0),
                scrapped=row.get("scrapped", 0),
                in_process_end=here,
                lead_days_median=_quantile(sorted(leads.get(week, ())), 0.5),
            )
        )
    return tuple(rows)


def _lead_hours(tallies: Counts, zone: ZoneInfo, first: str, last: str) -> tuple[int, ...]:
    hours: list[int] = []
    for (name, key), value in tallies.items():
        if name == "lead_h" and first <= week_of(key, zone) <= last:
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


def _weeks_between(first: str, last: str) -> int:
    """Count ISO weeks from the first to the last, both included."""
    days = _monday(last) - _monday(first)
    return days // 7 + 1


def _monday(week: str) -> int:
    return datetime.fromisoformat(f"{week}-1").date().toordinal()
