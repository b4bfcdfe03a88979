"""Some days of a calendar, and the pieces that count or stayed in them."""

from collections.abc import Iterator
from datetime import date
from typing import NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.ledger.record import moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.buckets import (
    BUCKETS_MAX,
    DAY,
    Bucket,
    begin_of,
    begins_us,
    how_many,
    name_of,
    stepped,
)
from coatledger.subjects.counts import counts, known_piece, pieces, shares
from coatledger.subjects.piece import Piece
from coatledger.subjects.piece_life import IN_PROCESS
from coatledger.subjects.tallies import quarter

# A year, and the week it began in.
WEEKS = 53
PAGE = 500


class Within(Struct, frozen=True, kw_only=True):
    """Which local days a question is about, both ends included: whole ISO weeks, or days.

    What is not said is left open: "" or None. An end is told by its week or by its day, not both.
    """

    first_week: str = ""
    last_week: str = ""
    first_day: date | None = None
    last_day: date | None = None
    zone: str = ""

    @property
    def first(self) -> date | None:
        """Return the first day asked for."""
        return monday_of(self.first_week) if self.first_week else self.first_day

    @property
    def last(self) -> date | None:
        """Return the last day asked for."""
        return monday_of(self.last_week) + 6 * DAY if self.last_week else self.last_day


class Span(NamedTuple):
    """Which days are looked at, in which zone, and the keys of tallies between which they lie."""

    zone: str
    first_day: date
    last_day: date
    first: str
    last: str

    @property
    def first_week(self) -> str:
        """Name the ISO week of the first day."""
        return name_of(self.first_day, "week")

    @property
    def last_week(self) -> str:
        """Name the ISO week of the last day."""
        return name_of(self.last_day, "week")

    @property
    def first_us(self) -> int:
        """Return when the first day begins."""
        return begins_us(self.first_day, ZoneInfo(self.zone))

    @property
    def end_us(self) -> int:
        """Return when the day after the last begins."""
        return begins_us(self.last_day + DAY, ZoneInfo(self.zone))


# Nothing is said: how far back it then reaches, the question knows.
OPEN = Within()


def span_of(
    reader: Reader, asked: Asked, within: Within = OPEN, back: int = WEEKS, bucket: Bucket = "week"
) -> Span:
    """Put days into keys. Without a last day it is up to the end of the bucket of now; without a
    first, so many buckets back from the last; without a zone, the shop's own."""
    shop = asked.view(reader).shop()
    zone = ZoneInfo(within.zone or ("UTC" if shop is None else shop.zone))
    today = moment(asked.now_us).astimezone(zone).date()
    last = within.last or stepped(begin_of(today, bucket), bucket, 1) - DAY
    first = within.first or stepped(begin_of(last, bucket), bucket, 1 - back)
    ends = quarter(begins_us(first, zone)), quarter(begins_us(last + DAY, zone) - 1) + "~"
    return Span(zone.key, first, last, *ends)


def too_many(reader: Reader, asked: Asked, within: Within, bucket: Bucket) -> int | None:
    """Return how many buckets are asked for, if they are more than are told at once."""
    span = span_of(reader, asked, within, 1, bucket)
    many = how_many(span.first_day, span.last_day, bucket)
    return many if many > BUCKETS_MAX else None


def monday_of(week: str) -> date:
    """Return the first day of an ISO week; a 53rd that its year has not is the next year's."""
    year, _, number = week.partition("-W")
    return date.fromisocalendar(int(year), 1, 1) + (int(number) - 1) * 7 * DAY


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
