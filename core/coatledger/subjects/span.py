"""Some weeks of the shop's own calendar, and the pieces that count or stayed in them."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.counts import between, counts, known_piece, pieces, shares
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import IN_PROCESS

# A year, and the week it began in.
WEEKS = 53
PAGE = 500


class Span(NamedTuple):
    """Which weeks are looked at, in which zone, and the keys between which they lie."""

    zone: str
    first_week: str
    last_week: str
    first: str
    last: str


def span_of(
    reader: Reader, asked: Asked, first_week: str = "", last_week: str = "", in_zone: str = ""
) -> Span:
    """Put weeks into keys. Without a first week it is a year up to the last, or up to now; without
    a zone, the shop's own."""
    shop = asked.view(reader).shop()
    zone = ZoneInfo(in_zone or ("UTC" if shop is None else shop.zone))
    until = last_week or week(moment(asked.now_us), zone)
    if not first_week:
        year, _, number = until.partition("-W")
        monday = datetime.fromisoformat(f"{year}-W01-1") + timedelta(weeks=int(number) - WEEKS)
        first_week = week(monday.replace(tzinfo=zone, hour=12), zone)
    return Span(zone.key, first_week, until, *between(first_week, until, zone))


def week(when: datetime, zone: ZoneInfo) -> str:
    """Name the ISO week of a moment in a zone."""
    year, number, _ = when.astimezone(zone).isocalendar()
    return f"{year}-W{number:02}"


def pieces_counted(reader: Reader, asked: Asked, span: Span) -> Iterator[Piece]:
    """Yield the pieces whose first final inspection decides within a span."""
    return _named(reader, asked, "case_of", span.first, span.last)


def pieces_that_stayed(reader: Reader, asked: Asked, span: Span) -> Iterator[Piece]:
    """Yield the pieces that were in the shop at some time from the span's begin on: those that left
    since then, and those that have not."""
    if not asked.present:  # what left since is not known by its time, so all are looked at
        yield from (piece for piece in pieces(reader, asked) if piece.started_us is not None)
        return
    yield from _named(reader, asked, "left_of", span.first, "\uffff")
    for piece in pieces(reader, asked, IN_PROCESS):
        if piece.left_us is None:
            yield piece


def _named(reader: Reader, asked: Asked, name: str, first: str, last: str) -> Iterator[Piece]:
    keys = counts(reader, asked, (name,), first, last)
    words = sorted({shares(key)[0] for _, key in keys})
    for start in range(0, len(words), PAGE):
        stored = reader.folds([f"piece:{word}" for word in words[start : start + PAGE]])
        for fold in stored.values():
            piece = known_piece(reader, asked, fold)
            if piece is not None:
                yield piece
