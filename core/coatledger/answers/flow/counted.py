"""How many pieces had come how far when, and Little's law as a check of the ledger itself."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from msgspec import Struct

from coatledger.computations.flow import LittleCheck, Stay, cumulative_flow, little_check
from coatledger.ledger.record import micros, moment
from coatledger.ledger.store import Reader
from coatledger.subjects.asked import Asked
from coatledger.subjects.buckets import Bucket, begins_us, between_days, name_of, stepped
from coatledger.subjects.counts import counts
from coatledger.subjects.piece import Piece
from coatledger.subjects.span import Span

HOUR_US = 3_600_000_000
STAGES = ("started", "coated", "passed", "left")


class Reached(Struct, frozen=True, kw_only=True):
    """How many pieces had reached each stage by the end of a day, ISO week or month, named by
    `value`, of those in the span."""

    value: str
    started: int
    coated: int
    passed: int
    left: int


def little_of(
    reader: Reader, asked: Asked, span: Span, stayed: Sequence[Piece], window: tuple[int, int]
) -> LittleCheck | None:
    """Hold the kept tally of what was here against the pieces' own times."""
    here = sum(counts(reader, asked, ("here",)).values())
    steps: dict[float, int] = {}
    for (name, key), value in counts(reader, asked, ("started", "left_of"), span.first).items():
        at_us = micros(datetime.fromisoformat(key[:16] + "+00:00"))
        # A quarter-hour's middle is where its facts lie on average.
        hour = (at_us + 450_000_000 - window[0]) / HOUR_US
        change = int(value) if name == "started" else -int(value)
        steps[hour] = steps.get(hour, 0) + change
    # Who was here at the window's begin: who is here now, less who came since, and who left.
    steps[-1.0] = int(here) - sum(steps.values())
    stays = [
        Stay(
            ((p.started_us or 0) - window[0]) / HOUR_US,
            None if p.left_us is None else (p.left_us - window[0]) / HOUR_US,
        )
        for p in stayed
    ]
    end_h = (window[1] - window[0]) / HOUR_US
    return little_check(tuple(steps.items()), stays, 0.0, end_h) if end_h > 1e-6 else None


def cumulative_of(
    here: Sequence[Piece], bucket: Bucket, zone: ZoneInfo, window: tuple[int, int]
) -> tuple[Reached, ...]:
    """Count at each bucket's end who had reached which stage, of those here at some time."""
    reached: dict[str, list[float]] = {stage: [] for stage in STAGES}
    for piece in here:
        passed = (look.at_us for look in piece.inspections if look.point == "final" and look.passed)
        coats = (coat.at_us for coat in piece.ever_coated)
        times = (piece.started_us, min(coats, default=None), min(passed, default=None))
        for stage, at_us in zip(STAGES, (*times, piece.left_us), strict=True):
            if at_us is not None:
                reached[stage].append(at_us / HOUR_US)
    ends = dict(_ends(window, bucket, zone))
    # What happens at midnight is of the day that begins.
    counted = cumulative_flow(reached, [(end - 1) / HOUR_US for end in ends.values()])
    return tuple(
        Reached(
            value=name,
            started=counted["started"][i],
            coated=counted["coated"][i],
            passed=counted["passed"][i],
            left=counted["left"][i],
        )
        for i, name in enumerate(ends)
    )


def _ends(window: tuple[int, int], bucket: Bucket, zone: ZoneInfo) -> Iterable[tuple[str, int]]:
    """Yield name and end of each bucket in a window, the last at the window's own end."""
    first, last = (moment(at).astimezone(zone).date() for at in (window[0], window[1] - 1))
    for begin in between_days(first, last, bucket):
        after = stepped(begin, bucket, 1)
        yield name_of(begin, bucket), min(begins_us(after, zone), window[1])
