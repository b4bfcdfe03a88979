"""The effective history: what stands after corrections. No other code knows what a correction does.

The latest correction of an event by position wins. A voided event is gone; an amended one is
replaced by its replacement, which keeps the original's position but has its own time and subjects.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple
from uuid import UUID

from coatledger.events.about import EventVoided
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, TAG_OF, EventAmended, subjects_of
from coatledger.ledger.record import Recorded, Row, micros, recorded
from coatledger.ledger.store import Reader

FAR = 1 << 62  # after every position and every time
AT_ONCE = 2  # events of one subject at the very same time, as a rule
CORRECTION_TAGS: tuple[str, ...] = tuple(TAG_OF[t] for t in CORRECTIONS)


class Placed(NamedTuple):
    """One effective fact at its place. `corrected_at` is the position of its amendment, or 0."""

    at_us: int
    position: int
    fact: Fact
    corrected_at: int = 0


def effective(
    subject: str, rows: Iterable[Recorded], originals: Iterable[Recorded] = ()
) -> tuple[Placed, ...]:
    """Return a subject's effective facts in order of (occurred, position).

    `originals` are amended events that did not name the subject themselves, for their position.
    """
    facts: dict[UUID, Recorded] = {}
    corrections: dict[UUID, Recorded] = {}
    for row in rows:
        event = row.event
        if isinstance(event, (EventVoided, EventAmended)):
            last = corrections.get(event.original)
            if last is None or last.position < row.position:
                corrections[event.original] = row
        else:
            facts[event.id] = row
    for row in originals:
        facts.setdefault(row.event.id, row)
    placed = (_stands(subject, row, corrections.get(i)) for i, row in facts.items())
    return tuple(sorted((p for p in placed if p is not None), key=lambda p: p[:2]))


def _stands(subject: str, row: Recorded, correction: Recorded | None) -> Placed | None:
    if correction is None:
        return Placed(micros(row.event.occurred_at), row.position, row.event)
    if not isinstance(correction.event, EventAmended):
        return None
    fact = correction.event.replacement
    if subject not in subjects_of(fact):
        return None
    return Placed(micros(fact.occurred_at), row.position, fact, correction.position)


def history(
    reader: Reader, subject: str, *, known: int | None = None, until_us: int | None = None,
    types: Sequence[str] | None = None,
) -> tuple[Placed, ...]:  # fmt: skip
    """Read a subject's effective facts, as known at a position, up to and including a time."""
    wanted = None if types is None else (*types, *CORRECTION_TAGS)
    placed = _effective(reader, subject, reader.of_subject(subject, known=known, types=wanted))
    return tuple(
        p
        for p in placed
        if (until_us is None or p.at_us <= until_us)
        and (types is None or TAG_OF[type(p.fact)] in types)
    )


def last(
    reader: Reader, subject: str, types: Sequence[str], at_us: int, *,
    before: int = FAR, known: int | None = None, count: int = 1,
    corrections: Sequence[Row] | None = None,
) -> tuple[Placed, ...]:  # fmt: skip
    """Read the last few effective facts of some types before (a time, a position), oldest first.

    It costs the same however long the subject's history is: corrections are rare and all read,
    unless the caller has read them.
    """
    if corrections is None:
        corrections = reader.of_subject(subject, known=known, types=CORRECTION_TAGS)
    enough = count + len(corrections)  # each correction takes at most one fact away
    rows = _last_rows(reader, subject, types, (at_us, before), known, enough)
    placed = _effective(reader, subject, (*rows, *corrections))
    fitting = [
        p
        for p in placed
        if (p.at_us, p.position) < (at_us, before) and TAG_OF[type(p.fact)] in types
    ]
    return tuple(fitting[max(0, len(fitting) - count) :])


def _last_rows(
    reader: Reader, subject: str, types: Sequence[str], place: tuple[int, int],
    known: int | None, enough: int,
) -> Sequence[Row]:  # fmt: skip
    """Read at least the last `enough` events before a place, if there are so many."""
    at_us, before = place
    asked = enough if before == FAR else enough + AT_ONCE
    rows = reader.of_subject(subject, known=known, types=types, until_us=at_us, newest=asked)
    here = [row for row in rows if (row.occurred_us, row.position) < place]
    if len(here) >= enough or len(rows) < asked:
        return here
    # Many at this very time: those that occurred earlier, and those recorded before.
    known_here = before - 1 if known is None else min(known, before - 1)
    found = (
        *reader.of_subject(subject, known=known, types=types, until_us=at_us - 1, newest=enough),
        *reader.of_subject(subject, known=known_here, types=types, until_us=at_us, newest=enough),
    )
    once = {row.position: row for row in found}.values()
    return sorted(once, key=lambda row: (row.occurred_us, row.position))


def _place(placed: Placed) -> tuple[int, int]:
    return placed.at_us, placed.position


def _effective(reader: Reader, subject: str, rows: Sequence[Row]) -> tuple[Placed, ...]:
    if not any(row.type in CORRECTION_TAGS for row in rows):
        # Nothing was corrected: the rows are the facts, and the store gave them in order.
        return tuple(Placed(row.occurred_us, row.position, recorded(row).event) for row in rows)
    decoded = [recorded(row) for row in rows]
    here = {row.event.id for row in decoded}
    missing = [
        row.event.original
        for row in decoded
        if isinstance(row.event, EventAmended) and row.event.original not in here
    ]
    found = reader.by_id(missing) if missing else {}
    return effective(subject, decoded, [recorded(row) for row in found.values()])
