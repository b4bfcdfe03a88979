"""What stands after corrections, computed the slow and plain way from all rows there are.

It shares nothing with the ledger's own reading but the decoding of a row and the folds' arms.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from coatledger.events.about import EventVoided, FindingSettled
from coatledger.events.base import Fact
from coatledger.events.catalogue import EventAmended, subjects_of
from coatledger.events.room_gun import ClimateRead
from coatledger.ledger.record import Row, micros, recorded
from coatledger.ledger.store import Store
from coatledger.subjects.registry import FOLDS, kind_of, word_of

LAST = 1 << 62


class Stands(NamedTuple):
    """One fact that stands, and the subjects it names."""

    at_us: int
    position: int
    fact: Fact
    subjects: frozenset[str]
    written: int  # the position of the event that says it: its own or its amendment's


def all_rows(store: Store) -> tuple[Row, ...]:
    with store.reading() as reader:
        return tuple(reader.rows(0, 10_000))


def standing(rows: Iterable[Row], known: int = LAST) -> list[Stands]:
    """Every fact that stands, in order, to somebody who knows these positions."""
    facts: dict[Any, Stands] = {}
    for row in rows:
        if row.position > known:
            break
        told = recorded(row)
        event = told.event
        if isinstance(event, EventVoided):
            facts[event.original] = facts[event.original]._replace(written=0)
        elif isinstance(event, EventAmended):
            new = event.replacement
            facts[event.original] = Stands(
                micros(new.occurred_at), facts[event.original].position, new,
                frozenset(subjects_of(new)), row.position,
            )  # fmt: skip
        else:
            named = told.previous if isinstance(event, FindingSettled) else subjects_of(event)
            at_us = micros(event.occurred_at)
            facts[event.id] = Stands(at_us, row.position, event, frozenset(named), row.position)
    return sorted((f for f in facts.values() if f.written), key=lambda f: f[:2])


def state(stands: Sequence[Stands], subject: str, at_us: int = LAST, before: int = LAST) -> Any:
    """Fold a subject's facts before a place."""
    fold = FOLDS[kind_of(subject)]
    made = fold.initial(word_of(subject))
    for told in stands:
        if subject in told.subjects and told[:2] < (at_us, before):
            made = fold.evolve(made, told.fact)
    return made


def readings(rows: Sequence[Row], room: str, known: int = LAST) -> Iterator[tuple[Any, ...]]:
    """The readings of a room that stand, in order of time."""
    found = [
        (micros(r.at or told.fact.occurred_at), told.written, r.air_c, r.rh_pct, r.surface_c)
        for told in standing(rows, known)
        if isinstance(told.fact, ClimateRead) and told.fact.room == room
        for r in told.fact.readings
    ]
    yield from sorted(found, key=lambda reading: reading[:2])
