"""Why and how often pieces come back: first-pass yield, rework and scrap, by day, week or month.

*Reference:* ISO 22400-2 for first pass yield GP/IP, rework ratio RQ/PQ and scrap ratio SQ/PQ;
Wilson interval by NIST/SEMATECH e-Handbook 7.2.4.1. A piece counts once, in the local day of
its first final inspection.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.computations.intervals import wilson
from coatledger.computations.kpis import first_pass_yield, rework_ratio, scrap_ratio
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.buckets import BUCKETS_MAX, Bucket, begins_of, name_of
from coatledger.subjects.counts import Counts, counts, shares
from coatledger.subjects.span import OPEN, Within, span_of

NAMES = ("first_final", "first_pass", "produced", "reworked", "rejected", "rework", "defect")
FEW = 20
CONFIDENCE = 0.95


class Share(Struct, frozen=True, kw_only=True):
    """One share with its 95 % Wilson interval; None where nothing was counted."""

    value: float | None
    low: float | None
    high: float | None
    of: int
    count: int


class ReworkRow(Struct, frozen=True, kw_only=True):
    """One day, ISO week or month, named by `value`; or the whole span.

    `inspected` pieces had their first final inspection; `passed_first` passed it with no rework
    before. `produced` adds those given up without one; of these `reworked` were reworked in the
    shop at any time and `scrapped` were given up.
    """

    value: str | None
    inspected: int
    passed_first: int
    produced: int
    reworked: int
    scrapped: int
    first_pass_yield: Share
    rework_ratio: Share
    scrap_ratio: Share


class DefectRow(Struct, frozen=True, kw_only=True):
    """How often one kind of defect was found, by whom."""

    kind: str
    found_by_shop: int
    found_by_customer: int


class ReworkAnswer(Struct, frozen=True, kw_only=True):
    """Rework and first-pass yield. `few` says that numbers this small prove little."""

    position: int
    as_of: datetime | None
    zone: str
    first_day: date
    last_day: date
    bucket: Bucket
    total: ReworkRow
    rows: tuple[ReworkRow, ...]
    reworks_in_shop: int
    reworks_after_return: int
    defects: tuple[DefectRow, ...]
    few: bool
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "first_pass_yield": "passed_first / inspected (ISO 22400-2: GP / IP)",
    "rework_ratio": "reworked / produced (ISO 22400-2: RQ / PQ)",
    "scrap_ratio": "scrapped / produced (ISO 22400-2: SQ / PQ)",
    "interval": "Wilson, 95 % (NIST/SEMATECH e-Handbook 7.2.4.1)",
    "value": "day, ISO 8601 week or month of the first final inspection, or of scrapping, in the"
    " zone; only of days from first_day to last_day, so the first and last may be parts",
}


def rework(
    reader: Reader, asked: Asked, *, within: Within = OPEN, bucket: Bucket = "week"
) -> ReworkAnswer:
    """Count what came back within some days, by day, week or month."""
    span = span_of(reader, asked, within, BUCKETS_MAX, bucket)
    tallies = counts(reader, asked, NAMES, span.first, span.last)
    by_bucket = _by_bucket(tallies, bucket, ZoneInfo(span.zone))
    total = {
        name: sum(row.get(name, 0) for row in by_bucket.values())
        for name in (*NAMES, "rework|shop", "rework|customer")
    }
    return ReworkAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        first_day=span.first_day,
        last_day=span.last_day,
        bucket=bucket,
        total=_row(None, total),
        rows=tuple(
            _row(name_of(begin, bucket), by_bucket[begin])
            for begin in sorted(by_bucket)
            if by_bucket[begin].get("produced")
        ),
        reworks_in_shop=total["rework|shop"],
        reworks_after_return=total["rework|customer"],
        defects=_defects(by_bucket.values()),
        few=total["first_final"] < FEW,
        definitions=DEFINITIONS,
    )


def _by_bucket(tallies: Counts, bucket: Bucket, zone: ZoneInfo) -> Mapping[date, dict[str, int]]:
    begins = begins_of((key for _, key in tallies), bucket, zone)
    found: dict[date, dict[str, int]] = {}
    for (name, key), value in tallies.items():
        row = found.setdefault(begins[key[:16]], {})
        names = [name]
        if name in ("rework", "defect"):
            parts = shares(key)
            names.append("|".join((name, *parts[:2])) if name == "defect" else f"{name}|{parts[0]}")
        for n in names:
            row[n] = row.get(n, 0) + int(value)
    return found


def _row(value: str | None, n: Mapping[str, int]) -> ReworkRow:
    inspected, passed = n.get("first_final", 0), n.get("first_pass", 0)
    produced, scrapped = n.get("produced", 0), n.get("rejected", 0)
    reworked = n.get("reworked", 0)
    return ReworkRow(
        value=value,
        inspected=inspected,
        passed_first=passed,
        produced=produced,
        reworked=reworked,
        scrapped=scrapped,
        first_pass_yield=_share(passed, inspected, first_pass_yield),
        rework_ratio=_share(reworked, produced, rework_ratio),
        scrap_ratio=_share(scrapped, produced, scrap_ratio),
    )


def _share(count: int, of: int, figure: Callable[[int, int], float]) -> Share:
    if of == 0:
        return Share(value=None, low=None, high=None, of=0, count=count)
    interval = wilson(count, of, CONFIDENCE)
    return Share(value=figure(count, of), low=interval.low, high=interval.high, of=of, count=count)


def _defects(buckets: Iterable[Mapping[str, int]]) -> tuple[DefectRow, ...]:
    found: dict[str, dict[str, int]] = {}
    for row_of in buckets:
        for name, count in row_of.items():
            if name.startswith("defect|"):
                _, who, kind = name.split("|")
                row = found.setdefault(kind, {})
                row[who] = row.get(who, 0) + count
    rows = (
        DefectRow(
            kind=kind,
            found_by_shop=row.get("shop", 0),
            found_by_customer=row.get("customer", 0),
        )
        for kind, row in found.items()
    )
    return tuple(sorted(rows, key=lambda r: (-r.found_by_shop - r.found_by_customer, r.kind)))
