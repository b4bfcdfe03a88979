"""What a month in the finishing room came to: what left, promises kept, finish used.

A month is the ISO weeks whose Thursday lies in it, as ISO 8601 gives a week its year; so its
numbers are the weekly ones added up.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.open_shop.judged import judged
from coatledger.subjects.asked import Asked, iso
from coatledger.subjects.buckets import name_of
from coatledger.subjects.piece import Coat, Piece
from coatledger.subjects.proportion import Proportion, proportion
from coatledger.subjects.span import Within, pieces_that_stayed, span_of
from coatledger.subjects.view import View


class KindLeft(Struct, frozen=True, kw_only=True):
    """How many pieces of one kind and wood were shipped or handed over for the first time."""

    kind: str
    wood: str
    pieces: int


class Late(Struct, frozen=True, kw_only=True):
    """A piece that left after the first date its customer was given."""

    piece: str
    order: str
    promised: date
    left: date


class FinishUsed(Struct, frozen=True, kw_only=True):
    """What one product took: coats, litres told (each piece its even share), and of these litres
    the part put on in rework. `unsaid` coats told no amount."""

    product: str
    coats: int
    litres: float
    rework_litres: float
    unsaid: int


class MonthAnswer(Struct, frozen=True, kw_only=True):
    """One month: its weeks, what left, promises kept, finish used."""

    position: int
    as_of: datetime | None
    zone: str
    month: str
    first_week: str
    last_week: str
    left: tuple[KindLeft, ...]
    scrapped: int
    came_back: int
    promises_kept: Proportion
    promises_due: Proportion
    late: tuple[Late, ...]
    finish: tuple[FinishUsed, ...]
    definitions: Mapping[str, str]


DEFINITIONS: Mapping[str, str] = {
    "month": "the ISO 8601 weeks whose Thursday lies in the month, in the shop's zone",
    "left": "first shipped or handed over",
    "promises_kept": "pieces that left on or before the first date their customer was given, of"
    " those that left and had one",
    "promises_due": "promises kept, of those whose first day told lies in these weeks and is over,"
    " as the score of promises has it",
    "finish": "litres told, each piece of an act its even share",
}


def month_weeks(month: str) -> tuple[str, str]:
    """Name the first and the last ISO week of a month written as `2026-11`.

    *Reference:* ISO 8601: a week belongs to the year, and so to the month, of its Thursday.

    >>> month_weeks("2026-11")
    ('2026-W45', '2026-W48')
    """
    first = date.fromisoformat(f"{month}-01")
    after = (first + timedelta(days=31)).replace(day=1)
    thursday = first + timedelta(days=(3 - first.weekday()) % 7)
    last = after - timedelta(days=1)
    last -= timedelta(days=(last.weekday() - 3) % 7)
    return name_of(thursday, "week"), name_of(last, "week")


def month(reader: Reader, asked: Asked, which: str) -> MonthAnswer:
    """Add up one month, as known at the place asked for."""
    first_week, last_week = month_weeks(which)
    span = span_of(reader, asked, Within(first_week=first_week, last_week=last_week))
    zone = ZoneInfo(span.zone)
    first_us, end_us = span.first_us, min(span.end_us, asked.now_us + 1)
    pieces = tuple(pieces_that_stayed(reader, asked, span))
    left = [p for p in pieces if p.shipped_us and first_us <= p.shipped_us[0] < end_us]
    gone = [p for p in pieces if p.scrapped_us and first_us <= p.scrapped_us < end_us]
    back = sum(first_us <= at < end_us for piece in pieces for at in piece.returned_us)
    kinds = Counter((piece.kind or "piece", piece.species or "unknown") for piece in left)
    view = asked.view(reader)
    kept, late = _promises(view, left, zone)
    return MonthAnswer(
        position=asked.position(reader),
        as_of=iso(asked.now_us),
        zone=span.zone,
        month=which,
        first_week=first_week,
        last_week=last_week,
        left=tuple(
            KindLeft(kind=kind, wood=wood, pieces=many)
            for (kind, wood), many in sorted(kinds.items(), key=lambda item: (-item[1], item[0]))
        ),
        scrapped=len(gone),
        came_back=back,
        promises_kept=proportion(kept, kept + len(late)),
        promises_due=_due(reader, asked, first_us, end_us, zone),
        late=late,
        finish=_finish(view, pieces, first_us, end_us),
        definitions=DEFINITIONS,
    )


def _due(reader: Reader, asked: Asked, first_us: int, end_us: int, zone: ZoneInfo) -> Proportion:
    """Count the promises of days that lie in the month and are over, and those of them kept."""
    first, end = (moment(us).astimezone(zone).date() for us in (first_us, end_us))
    last = end - timedelta(days=1)  # what is due today is not over
    promises = judged(reader, asked, zone.key, first, last)
    due = [one for one in promises if first <= one.ships_by <= last and not one.is_off]
    return proportion(sum(one.is_kept for one in due), len(due))


def _promises(view: View, left: Sequence[Piece], zone: ZoneInfo) -> tuple[int, tuple[Late, ...]]:
    """Hold each piece against the first date its customer was given for it."""
    kept = 0
    late: list[Late] = []
    for piece in left:
        if piece.order is None:
            continue
        told = [t for t in view.order(piece.order).told if t.line in (None, piece.line)]
        if not told:
            continue
        promised = date.fromisoformat(told[0].ships_by)
        day = moment(piece.shipped_us[0]).astimezone(zone).date()
        if day <= promised:
            kept += 1
        else:
            late.append(Late(piece=piece.piece, order=piece.order, promised=promised, left=day))
    return kept, tuple(sorted(late, key=lambda one: (one.left, one.piece)))


def _finish(
    view: View, pieces: Sequence[Piece], first_us: int, end_us: int
) -> tuple[FinishUsed, ...]:
    by_product: dict[str, list[Coat]] = {}
    for piece in pieces:
        for coat in piece.ever_coated:
            if first_us <= coat.at_us < end_us:
                product = view.lot(coat.lot).product or "unknown"
                by_product.setdefault(product, []).append(coat)
    rows = (
        FinishUsed(
            product=product,
            coats=len(coats),
            litres=round(sum(map(_litres, coats)), 3),
            rework_litres=round(sum(_litres(coat) for coat in coats if coat.in_rework), 3),
            unsaid=sum(coat.amount_l is None for coat in coats),
        )
        for product, coats in by_product.items()
    )
    return tuple(sorted(rows, key=lambda row: (-row.litres, row.product)))


def _litres(coat: Coat) -> float:
    return (coat.amount_l or 0.0) / coat.sharers
