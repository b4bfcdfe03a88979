"""What the events of a proof pack tell of its piece. Whoever has the events gets the same bytes.

Nothing is read here beyond the events handed in, so that a stranger can work it out again.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Literal
from uuid import UUID

import msgspec
from msgspec import Struct

from coatledger.events.about import EventVoided, FindingSettled
from coatledger.events.bare import ConditionRecorded, PieceStarted
from coatledger.events.base import Fact
from coatledger.events.catalogue import CORRECTIONS, TAG_OF, EventAmended
from coatledger.events.judging import DefectFound, Inspected, PhotoTaken
from coatledger.events.leaving import DamageReported, Returned
from coatledger.ledger.correct import Placed, effective
from coatledger.ledger.normal import normal_form, utc_text
from coatledger.ledger.record import Recorded, moment
from coatledger.subjects.dossier_film import ToldAir, ToldCoat, ToldGun, ToldLot, ToldTool, Work

_ENCODER = msgspec.json.Encoder(order="sorted")


class ToldFact(Struct, frozen=True, kw_only=True):
    """One event that names the piece. `lag_s` is how long after it happened it was recorded."""

    position: int
    event: UUID
    type: str
    occurred_at: str
    recorded_at: str
    lag_s: int
    by: str
    standing: Literal["stands", "amended", "voided", "correction", "elsewhere"]


class ToldAmendment(Struct, frozen=True, kw_only=True):
    """One correction: what was said before and after (null where nothing was), and what the shop
    knew by then."""

    position: int
    original: UUID
    recorded_at: str
    reason: str
    before: msgspec.Raw
    after: msgspec.Raw
    after_defect: int | None
    after_claim: int | None


class ToldSettlement(Struct, frozen=True, kw_only=True):
    """A finding somebody ended, and how."""

    position: int
    about: UUID
    code: str
    how: str
    cured_by: UUID | None


class ToldSight(Struct, frozen=True, kw_only=True):
    """How the piece looked: a condition, an inspection, a defect or a photograph's hash.

    `when` is before the first coat, after the last one, or between."""

    position: int
    at: str
    type: str
    says: str
    photo_sha256: str | None
    when: Literal["before", "between", "after"]


class Told(Struct, frozen=True, kw_only=True):
    """Everything the events tell of a piece."""

    piece: str
    is_a: str | None
    facts: tuple[ToldFact, ...]
    amendments: tuple[ToldAmendment, ...]
    settlements: tuple[ToldSettlement, ...]
    sights: tuple[ToldSight, ...]
    coats: tuple[ToldCoat, ...]
    lots: tuple[ToldLot, ...]
    guns: tuple[ToldGun, ...]
    air: tuple[ToldAir, ...]
    instruments: tuple[ToldTool, ...]


class Evidence:
    """The events of a pack, looked at by subject."""

    def __init__(self, events: Iterable[Recorded]) -> None:
        self.events: Sequence[Recorded] = sorted(events, key=lambda row: row.position)
        self._by_id: Mapping[UUID, Recorded] = {row.event.id: row for row in self.events}

    def naming(self, subject: str) -> tuple[Recorded, ...]:
        """Return the events that name a subject, in order of position."""
        return tuple(row for row in self.events if subject in row.previous)

    def find(self, event: UUID) -> Recorded | None:
        """Return an event by its id, when it is here."""
        return self._by_id.get(event)

    def facts(self, subject: str) -> tuple[Placed, ...]:
        """Return what stands about a subject, as far as the events here go."""
        rows = self.naming(subject)
        amended = [row.event.original for row in rows if isinstance(row.event, EventAmended)]
        originals = [self._by_id[i] for i in amended if i in self._by_id]
        return effective(subject, rows, originals)


def told_of(piece: str, events: Iterable[Recorded]) -> Told:
    """Work out what these events tell of a piece."""
    evidence = Evidence(events)
    subject = f"piece:{piece}"
    facts = evidence.facts(subject)
    work = Work(piece, facts, evidence.facts)
    return Told(
        piece=piece,
        is_a=next((_is_a(p.fact) for p in facts if isinstance(p.fact, PieceStarted)), None),
        facts=tuple(_facts(evidence, subject)),
        amendments=tuple(_amendments(evidence, subject)),
        settlements=tuple(
            ToldSettlement(position=row.position, about=e.about, code=e.code, how=e.how,
                           cured_by=e.cured_by)
            for row in evidence.naming(subject) if isinstance(e := row.event, FindingSettled)
        ),
        sights=tuple(_sights(facts, work)),
        coats=work.coats(),
        lots=work.lots(),
        guns=work.guns(),
        air=work.air(evidence.events),
        instruments=work.instruments(evidence.events),
    )  # fmt: skip


def told_bytes(told: Told) -> bytes:
    """Write what was told in the one form it has."""
    return _ENCODER.encode(told)


def _is_a(fact: PieceStarted) -> str:
    return f"{fact.species} {fact.kind}"


def _facts(evidence: Evidence, subject: str) -> Iterator[ToldFact]:
    standing = {p.position: p.corrected_at for p in evidence.facts(subject)}
    corrected = _last_corrections(evidence)
    for row in evidence.naming(subject):
        event = row.event
        how: Literal["stands", "amended", "voided", "correction", "elsewhere"] = "stands"
        if isinstance(event, CORRECTIONS):
            how = "correction"
        elif row.position in standing:
            how = "amended" if standing[row.position] else "stands"
        elif event.id in corrected:
            how = "voided" if isinstance(corrected[event.id].event, EventVoided) else "elsewhere"
        yield ToldFact(
            position=row.position,
            event=event.id,
            type=TAG_OF[type(event)],
            occurred_at=utc_text(event.occurred_at),
            recorded_at=utc_text(row.recorded_at),
            lag_s=max(0, round((row.recorded_at - event.occurred_at).total_seconds())),
            by=row.by,
            standing=how,
        )


def _last_corrections(evidence: Evidence) -> Mapping[UUID, Recorded]:
    return {
        row.event.original: row
        for row in evidence.events
        if isinstance(row.event, (EventVoided, EventAmended))
    }


def _amendments(evidence: Evidence, subject: str) -> Iterator[ToldAmendment]:
    """Lay each correction beside what stood before it, in the order they were recorded."""
    standing: dict[UUID, Fact | None] = {}
    defect = claim = None
    for row in evidence.events:
        event = row.event
        if isinstance(event, (EventVoided, EventAmended)):
            original = evidence.find(event.original)
            before = standing.get(event.original, None if original is None else original.event)
            after = event.replacement if isinstance(event, EventAmended) else None
            standing[event.original] = after
            yield ToldAmendment(
                position=row.position,
                original=event.original,
                recorded_at=utc_text(row.recorded_at),
                reason=event.reason,
                before=_raw(before),
                after=_raw(after),
                after_defect=defect,
                after_claim=claim,
            )
        elif subject in row.previous:
            defect = defect or (row.position if isinstance(event, DefectFound) else None)
            claim = claim or (row.position if _is_claim(event) else None)


def _raw(fact: Fact | None) -> msgspec.Raw:
    return msgspec.Raw(b"null" if fact is None else normal_form(fact))


def _is_claim(event: Fact) -> bool:
    by_customer = isinstance(event, DefectFound) and event.found_by == "customer"
    return by_customer or isinstance(event, (DamageReported, Returned))


def _sights(facts: Sequence[Placed], work: Work) -> Iterator[ToldSight]:
    first_us, last_us = work.coated_between
    for placed in facts:
        fact = placed.fact
        says: str
        photo: str | None
        match fact:
            case ConditionRecorded():
                says, photo = fact.state, fact.photo_sha256
            case Inspected():
                says, photo = f"{fact.point}: {'passed' if fact.passed else 'failed'}", None
            case DefectFound():
                says = f"{fact.kind} on {fact.face}, found by {fact.found_by}"
                photo = fact.photo_sha256
            case PhotoTaken():
                says, photo = f"{fact.shows}, {fact.face}", fact.sha256
            case _:
                continue
        when: Literal["before", "between", "after"] = "between"
        if first_us is None or placed.at_us < first_us:
            when = "before"
        elif last_us is not None and placed.at_us > last_us:
            when = "after"
        yield ToldSight(
            position=placed.position,
            at=utc_text(moment(placed.at_us)),
            type=TAG_OF[type(fact)],
            says=says,
            photo_sha256=photo,
            when=when,
        )
