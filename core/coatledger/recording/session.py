"""One write: requests are judged one after another against what stands, and stamped in order.

A request is all or nothing, or lenient: then each event is taken or refused by itself. Several
requests may share one session and so one commit; a refused one leaves no trace in it.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from uuid import UUID

import msgspec

from coatledger.computations import merkle
from coatledger.events.base import Fact
from coatledger.events.catalogue import (
    CORRECTIONS,
    TAG_OF,
    AnyEvent,
    EventAmended,
    original_of,
    subjects_of,
)
from coatledger.ledger.batch import Condition
from coatledger.ledger.correct import FAR, history
from coatledger.ledger.normal import normal_form
from coatledger.ledger.record import (
    Row,
    body_of,
    decode_event,
    leaf_bytes,
    micros,
    moment,
    on_true_time,
)
from coatledger.ledger.store import Changes, Reader
from coatledger.recording.at_hand import AtHand, Entry
from coatledger.recording.beforehand import Judged, can_be_judged_at_once, judged
from coatledger.recording.climate import keep_climate
from coatledger.recording.judge import Judge, body_faults, condition_faults
from coatledger.recording.notes import as_stored, taken_apart, without_new_words
from coatledger.recording.overlay import Overlay
from coatledger.refusal import Fault, Refused
from coatledger.subjects.parked import ParkedError, ParkedState
from coatledger.subjects.view import evolved, fold


class Receipt(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What became of one posted event. `disputes` names later facts it made impossible; `judged`
    is None where the fact was not judged at once."""

    id: UUID
    position: int = 0
    recorded_at: datetime | None = None
    repeated: bool = False
    faults: tuple[Fault, ...] = ()
    disputes: tuple[UUID, ...] = ()
    offset_ms: int = 0
    judged: Judged | None = None


class Request(msgspec.Struct, frozen=True, kw_only=True):
    """One client's call: its events, on whose key, how to treat them, and whether to judge them."""

    events: tuple[AnyEvent, ...]
    by: str
    conditions: tuple[Condition, ...] = ()
    offset_ms: int = 0
    lenient: bool = False
    pointer: str = "/events/{}"
    judged: bool = False


class Session:
    """Everything one write transaction takes in. `salt` makes 16 random bytes for a note."""

    def __init__(
        self, reader: Reader, shop: str, now: datetime, salt: Callable[[], bytes],
        at_hand: AtHand | None = None,
    ) -> None:  # fmt: skip
        self.overlay = Overlay(reader, micros(now), at_hand)
        self._shop = shop
        self._now_us = micros(now)
        self._salt = salt
        self._judging = False
        self._judge = Judge(self.overlay, self._now_us)
        self._expected: set[int] = set()

    def take(self, request: Request) -> tuple[Receipt, ...]:
        """Take one request in, or raise `Refused` with every fault and leave no trace."""
        if id(request) not in self._expected:
            self.expect((request,))
        faults = condition_faults(self.overlay, request.conditions)
        # The same call twice is answered as at first, although it broke its own conditions since.
        if faults and not self._is_repeated(request):
            raise Refused(faults)
        mark = None if request.lenient or len(request.events) == 1 else self.overlay.mark()
        self._judging = request.judged and can_be_judged_at_once(request.events)
        receipts = []
        refused: list[Fault] = []
        for i, event in enumerate(request.events):
            try:
                receipts.append(self._record(event, request, request.pointer.format(i)))
            except Refused as refusal:
                refused.extend(refusal.faults)
                receipts.append(Receipt(id=event.id, faults=refusal.faults))
        if refused and not request.lenient:
            if mark is not None:
                self.overlay.back_to(mark)
            raise Refused(tuple(refused))
        return tuple(receipts)

    def changes(self) -> Changes:
        """Return everything to write; nothing when every event was a repetition."""
        return self.overlay.changes()

    def written(self) -> None:
        """Say that everything taken in is committed."""
        self.overlay.written()

    def expect(self, requests: Iterable[Request]) -> None:
        """Read at once what these requests, which the caller holds on to, will need."""
        subjects: list[str] = []
        ids: list[UUID] = []
        for request in requests:
            self._expected.add(id(request))
            subjects.extend(c.subject for c in request.conditions)
            for event in request.events:
                subjects.extend(subjects_of(event))
                ids.append(event.id)
                original = original_of(event)
                if original is not None:
                    ids.append(original)
                if isinstance(event, EventAmended):
                    subjects.extend(subjects_of(event.replacement))
        self.overlay.prefetch(subjects, ids)

    def _is_repeated(self, request: Request) -> bool:
        return all(self.overlay.known(event.id) is not None for event in request.events)

    def _record(self, event: AnyEvent, request: Request, pointer: str) -> Receipt:
        known = self.overlay.known(event.id)
        if known is not None:
            return self._repeated(event, known, pointer)
        event = without_new_words(self.overlay, event, pointer)
        event, note = taken_apart(event, self._salt)
        body = normal_form(event, pointer)
        event = _decoded(body, pointer)
        fact = _on_true_time(event, request.offset_ms, pointer)
        faults = body_faults(fact, pointer)
        if faults:
            raise Refused(faults)
        judge = self._judge
        subjects = judge.subjects(fact, pointer)
        judge.check(fact, subjects, pointer)
        said = judged(self.overlay, fact) if self._judging else None
        entries = {subject: self.overlay.entry(subject) for subject in subjects}
        row = self._stamp(fact, body, entries, request)
        if note is not None:
            self.overlay.add_note(note)
        disputes = self._fold(fact, row, entries)
        keep_climate(self.overlay, fact, row)
        return Receipt(
            id=event.id,
            position=row.position,
            recorded_at=moment(row.recorded_us),
            disputes=disputes,
            offset_ms=request.offset_ms,
            judged=said,
        )

    def _repeated(self, event: AnyEvent, known: Row, pointer: str) -> Receipt:
        """The same id: the same fact gets its first answer again, another one is refused."""
        event = as_stored(self.overlay, without_new_words(self.overlay, event, pointer), known)
        if normal_form(event, pointer) != body_of(known):
            detail = f"{event.id} is already a {known.type} with other content"
            raise Refused((Fault(rule="id_reused", pointer=f"{pointer}/id", detail=detail),))
        return Receipt(
            id=event.id,
            position=known.position,
            recorded_at=moment(known.recorded_us),
            repeated=True,
        )

    def _stamp(
        self, fact: Fact, body: bytes, entries: Mapping[str, Entry], request: Request
    ) -> Row:
        overlay = self.overlay
        position = overlay.size + 1
        leaf = leaf_bytes(
            shop=self._shop,
            position=position,
            recorded_us=overlay.recorded_us,
            by=request.by,
            offset_ms=request.offset_ms,
            previous={subject: entry.named for subject, entry in entries.items()},
            body=body,
        )
        row = Row(
            position=position,
            event_id=fact.id,
            type=TAG_OF[type(fact)],
            occurred_us=micros(fact.occurred_at),
            recorded_us=overlay.recorded_us,
            leaf=leaf,
        )
        overlay.add(row, fact, entries, merkle.leaf_hash(leaf))
        return row

    def _fold(self, fact: Fact, row: Row, entries: Mapping[str, Entry]) -> tuple[UUID, ...]:
        """Fold the event into each subject it names; return facts it made impossible."""
        disputes: dict[UUID, None] = {}
        again = isinstance(fact, CORRECTIONS)
        for subject, old in entries.items():
            kind, position = old.kind, row.position
            if not again and kind.types is not None and row.type not in kind.types:
                new = Entry(kind, old.state, position, old.folded_us, old.shelf)
            elif not again and row.occurred_us >= old.folded_us:
                new = _evolved(subject, old, fact, row)
            else:
                new = self._folded_again(subject, old, position)
                before = frozenset(getattr(old.state, "disputed", ()))
                after = getattr(new.state, "disputed", ())
                disputes.update(dict.fromkeys(i for i in after if i not in before))
            self.overlay.put(subject, old, new)
        return tuple(disputes)

    def _folded_again(self, subject: str, old: Entry, position: int) -> Entry:
        facts = history(self.overlay, subject, types=old.kind.types)
        folded_us = max((p.at_us for p in facts), default=0)
        try:
            state = fold(subject, facts)
        except ParkedError as parked:
            return _parked(old, position, parked.says)
        return Entry(old.kind, state, position, folded_us, old.shelf, changed=True)


def _evolved(subject: str, old: Entry, fact: Fact, row: Row) -> Entry:
    """Fold a fact that comes in order. It has happened: where the fold fails, it is kept too."""
    try:
        state = evolved(subject, old.kind, old.state, fact)
    except ParkedError as parked:
        return _parked(old, row.position, parked.says)
    return Entry(old.kind, state, row.position, row.occurred_us, old.shelf, changed=True)


def _parked(old: Entry, position: int, says: str) -> Entry:
    # Whatever comes next counts as late, so that it is folded again from the whole history.
    return Entry(old.kind, ParkedState(says), position, FAR, old.shelf, changed=True)


def _on_true_time(event: AnyEvent, offset_ms: int, pointer: str) -> AnyEvent:
    try:
        return on_true_time(event, offset_ms)
    except OverflowError as out:
        detail = "corrected by the device's offset, this time lies outside the calendar"
        fault = Fault(rule="invalid", pointer=f"{pointer}/occurred_at", detail=detail)
        raise Refused((fault,)) from out


def _decoded(body: bytes, pointer: str) -> AnyEvent:
    """Decode what will be stored, so that bounds hold for facts made in Python too."""
    try:
        return decode_event(body)
    except msgspec.ValidationError as fault:
        raise Refused((Fault(rule="invalid", pointer=pointer, detail=str(fault)),)) from fault
